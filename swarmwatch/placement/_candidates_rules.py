"""Which spots are kept out, by what the map shows and what the keeper drew, and by which rule."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from swarmwatch.evidence import Evidence
from swarmwatch.placement._candidates_grid import FlatGrid, Shapes
from swarmwatch.placement._plan_keep_out import read_keep_out

Bools = NDArray[np.bool_]

# kind of land: the kind of `keep_out` that its surroundings are
KEPT_FROM = {
    "power-line": "power-line",
    "play-area": "play-area",
    "school": "play-area",
    "road": "road",
    "railway": "road",
    "path": "path",
    "water": "water",
}
_IN_HOUSES = ("school", "play-area")
# the gravest first: a spot that several rules bar counts for the first
_ORDER = (
    "power-line",
    "disease-zone",
    "no-permission",
    "play-area",
    "road",
    "path",
    "water",
)
# numerical: a spot on the very line is barred, on whichever grid it is measured
_GRACE_M = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One kind of barred ground: `shapes` in metres, `wide_m` the distance kept from them."""

    kind: str
    wide_m: float
    shapes: Shapes

    @property
    def words(self) -> str:
        """Return the rule in the keeper's words."""
        word = self.kind.replace("-", " ")
        return f"{word}, {self.wide_m:g} m kept" if self.wide_m else word

    def bars(self, points: Shapes) -> Bools:
        """Flag the points (n,) that lie within the distance kept."""
        barred = np.zeros(len(points), dtype=bool)
        if len(points) and len(self.shapes):
            tree = shapely.STRtree(self.shapes)
            found = tree.query(points, predicate="dwithin", distance=self.wide_m + _GRACE_M)
            barred[np.unique(found[0])] = True
        return barred


def usual_buffer_m(kind: str, evidence: Evidence) -> float:
    """Return the distance kept from a kind of `keep_out` where its row is blank [m]."""
    return evidence.value(f"placement.buffer_{kind.replace('-', '_')}_m")


def widest_buffer_m(evidence: Evidence) -> float:
    """Return the widest distance that is kept from anything a map shows [m]."""
    return max(usual_buffer_m(kind, evidence) for kind in set(KEPT_FROM.values()))


def land_keep_out(
    kinds: NDArray[np.object_], shapes: Shapes, *, around: BaseGeometry
) -> list[tuple[str, BaseGeometry]]:
    """Return the ground that a map's features bar, merged: kind of `keep_out` and shape.

    Parameters
    ----------
    kinds, shapes
        (features,) kind of land and geometry; what is of no harm is left out.
    around
        Only what lies within this is kept, in the system of `shapes`.
    """
    rows = []
    for kind in _ORDER:
        own = shapes[[KEPT_FROM.get(k) == kind for k in kinds]]
        if not len(own):
            continue
        pieces = shapely.get_parts(shapely.intersection(own, around))
        pieces = shapely.get_parts(pieces)  # the parts of a collection may have parts
        for dimension in (0, 1, 2):
            alike = pieces[shapely.get_dimensions(pieces) == dimension]
            merged = shapely.union_all(alike)
            if not merged.is_empty:
                rows.append((kind, merged))
    return rows


def spread_over_buildings(kinds: NDArray[np.object_], shapes: Shapes) -> Shapes:
    """Let a school or play area that is mapped as a point stand for the building it lies in."""
    points = np.isin(kinds, _IN_HOUSES) & (shapely.get_dimensions(shapes) == 0)
    asking, houses = points.nonzero()[0], shapes[kinds == "building"]
    spread = shapes.copy()
    if len(asking) and len(houses):
        found, at = shapely.STRtree(houses).query(shapes[asking], predicate="intersects")
        for i, j in zip(asking[found], at, strict=True):
            spread[i] = shapely.union(spread[i], houses[j])
    return spread


def rules_of(keep_out: pd.DataFrame, *, grid: FlatGrid, evidence: Evidence) -> list[Rule]:
    """Return barred ground by kind and distance kept, the gravest first.

    Parameters
    ----------
    keep_out
        `kind`, `geometry` (shapely or GeoJSON text, WGS 84), `buffer_m`, blank for the usual one.

    Raises
    ------
    RecordsError
        A kind that is not known, or a geometry that can't be read.
    """
    if not len(keep_out):
        return []
    table, shapes = read_keep_out(keep_out)
    kinds = table["kind"].tolist()
    wide_m = table["buffer_m"].to_numpy(dtype=float, na_value=np.nan)
    usual = np.asarray([usual_buffer_m(k, evidence) for k in kinds])
    flat = grid.metres(shapes)
    groups: dict[tuple[str, float], list[int]] = {}
    for i, (kind, wide) in enumerate(
        zip(kinds, np.where(np.isnan(wide_m), usual, wide_m).tolist(), strict=True)
    ):
        groups.setdefault((kind, wide), []).append(i)
    rules = [Rule(kind=k, wide_m=w, shapes=flat[at]) for (k, w), at in groups.items()]
    return sorted(rules, key=lambda r: (_ORDER.index(r.kind), -r.wide_m))
