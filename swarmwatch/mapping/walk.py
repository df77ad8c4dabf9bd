"""In which order are the chosen spots walked? The shortest round from a yard and back."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from swarmwatch.mapping.local_grid import Floats
from swarmwatch.mapping.spots import Spot
from swarmwatch.mapping.yards import Yard
from swarmwatch.placement._plan_words import distance_words
from swarmwatch.placement.dispersal import distances_m

EXACT_MOST = 9  # as many stops are tried in every order; more only bettered step by step
_GAIN_LEAST_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """A walk from the yard `start` to all spots.

    `order` are positions in the list of spots; `legs_m` straight-line lengths, one before each
    stop and one back to the start where the walk is `closed`; `exact` where no order is shorter.
    """

    start: str
    latitude: float
    longitude: float
    order: tuple[int, ...]
    legs_m: tuple[float, ...]
    closed: bool
    exact: bool

    @property
    def total_m(self) -> float:
        """Return the length of the whole walk [m]."""
        return math.fsum(self.legs_m)


def walk_round(spots: Sequence[Spot], yards: Sequence[Yard], *, closed: bool = True) -> Walk | None:
    """Return the shortest walk to all spots, from the yard that makes it shortest.

    Parameters
    ----------
    spots
        The chosen spots.
    yards
        The keeper's yards; of two that are as good the first is taken.
    closed
        Walk back to the yard at the end.

    Returns
    -------
    The walk, or None where there is no spot or no yard.
    """
    if not spots or not yards:
        return None
    walks = [_from(yard, spots, closed=closed) for yard in yards]
    return min(walks, key=lambda w: round(w.total_m, 3))


def _from(yard: Yard, spots: Sequence[Spot], *, closed: bool) -> Walk:
    latitude = [yard.latitude, *(s.latitude for s in spots)]
    longitude = [yard.longitude, *(s.longitude for s in spots)]
    away_m = distances_m(
        from_latitude=latitude,
        from_longitude=longitude,
        to_latitude=latitude,
        to_longitude=longitude,
    )
    order = walking_order(away_m, closed=closed)
    stops = [0, *order, *([0] if closed else [])]
    return Walk(
        start=yard.name,
        latitude=yard.latitude,
        longitude=yard.longitude,
        order=tuple(k - 1 for k in order),
        legs_m=tuple(float(away_m[a, b]) for a, b in pairwise(stops)),
        closed=closed,
        exact=len(order) <= EXACT_MOST,
    )


def walking_order(away_m: Floats, *, closed: bool = True) -> list[int]:
    """Return the order of the stops that makes the walk shortest.

    Parameters
    ----------
    away_m
        (n + 1, n + 1) symmetric distances [m]; row 0 is the start.
    closed
        Count the way back to the start.

    Returns
    -------
    The numbers 1..n in walking order. Up to `EXACT_MOST` stops no order is shorter (Held and Karp
    1962, J Soc Indust Appl Math 10:196-210); more are taken nearest first, then bettered until
    turning round no stretch and moving no stop helps. Of a round and its reverse the one that
    begins with the lower number.
    """
    n = len(away_m) - 1
    if n < 1:
        return []
    order = _exact(away_m, closed=closed) if n <= EXACT_MOST else _bettered(away_m, closed=closed)
    return order[::-1] if closed and order[0] > order[-1] else order


def _exact(away_m: Floats, *, closed: bool) -> list[int]:
    n = len(away_m) - 1
    stops = range(1, n + 1)
    # shortest way from the start through a set of stops to its last one, and that way
    best = {(frozenset([k]), k): (float(away_m[0, k]), [k]) for k in stops}
    for size in range(2, n + 1):
        for chosen in combinations(stops, size):
            whole = frozenset(chosen)
            for last in chosen:
                rest = whole - {last}
                best[whole, last] = min(
                    (best[rest, k][0] + float(away_m[k, last]), [*best[rest, k][1], last])
                    for k in rest
                )
    everything = frozenset(stops)
    back = away_m[:, 0] if closed else np.zeros(n + 1)
    return min((best[everything, k][0] + float(back[k]), best[everything, k][1]) for k in stops)[1]


def _bettered(away_m: Floats, *, closed: bool) -> list[int]:
    order = _nearest_first(away_m)
    length = _length(order, away_m, closed=closed)
    while True:
        tried = min(_neighbours(order), key=lambda o: (_length(o, away_m, closed=closed), o))
        shorter = _length(tried, away_m, closed=closed)
        if shorter > length - _GAIN_LEAST_M:
            return order
        order, length = tried, shorter


def _nearest_first(away_m: Floats) -> list[int]:
    order, left = [0], set(range(1, len(away_m)))
    while left:
        here = order[-1]
        nearest = min(left, key=lambda k: (away_m[here, k], k))
        order.append(nearest)
        left.remove(nearest)
    return order[1:]


def _neighbours(order: list[int]) -> list[list[int]]:
    """Return the orders with one stretch turned round, or one stop moved elsewhere."""
    n = len(order)
    turned = [
        [*order[:i], *order[i:j][::-1], *order[j:]]
        for i, j in combinations(range(n + 1), 2)
        if j - i > 1
    ]
    moved = []
    for i, stop in enumerate(order):
        rest = order[:i] + order[i + 1 :]
        moved += [[*rest[:j], stop, *rest[j:]] for j in range(n) if j != i]
    return turned + moved


def _length(order: list[int], away_m: Floats, *, closed: bool) -> float:
    stops = np.array([0, *order, *([0] if closed else [])])
    return float(away_m[stops[:-1], stops[1:]].sum())


def walk_steps(walk: Walk, spots: Sequence[Spot]) -> list[str]:
    """Return each leg of the walk in words, such as "to spot 2, Mill barn: 1.2 km"."""
    steps = [
        f"to spot {spots[k].rank}, {spots[k].site}: {distance_words(leg_m)}"
        for k, leg_m in zip(walk.order, walk.legs_m, strict=False)
    ]
    if walk.closed:
        steps.append(f"back to {walk.start}: {distance_words(walk.legs_m[-1])}")
    return steps


def walk_total(walk: Walk) -> str:
    """Return the length of the walk in words, and how it is measured."""
    how = "the shortest order" if walk.exact else "a short order, perhaps not the shortest"
    return (
        f"{distance_words(walk.total_m)} in all, {how}; lengths are straight lines, so the ways "
        "are longer, and a line may cross ground that is not to be walked."
    )
