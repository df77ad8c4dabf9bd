"""Where a box could hang on what the map shows: a spot every so many metres.

Trees as they stand; along rows, hedges and the edges of woods and orchards; on the walls of
buildings. A spot faces away from a wall or wood; along a row or hedge, to the side nearer the
equator. All in metres on one grid.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from swarmwatch.evidence import Evidence
from swarmwatch.placement._candidates_grid import Shapes, as_shapes

Floats = NDArray[np.float64]
Strings = NDArray[np.str_]

_CIRCLE_DEG = 360
_HALF_CIRCLE_DEG = 180
_SIDEWAYS_DEG = 90
_PROBE_M = 1.0  # numerical: so far from an edge it is asked which side is outside
_TANGENT_M = 5.0  # numerical: the run of an edge is taken over so much to either side
_STRAIGHT_M = 0.5  # numerical: corners of a wall that stick out less are none


@dataclass(frozen=True, slots=True, kw_only=True)
class Spots:
    """Places on the map: `xy` (n, 2) [m], `kind` words, `facing_deg` NaN where nothing tells."""

    xy: Floats
    kind: Strings
    facing_deg: Floats

    def __len__(self) -> int:
        return len(self.xy)

    def where(self, chosen: "NDArray[np.bool_] | NDArray[np.intp]") -> "Spots":
        """Return those that are chosen, in that order."""
        return Spots(xy=self.xy[chosen], kind=self.kind[chosen], facing_deg=self.facing_deg[chosen])

    @property
    def points(self) -> Shapes:
        """The places as shapely points."""
        return np.asarray(shapely.points(self.xy), dtype=object)


# kinds of spot in the order in which they stand for their neighbours: a mapped tree is surest
SPOT_KINDS = ("tree", "tree row", "wood edge", "orchard edge", "building wall", "hedge")
_ROWS = {"tree-row": "tree row", "hedge": "hedge"}
_EDGES = {"wood": "wood edge", "orchard": "orchard edge"}


def spots_on(
    kinds: Strings, shapes: Shapes, *, ground: BaseGeometry, south: bool, evidence: Evidence
) -> Spots:
    """Return every spot within the ground.

    Parameters
    ----------
    kinds, shapes
        (features,) kind of land and geometry [m].
    ground
        Where boxes may hang [m].
    south
        Whether it lies in the southern hemisphere.
    """
    step_m = evidence.value("candidates.step_m")
    equator_deg = 0.0 if south else float(_HALF_CIRCLE_DEG)
    parts = [_trees(shapes[kinds == "tree"])]
    for kind, word in _ROWS.items():
        lines = _lines([shapely.union_all(shapely.intersection(shapes[kinds == kind], ground))])
        parts.append(_on_rows(lines, word, step_m=step_m, equator_deg=equator_deg))
    for kind, word in _EDGES.items():
        parts.append(_on_edges(_areas(shapes[kinds == kind]), ground, word, step_m=step_m))
    least_m = evidence.value("candidates.wall_least_m")
    parts.append(_on_walls(_areas(shapes[kinds == "building"]), step_m=step_m, least_m=least_m))
    found = _joined(parts)
    shapely.prepare(ground)
    inside = shapely.intersects_xy(ground, found.xy[:, 0], found.xy[:, 1])
    return found.where(np.asarray(inside, dtype=bool))


def thinned(
    spots: Spots, *, taken: Floats, apart_m: float, south: bool, evidence: Evidence
) -> Spots:
    """Drop spots nearer than `apart_m` [m] to one that stands for them, or to a `taken` place.

    Trees stand for rows, rows for edges, and of one kind the side nearer the equator; so a row's
    spot snaps onto the mapped tree beside it.
    """
    if not len(spots):
        return spots
    ranks = np.array([SPOT_KINDS.index(k) for k in spots.kind])
    order = np.lexsort(
        (
            spots.xy[:, 0],
            -spots.xy[:, 1],
            _off_equator(spots.facing_deg, south=south, evidence=evidence),
            ranks,
        )
    )
    xy = np.vstack([taken.reshape(-1, 2), spots.xy[order]])
    near = cKDTree(xy).query_pairs(apart_m, output_type="ndarray")
    near = near[np.lexsort((near[:, 1], near[:, 0]))]
    starts = np.searchsorted(near[:, 0], np.arange(len(xy) + 1))
    keep = np.ones(len(xy), dtype=bool)
    for i in range(len(xy)):
        if keep[i] and starts[i] < starts[i + 1]:
            keep[near[starts[i] : starts[i + 1], 1]] = False
    first = len(xy) - len(spots)
    keep[:first] = True  # places that are taken are no spots of ours
    return spots.where(order[keep[first:]])


def shade_of(spots: Spots, *, south: bool, evidence: Evidence) -> list[str | None]:
    """Return the shade that the layer tells of each spot, in the words of `sites`."""
    off = _off_equator(spots.facing_deg, south=south, evidence=evidence)
    shades: list[str | None] = []
    for kind, side in zip(spots.kind, off.tolist(), strict=True):
        if kind in ("tree", "tree row"):
            shades.append("part")
        elif kind in _EDGES.values():
            shades.append("full" if side > 1 else "part")
        elif kind == "building wall":
            shades.append(("none", "part", "full")[side])
        else:
            shades.append(None)
    return shades


def _off_equator(facing_deg: Floats, *, south: bool, evidence: Evidence) -> NDArray[np.int64]:
    """Return 0 towards the equator, 1 sideways or unknown, 2 towards the pole."""
    near = evidence.value("site.facing_half_angle")
    equator_deg = 0 if south else _HALF_CIRCLE_DEG
    turn = (facing_deg - equator_deg + _HALF_CIRCLE_DEG) % _CIRCLE_DEG - _HALF_CIRCLE_DEG
    off = np.nan_to_num(np.abs(turn), nan=_SIDEWAYS_DEG)
    return (off > near).astype(np.int64) + (off >= _HALF_CIRCLE_DEG - near)


def _trees(shapes: Shapes) -> Spots:
    points = shapely.centroid(shapes)
    xy = shapely.get_coordinates(points) if len(points) else np.zeros((0, 2))
    return _spots(xy, "tree", np.full(len(xy), np.nan))


def _on_rows(lines: Shapes, word: str, *, step_m: float, equator_deg: float) -> Spots:
    xy, along_deg = _along(lines, step_m=step_m)
    sides = np.stack([along_deg + _SIDEWAYS_DEG, along_deg - _SIDEWAYS_DEG]) % _CIRCLE_DEG
    off = np.abs((sides - equator_deg + _HALF_CIRCLE_DEG) % _CIRCLE_DEG - _HALF_CIRCLE_DEG)
    return _spots(xy, word, np.where(off[0] <= off[1], sides[0], sides[1]))


def _on_edges(areas: Shapes, ground: BaseGeometry, word: str, *, step_m: float) -> Spots:
    # one outline for pieces that touch: there is no edge between them
    whole = shapely.union_all(areas) if len(areas) else shapely.Polygon()
    edge = shapely.intersection(shapely.boundary(whole), ground)
    xy, along_deg = _along(_lines([edge]), step_m=step_m)
    return _spots(xy, word, _outwards(xy, along_deg, whole))


def _on_walls(areas: Shapes, *, step_m: float, least_m: float) -> Spots:
    # one outline for houses that touch: there is no wall between them to hang a box on
    whole = shapely.union_all(areas) if len(areas) else shapely.Polygon()
    rings = _lines([shapely.boundary(shapely.simplify(whole, _STRAIGHT_M))])
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    starts, ends = corners[:-1], corners[1:]
    same = (ring[:-1] == ring[1:]) if len(ring) else np.zeros(0, dtype=bool)
    long = same & (np.hypot(*(ends - starts).T) >= least_m) if len(same) else same
    walls = shapely.linestrings(np.stack([starts[long], ends[long]], axis=1))
    xy, along_deg = _along(np.asarray(walls, dtype=object), step_m=step_m)
    return _spots(xy, "building wall", _outwards(xy, along_deg, whole))


def _along(lines: Shapes, *, step_m: float) -> tuple[Floats, Floats]:
    """Return places (n, 2) in the middle of equal pieces of each line, and which way it runs."""
    lengths = shapely.length(lines)
    counts = np.maximum(np.round(lengths / step_m), 1).astype(int)
    which = np.repeat(np.arange(len(lines)), counts)
    if not which.size:
        return np.zeros((0, 2)), np.zeros(0)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    at = (np.arange(len(which)) - first + 0.5) * (lengths / counts)[which]
    own = lines[which]
    xy = shapely.get_coordinates(shapely.line_interpolate_point(own, at))
    before = shapely.line_interpolate_point(own, np.maximum(at - _TANGENT_M, 0))
    after = shapely.line_interpolate_point(own, np.minimum(at + _TANGENT_M, lengths[which]))
    run = shapely.get_coordinates(after) - shapely.get_coordinates(before)
    return xy, np.degrees(np.arctan2(run[:, 0], run[:, 1])) % _CIRCLE_DEG


def _outwards(xy: Floats, along_deg: Floats, whole: BaseGeometry) -> Floats:
    """Return the compass direction away from the area (n,), NaN where both sides are alike."""
    shapely.prepare(whole)
    sides, outside = [], []
    for turn in (_SIDEWAYS_DEG, -_SIDEWAYS_DEG):
        side = (along_deg + turn) % _CIRCLE_DEG
        away = np.column_stack([np.sin(np.radians(side)), np.cos(np.radians(side))]) * _PROBE_M
        probe = xy + away
        sides.append(side)
        outside.append(~shapely.intersects_xy(whole, probe[:, 0], probe[:, 1]))
    right, left = outside
    return np.where(right & ~left, sides[0], np.where(left & ~right, sides[1], np.nan))


def _spots(xy: Floats, word: str, facing_deg: Floats) -> Spots:
    return Spots(xy=xy, kind=np.full(len(xy), word, dtype="<U16"), facing_deg=facing_deg)


def _joined(parts: list[Spots]) -> Spots:
    return Spots(
        xy=np.vstack([p.xy for p in parts]),
        kind=np.concatenate([p.kind for p in parts]),
        facing_deg=np.concatenate([p.facing_deg for p in parts]),
    )


def _areas(shapes: Shapes) -> Shapes:
    pieces = shapely.get_parts(shapely.get_parts(shapes)) if len(shapes) else shapes
    return as_shapes([p for p in pieces if p.geom_type == "Polygon"])


def _lines(shapes: Iterable[BaseGeometry]) -> Shapes:
    """Return the single lines in whatever an intersection or an outline left."""
    found: list[BaseGeometry] = []
    for shape in shapes:
        pieces = [p for p in shapely.get_parts(shape) if "Line" in p.geom_type]
        # lines that meet end to end are one run, for the steps along it
        whole = shapely.line_merge(shapely.union_all(pieces)) if len(pieces) > 1 else pieces
        found += [p for p in shapely.get_parts(whole) if p.length]
    return as_shapes(found)
