"""Where could a bait box hang, by a map of the neighbourhood?

Spots on mapped trees, rows, wood edges, hedges and walls within the ground where the keeper may
hang boxes, less those too near to people and lines. A map shows what somebody drew: what it lacks
is not mapped, and nobody has asked the owners yet.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from swarmwatch.errors import PlanInfeasible, UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.placement._candidates_grid import FlatGrid, Shapes, as_shapes
from swarmwatch.placement._candidates_rules import (
    Rule,
    land_keep_out,
    rules_of,
    spread_over_buildings,
    widest_buffer_m,
)
from swarmwatch.placement._candidates_spots import SPOT_KINDS, Spots, shade_of, spots_on, thinned
from swarmwatch.placement._candidates_words import (
    names_of,
    nothing_left,
    summary_of,
    tags_at,
    told_of,
)
from swarmwatch.placement.ground import Ground
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

# what a box at each kind of spot hangs on, in the words of `sites`
_HANGS_ON = dict.fromkeys(SPOT_KINDS, "tree") | {"building wall": "building", "hedge": "stand"}
# kinds of land that a reader must not take for absent where none is mapped
_MINDED = ("power-line", "path", "play-area", "school", "water", "tree", "tree-row", "hedge")
_DEGREE_DECIMALS = 7  # numerical: a centimetre, far below the grace of the rules


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CandidateSites:
    """Spots that a map offers, and how they were come by.

    `sites` and `keep_out` are tables of tables.md, `sites` with a column `generated` {yes};
    no owner has said yes to any of them. `found` counts the spots on the ground by kind before
    any rule. `report` has the columns `rule` and `removed`, in the order in which the rules
    struck: a spot counts for the first that removes it. `not_mapped` are kinds of land of which
    the map shows nothing on or near the ground, which does not mean that there is none.
    """

    sites: pd.DataFrame
    keep_out: pd.DataFrame
    found: Mapping[str, int]
    report: pd.DataFrame
    not_mapped: tuple[str, ...]

    @property
    def summary(self) -> str:
        """Say in one sentence how many spots there were and which rule removed how many."""
        return summary_of(self.found, self.report, len(self.sites))


def candidate_sites(
    land: pd.DataFrame,
    ground: Ground,
    *,
    keep_out: pd.DataFrame | None = None,
    own: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
) -> CandidateSites:
    """Make sites of what a map shows within the ground where boxes may hang.

    Parameters
    ----------
    land
        `kind` and `geometry` (shapely, WGS 84; a geo frame with another system is turned), and
        `name` and `facts` (OpenStreetMap's tags) where known.
    ground
        From `swarmwatch.placement.ground`.
    keep_out
        The keeper's own barred ground, added to what the map shows.
    own
        The keeper's own `sites`: beside them no spot is made.
    evidence
        The numbers ``candidates.*`` and ``placement.buffer_*``; the shipped ones if None.

    Returns
    -------
    The sites, in the same order whatever the order of the features; what they are kept from.

    Raises
    ------
    UsageError
        Land without kind or geometry, without a coordinate system, or not in degrees.
    RecordsError
        Keep-out areas or sites that can't be read.
    PlanInfeasible
        No spot is left and the keeper has no site; says which rule removed how many.
    """
    numbers = evidence or load_evidence()
    table = _read_land(land)
    grid = FlatGrid.under(ground.area)
    area = grid.metres([ground.area])[0]
    around = area.buffer(widest_buffer_m(numbers))
    table = _near(table, grid.degrees([around])[0])
    shapes, kinds = grid.metres(table["geometry"].tolist()), table["kind"].to_numpy(dtype=object)
    mapped = land_keep_out(kinds, spread_over_buildings(kinds, shapes), around=around)
    barred = _barred(keep_out, mapped, grid)
    south = ground.area.representative_point().y < 0
    spots = spots_on(kinds, shapes, ground=area, south=south, evidence=numbers)
    found = {k: n for k in SPOT_KINDS if (n := int((spots.kind == k).sum()))}
    spots, removed = _obey(spots, rules_of(barred, grid=grid, evidence=numbers))
    taken, names = _taken(own, grid)
    spots, crowded = _apart(spots, taken, south=south, evidence=numbers)
    report = pd.DataFrame([*removed, *crowded], columns=["rule", "removed"])
    if not len(spots) and not names:
        raise PlanInfeasible(nothing_left(found, report))
    tags = tags_at(spots, table, shapes)
    land_there = set(kinds)
    return CandidateSites(
        sites=_sites(
            spots,
            grid,
            names=names_of(spots, tags, set(names)),
            notes=told_of(spots, tags),
            south=south,
            evidence=numbers,
        ),
        keep_out=barred,
        found=found,
        report=report,
        not_mapped=tuple(k for k in _MINDED if k not in land_there),
    )


def _read_land(land: pd.DataFrame) -> pd.DataFrame:
    lacking = [c for c in ("kind", "geometry") if c not in land.columns]
    if lacking:
        message = f"land: there is no column {' and '.join(lacking)}. Give kind and geometry."
        raise UsageError(message)
    if hasattr(land, "to_crs"):
        if land.crs is None:
            message = "land: the layer has no coordinate system. Set one, such as EPSG:4326."
            raise UsageError(message)
        land = land.to_crs(4326)  # type: ignore[operator]  # a geo frame has it
    more = {c: land[c].tolist() if c in land else [None] * len(land) for c in ("name", "facts")}
    table = pd.DataFrame(
        {
            "kind": land["kind"].to_numpy(dtype=object),
            "geometry": as_shapes(land["geometry"]),
            "name": [c if isinstance(c, str) else "" for c in more["name"]],
            "facts": [c if isinstance(c, dict) else {} for c in more["facts"]],
        }
    )
    table = table[[g is not None and not g.is_empty for g in table["geometry"]]]
    _refuse_no_degrees(table["geometry"].to_numpy(dtype=object))
    return table


def _refuse_no_degrees(shapes: Shapes) -> None:
    if not len(shapes):
        return
    west, south, east, north = shapely.total_bounds(shapes)
    if west < -180 or east > 180 or south < -90 or north > 90:
        message = (
            f"land: it spans {west:.10g}, {south:.10g} to {east:.10g}, {north:.10g}, which is no "
            "longitude and latitude; it looks like metres. Save it in WGS 84 (EPSG:4326)."
        )
        raise UsageError(message)


def _near(land: pd.DataFrame, around: BaseGeometry) -> pd.DataFrame:
    """Keep what touches the ground or its surroundings, in an order that only the map sets."""
    shapes = land["geometry"].to_numpy(dtype=object)
    there = shapely.intersects(shapely.box(*around.bounds), shapes)
    near = land[np.asarray(there, dtype=bool)]
    valid = shapely.make_valid(near["geometry"].to_numpy(dtype=object))
    near = near.assign(geometry=valid, _text=shapely.to_wkb(valid, hex=True))
    return near.sort_values(["kind", "_text", "name"], kind="stable", ignore_index=True)


def _barred(
    keep_out: pd.DataFrame | None, mapped: list[tuple[str, BaseGeometry]], grid: FlatGrid
) -> pd.DataFrame:
    """Return the keeper's keep-out and the map's, as table `keep_out` with GeoJSON text."""
    shapes = grid.degrees([shape for _, shape in mapped])
    rows = pd.DataFrame(
        {
            "kind": [kind for kind, _ in mapped],
            "geometry": [shapely.to_geojson(s) for s in shapes],
            "buffer_m": np.full(len(mapped), np.nan),
        }
    )
    if keep_out is None or not len(keep_out):
        return rows
    own = pd.DataFrame({c: keep_out[c].to_numpy(dtype=object) for c in keep_out.columns})
    own["geometry"] = [
        shapely.to_geojson(g) if isinstance(g, BaseGeometry) else g for g in own["geometry"]
    ]
    return pd.concat([own, rows.astype(object)], ignore_index=True) if len(rows) else own


def _obey(spots: Spots, rules: list[Rule]) -> tuple[Spots, list[tuple[str, int]]]:
    """Strike the spots that the rules bar; count for each rule those it was the first to bar."""
    removed: dict[str, int] = {}
    for rule in rules:
        barred = rule.bars(spots.points)
        removed[rule.words] = removed.get(rule.words, 0) + int(barred.sum())
        spots = spots.where(~barred)
    return spots, list(removed.items())


def _taken(own: pd.DataFrame | None, grid: FlatGrid) -> tuple[Floats, list[str]]:
    if own is None or not len(own):
        return np.zeros((0, 2)), []
    sites = conform(own, TABLES["sites"])
    points = grid.points(sites["latitude"].to_numpy(float), sites["longitude"].to_numpy(float))
    return shapely.get_coordinates(points), sites["site"].tolist()


def _apart(
    spots: Spots, taken: Floats, *, south: bool, evidence: Evidence
) -> tuple[Spots, list[tuple[str, int]]]:
    """Let one spot stand for its near neighbours; thin further while there are too many."""
    apart_m = evidence.value("candidates.apart_m")
    left = thinned(spots, taken=taken, apart_m=apart_m, south=south, evidence=evidence)
    words = f"within {apart_m:g} m of a better spot or a site of yours"
    removed = [(words, len(spots) - len(left))]
    most, before = evidence.value("candidates.most"), len(left)
    while len(left) > most:
        apart_m *= np.sqrt(2)
        left = thinned(left, taken=taken, apart_m=apart_m, south=south, evidence=evidence)
    if len(left) < before:
        words = f"more than {most:g} spots, so those within {apart_m:.0f} m of another"
        removed.append((words, before - len(left)))
    return left, removed


def _sites(
    spots: Spots,
    grid: FlatGrid,
    *,
    names: list[str],
    notes: list[str],
    south: bool,
    evidence: Evidence,
) -> pd.DataFrame:
    latitude, longitude = grid.places(spots.xy)
    table = pd.DataFrame(
        {
            "site": names,
            "latitude": np.round(latitude, _DEGREE_DECIMALS),
            "longitude": np.round(longitude, _DEGREE_DECIMALS),
            "facing_deg": np.round(spots.facing_deg) % 360,
            "shade": shade_of(spots, south=south, evidence=evidence),
            "kind": [_HANGS_ON[k] for k in spots.kind],
            "note": notes,
        }
    )
    return conform(table, TABLES["sites"]).assign(generated="yes")
