"""Which sites does a map of the neighbourhood add to the keeper's own, and what does it bar?"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from geopandas import GeoDataFrame
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from data_sources.land.features import LandFeatures
    from swarmwatch.evidence import Evidence
    from swarmwatch.mapping.land import Land
    from swarmwatch.placement.candidates import CandidateSites
    from swarmwatch.placement.ground import Ground

Bounds = tuple[float, float, float, float]
LandFile = Annotated[
    Path | None,
    typer.Option(
        "--land",
        metavar="FILE",
        help="Map to seek spots on: .osm.pbf, .osm, .gpkg, .geojson, or a saved Overpass .json.",
    ),
]
Within = Annotated[
    str | None,
    typer.Option(
        "--within",
        metavar="POLYGON|M",
        help="Where you may hang boxes: a drawn polygon (.geojson, .gpkg), or metres round "
        "your yards.",
    ),
]
Address = Annotated[
    list[str] | None,
    typer.Option(
        "--address",
        metavar="LAT,LON[,M]",
        help="A friend's place where you may hang boxes, too; may be given again.",
    ),
]
_POLYGON_FILES = (".geojson", ".json", ".gpkg")
# the map is drawn so far beyond the ground, to see where one is [m]
SEEN_BEYOND_M = 150.0
# width by height of the printed map: what is drawn fills it
_SHEET_SHAPE = 1.7
_DECIMALS = 6  # of a degree, some 10 cm
# less of the ground than this lies bare at the rim of many a map that is whole
_TOLD_SHARE = 0.1
# `map` draws so far beyond yards and sites: the margin of what it shows of a neighbourhood [m]
_SEEN_ROUND_M = 400.0
# a tree or mast is drawn as a disc of this radius [m]
_DISC_M = 2.0
_CORNERS = 8
_M_PER_DEGREE = 111_320  # of latitude
# drawn as barred ground already where spots are sought
_BACKGROUND = "built-up"
_NOT_DRAWN = ("play-area", "school")
# of the map's own barred ground, what is drawn as land anyhow: hatched, it hides a whole town
_NOT_HATCHED = ("road", "path", "water")
_HATCHED_TOLD = (
    "On the drawn map lines and play areas are hatched; ground near roads, paths and water, which "
    "is barred too, is not."
)
LOOK_TOLD = "It shows what somebody drew: go and look, for overhead lines first, then ask."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LandSearch:
    """What a map gave.

    `frames` are the keeper's tables with `sites` and `keep_out` widened by what the map shows.
    `hatched` are the keep-out areas to draw: the keeper's own, lines and play areas.
    `geojson` is the map itself round the ground, as `interactive_map` and `map_sheet` take it,
    with its credit inside; `credit` is that line alone, "" where the file names nobody.
    `outside` tells of sites of the keeper's own that lie outside the ground.
    """

    frames: "Mapping[str, pd.DataFrame]"
    candidates: "CandidateSites"
    outside: Mapping[str, str]
    hatched: "pd.DataFrame"
    geojson: str
    credit: str
    notes: tuple[str, ...]

    def chosen(self, plan: "pd.DataFrame") -> "pd.DataFrame":
        """Return the sites that the plan took from the map, to import after the asking."""
        made = self.candidates.sites
        return made[made["site"].isin(plan["site"])].reset_index(drop=True)

    def drawn(self, plan: "pd.DataFrame") -> "dict[str, pd.DataFrame]":
        """Return the tables for map and paper: of the map's spots only those that were chosen."""
        sites = self.frames["sites"]
        others = (sites["generated"] == "yes") & ~sites["site"].isin(plan["site"])
        return {**self.frames, "sites": sites[~others], "keep_out": self.hatched}

    def lines(self) -> list[str]:
        """Say how the spots were come by, what is not mapped, and whom to thank."""
        told = [self.candidates.summary, LOOK_TOLD, *not_mapped_told(self.candidates.not_mapped)]
        told += [_HATCHED_TOLD, *self.notes]
        return [*told, f"Map: {self.credit}"] if self.credit else told

    def facts(self) -> dict[str, object]:
        """Return the same for a program."""
        report = self.candidates.report
        return {
            "found": dict(self.candidates.found),
            "removed": dict(zip(report["rule"], report["removed"].tolist(), strict=True)),
            "left": len(self.candidates.sites),
            "not_mapped": list(self.candidates.not_mapped),
            "outside": dict(self.outside),
            "notes": list(self.notes),
            "credit": self.credit,
        }


def not_mapped_told(kinds: Sequence[str]) -> list[str]:
    """Say that what nobody drew may be there all the same; nothing where all kinds are drawn."""
    if not kinds:
        return []
    words = ", ".join(k.replace("-", " ") for k in kinds)
    return [f"Not mapped on or near the ground: {words}. There may be some all the same."]


def search_land(
    frames: "Mapping[str, pd.DataFrame]",
    *,
    land: Path,
    within: str | None,
    addresses: Sequence[str],
    evidence: "Evidence",
) -> LandSearch:
    """Seek spots on a map, within the ground where the keeper may hang boxes.

    Parameters
    ----------
    frames
        The keeper's tables by name.
    land
        The map.
    within
        A file with a polygon, or metres round each yard; None where addresses are given: the
        yards' own gardens.
    addresses
        Places of others as "LAT,LON" or "LAT,LON,METRES".
    evidence
        The numbers.

    Raises
    ------
    UsageError
        No ground, or one that makes no sense.
    SourceError
        A file that can't be read.
    PlanInfeasible
        The map leaves no spot, and the keeper has no site there.
    """
    import pandas as pd

    from data_sources.land.files import read_land_file
    from swarmwatch.placement.candidates import candidate_sites
    from swarmwatch.placement.ground import bounds_of, outside_ground

    ground = ground_from(frames, within, addresses, evidence)
    seen = _as_wide_as_the_sheet(bounds_of(ground, beyond_m=SEEN_BEYOND_M))
    features = read_land_file(land, within=seen)
    own, outside = _inside(frames, outside_ground(frames["sites"], ground))
    made = candidate_sites(
        features.table, ground, keep_out=frames["keep_out"], own=own, evidence=evidence
    )
    sites = pd.concat([own, made.sites], ignore_index=True) if len(own) else made.sites
    return LandSearch(
        frames={**frames, "sites": sites, "keep_out": made.keep_out},
        candidates=made,
        outside=outside,
        hatched=made.keep_out.drop(index=_drawn_anyhow(made.keep_out, frames["keep_out"])),
        geojson=_geojson(features, seen, left_out=_NOT_DRAWN),
        credit=features.credit,
        notes=(*ground.notes, *_beyond(ground, features), *features.notes),
    )


def land_round(frames: "Mapping[str, pd.DataFrame]", land: Path) -> "Land":
    """Return what a map shows round the yards and sites, to be drawn.

    Raises
    ------
    SourceError
        A file that can't be read, or one of another place.
    """
    import pandas as pd
    import shapely

    from data_sources.land.files import read_land_file
    from swarmwatch.mapping.land import read_land
    from swarmwatch.placement.ground import Ground, bounds_of

    places = pd.concat([frames[name][["longitude", "latitude"]] for name in ("apiaries", "sites")])
    if places.empty:
        _refuse_no_yard(places)
    area = shapely.MultiPoint(places.to_numpy(dtype=float)).convex_hull
    seen = _as_wide_as_the_sheet(bounds_of(Ground(area=area), beyond_m=_SEEN_ROUND_M))
    return read_land(_geojson(read_land_file(land, within=seen), seen))


def _as_wide_as_the_sheet(bounds: Bounds) -> Bounds:
    """Return bounds [deg] that are wide enough to fill the printed map from side to side."""
    from math import cos, radians

    west, south, east, north = bounds
    asked = (north - south) * _SHEET_SHAPE / cos(radians((south + north) / 2))
    more = max(asked - (east - west), 0.0) / 2
    return (max(west - more, -180.0), south, min(east + more, 180.0), north)


def _drawn_anyhow(keep_out: "pd.DataFrame", own: "pd.DataFrame") -> "pd.Index[int]":
    """Return the rows that the map added, after the keeper's own, and that need no hatching."""
    added = keep_out.iloc[len(own) :]
    return added.index[added["kind"].isin(_NOT_HATCHED)]


def _beyond(ground: "Ground", features: "LandFeatures") -> list[str]:
    from swarmwatch.placement.ground import share_beyond
    from swarmwatch.wording import per_cent

    share = share_beyond(ground, features.table.geometry)
    if share < _TOLD_SHARE:
        return []
    told = (
        f"{per_cent(share)} of the ground lies beyond all that the file shows, which may end "
        "there: no spot is sought there, and no line or path is known. Give a map of all of it."
    )
    return [told]


def _inside(
    frames: "Mapping[str, pd.DataFrame]", outside: Mapping[str, str]
) -> "tuple[pd.DataFrame, dict[str, str]]":
    """Return the keeper's sites within the ground or with a box on them, and why others are not."""
    sites, hangings = frames["sites"], frames["hangings"]
    hung = hangings.loc[hangings["taken_on"].isna(), "site"]
    kept = ~sites["site"].isin(list(outside)) | sites["site"].isin(hung)
    left_out = {s: outside[s] for s in sites.loc[~kept, "site"].tolist()}
    return sites[kept].reset_index(drop=True), left_out


def ground_from(
    frames: "Mapping[str, pd.DataFrame]",
    within: str | None,
    addresses: Sequence[str],
    evidence: "Evidence",
) -> "Ground":
    """Return the ground where the keeper may hang boxes; as for `search_land`."""
    from swarmwatch.errors import UsageError
    from swarmwatch.placement.ground import (
        ground_drawn,
        ground_of,
        ground_round,
        refuse_far_ground,
    )

    if within is None and not addresses:
        message = (
            "A map needs the ground where you may hang boxes: --within POLYGON.geojson, "
            "--within METRES round your yards, or --address LAT,LON."
        )
        raise UsageError(message)
    yards = frames["apiaries"]
    places = yards["latitude"].to_numpy(dtype=float), yards["longitude"].to_numpy(dtype=float)
    usual_m = evidence.value("candidates.address_radius_m")
    radius_m = usual_m if within is None else _metres(within)
    if radius_m is None:
        drawn = _drawn(Path(str(within)))
        parts = [ground_drawn(drawn.geometry.tolist(), name=Path(str(within)).name)]
    else:
        _refuse_no_yard(yards)
        parts = [ground_round(*places, radius_m, evidence=evidence)]
    for text in addresses:
        latitude, longitude, wide_m = _place(text, usual_m)
        parts.append(ground_round(latitude, longitude, wide_m, evidence=evidence))
    for part in parts:
        refuse_far_ground(part, latitude=places[0], longitude=places[1], evidence=evidence)
    return ground_of(parts)


def _metres(text: str) -> float | None:
    try:
        return float(text.strip().removesuffix("m"))
    except ValueError:
        return None


def _drawn(path: Path) -> "GeoDataFrame":
    from data_sources.land.files import read_drawn_file
    from swarmwatch.errors import UsageError

    if path.suffix.lower() not in _POLYGON_FILES:
        message = (
            f"--within {str(path)!r} is neither metres, such as 800, nor a file with a polygon "
            f"({', '.join(_POLYGON_FILES)})."
        )
        raise UsageError(message)
    return read_drawn_file(path)


def _refuse_no_yard(yards: "pd.DataFrame") -> None:
    from swarmwatch.errors import UsageError

    if yards.empty:
        message = (
            "No yard yet to draw the ground round. Start records with `swarmwatch new --place "
            "LAT,LON`, import a table of apiaries, or give a polygon with --within."
        )
        raise UsageError(message)


def _place(text: str, usual_m: float) -> tuple[float, float, float]:
    from swarmwatch.errors import UsageError

    try:
        latitude, longitude, *wide_m = (float(cell) for cell in text.split(","))
        (radius_m,) = wide_m or [usual_m]
    except ValueError:
        message = (
            f"--address {text!r} is no place. Write latitude, longitude and, if you like, metres "
            "round it, such as 60.171,24.944,80."
        )
        raise UsageError(message) from None
    return latitude, longitude, radius_m


def _geojson(features: "LandFeatures", seen: Bounds, *, left_out: Sequence[str] = ()) -> str:
    """Return the map round the ground, one shape a kind, cut at its edge."""
    import json

    import numpy as np
    import shapely

    table, frame = features.table, shapely.box(*seen)
    drawn = []
    for kind, shapes in table.groupby("kind", sort=True).geometry:
        if kind == _BACKGROUND or kind in left_out:
            continue
        for merged in _merged(shapely.intersection(shapes.to_numpy(), frame), seen):
            rounded = shapely.transform(merged, lambda xy: np.round(xy, _DECIMALS))
            geometry = json.loads(shapely.to_geojson(rounded))
            drawn.append({"type": "Feature", "properties": {"kind": kind}, "geometry": geometry})
    document = {"type": "FeatureCollection", "attribution": features.credit, "features": drawn}
    return json.dumps(document, ensure_ascii=False, separators=(",", ":"))


def _merged(shapes: "NDArray[np.object_]", seen: Bounds) -> "list[BaseGeometry]":
    """Return areas, lines and points, these as discs, each as one shape, for quick drawing."""
    import numpy as np
    import shapely

    pieces = shapely.get_parts(shapely.get_parts(shapes))
    dimension = shapely.get_dimensions(pieces)
    discs = _discs(pieces[dimension == 0], (seen[1] + seen[3]) / 2)
    areas = np.concatenate([pieces[dimension == 2], discs])
    found = [shapely.union_all(areas), shapely.multilinestrings(pieces[dimension == 1])]
    return [shape for shape in found if not shape.is_empty]


def _discs(points: "NDArray[np.object_]", latitude: float) -> "NDArray[np.object_]":
    """Return points in WGS 84 as discs, which are round at that latitude [deg]."""
    import numpy as np
    import shapely

    x, y = shapely.get_x(points), shapely.get_y(points)
    turns = np.linspace(0, 2 * np.pi, _CORNERS, endpoint=False)
    wide = _DISC_M / _M_PER_DEGREE
    east = x[:, None] + np.cos(turns) * wide / np.cos(np.radians(latitude))
    north = y[:, None] + np.sin(turns) * wide
    return np.asarray(shapely.polygons(np.stack([east, north], axis=-1)), dtype=object)
