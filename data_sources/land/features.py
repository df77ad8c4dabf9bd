"""The one table that every source of land data hands back."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from data_sources.errors import SourceMalformed
from data_sources.land.kinds import KINDS

if TYPE_CHECKING:
    from geopandas import GeoDataFrame

# to be shown beside the data; on paper the address stands for the link
OSM_CREDIT = "© OpenStreetMap contributors, ODbL (https://www.openstreetmap.org/copyright)"
COLUMNS = ("kind", "name", "facts", "geometry")
_LINES_ONLY = frozenset({"tree-row", "hedge"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One thing before it stands in the table: WGS 84 degrees; `facts` are its own tags."""

    kind: str
    geometry: BaseGeometry | None
    name: str = ""
    facts: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LandFeatures:
    """What lies near a place, whom to thank for it, and what to know about it.

    `table` has the columns `COLUMNS`: `kind` is one of `KINDS` or another word of a drawn layer,
    `geometry` is valid and in WGS 84 (EPSG:4326). `credit` is "" for a layer that names nobody.
    `notes` are plain lines: what was mended, what was left out.
    """

    table: "GeoDataFrame"
    credit: str
    notes: tuple[str, ...]

    @property
    def not_mapped(self) -> tuple[str, ...]:
        """The kinds of `KINDS` that nobody drew here, which does not mean that there are none."""
        there = set(self.table["kind"])
        return tuple(kind for kind in KINDS if kind not in there)


def land_features(
    features: Sequence[Feature], *, credit: str, where: str, notes: Sequence[str] = ()
) -> LandFeatures:
    """Check the features, mend their geometry and put them into the table.

    Parameters
    ----------
    features
        In WGS 84; an area that crosses itself is made valid. A closed hedge or row of trees
        becomes its line.
    credit
        Whom to thank.
    where
        The file or service, for messages.
    notes
        What the reader has to tell already.

    Raises
    ------
    SourceMalformed
        Coordinates that are no degrees.
    """
    from geopandas import GeoDataFrame

    shapes = np.array([f.geometry for f in features], dtype=object)
    refuse_no_degrees(shapes, where)
    crossing = ~shapely.is_valid(shapes) if len(shapes) else np.zeros(0, dtype=bool)
    shapes = shapely.force_2d(shapely.make_valid(shapes)) if len(shapes) else shapes
    shapes = np.array(
        [_as_line(s) if f.kind in _LINES_ONLY else s for f, s in zip(features, shapes, strict=True)]
        or np.zeros(0),
        dtype=object,
    )
    whole = np.array([s is not None and not s.is_empty for s in shapes], dtype=bool)
    kept = [f for f, good in zip(features, whole, strict=True) if good]
    table = GeoDataFrame(
        {
            "kind": [f.kind for f in kept],
            "name": [f.name for f in kept],
            "facts": [f.facts for f in kept],
        },
        geometry=list(shapes[whole]),
        crs=4326,
    )
    told = [*notes, *_mended(int(crossing.sum()))]
    return LandFeatures(table=table[list(COLUMNS)], credit=credit, notes=tuple(told))


def joined(parts: Sequence[LandFeatures]) -> LandFeatures:
    """Return what lies near any of some places; what several answers hold stands once."""
    import pandas as pd

    table = pd.concat([p.table for p in parts], ignore_index=True)
    same = pd.DataFrame(
        {"kind": table["kind"], "name": table["name"], "at": table.to_wkb()["geometry"]}
    )
    return LandFeatures(
        table=table[~same.duplicated()].reset_index(drop=True),
        credit="; ".join(dict.fromkeys(p.credit for p in parts if p.credit)),
        notes=tuple(dict.fromkeys(note for p in parts for note in p.notes)),
    )


def refuse_no_degrees(shapes: "np.ndarray", where: str) -> None:
    """Refuse geometries whose coordinates can't be longitude and latitude.

    Raises
    ------
    SourceMalformed
        With the first that can't.
    """
    if not len(shapes):
        return
    west, south, east, north = shapely.bounds(shapes).T
    with np.errstate(invalid="ignore"):
        wrong = (west < -180) | (east > 180) | (south < -90) | (north > 90)
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        message = (
            f"{where}: feature {at + 1} lies at {west[at]:.10g}, {south[at]:.10g}, which is no "
            "longitude and latitude; it looks like metres. Save the layer in WGS 84 (EPSG:4326)."
        )
        raise SourceMalformed(message)


def _as_line(shape: BaseGeometry) -> BaseGeometry | None:
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shapely.boundary(shape)
    return shape


def _mended(count: int) -> list[str]:
    return [f"Areas whose outline was faulty and was mended: {count}."] if count else []
