"""What exactly is maximised: check the arguments and shrink them to what matters."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array

from swarmwatch.errors import PlanInfeasible, UsageError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What is left after preparation: maximise ``sum w t / (1 + t)``, t = start + sum v.

    `weights` (rows,) > 0; `shares` (sites, rows) utility over outside option, site by site in
    memory because every step reads whole sites; `start` (rows,) what the forced sites give;
    `count` how many more may be chosen; `sites` (sites,) their numbers in the caller's arrays;
    `neighbours` per site those in conflict with it, or empty when nothing conflicts.
    """

    weights: Floats
    shares: Floats
    start: Floats
    count: int
    sites: Ints
    neighbours: tuple[Ints, ...]

    @property
    def size(self) -> int:
        """How many sites there are to choose from."""
        return int(self.sites.size)

    def totals(self, chosen: Sequence[int] | Ints) -> Floats:
        """Return t (rows,) for a set of chosen sites."""
        index = np.asarray(chosen, dtype=np.intp)
        return np.asarray(self.start + self.shares[index].sum(axis=0), dtype=np.float64)

    def worth(self, totals: Floats) -> float:
        """Return the objective at t (rows,)."""
        return float(self.weights @ (totals / (1.0 + totals)))

    def slopes(self, totals: Floats) -> Floats:
        """Return the derivative of the objective by each row's t (rows,)."""
        return np.asarray(self.weights / (1.0 + totals) ** 2, dtype=np.float64)

    def gains(self, totals: Floats, index: Ints) -> Floats:
        """Return what each site of `index` adds at t, directly: a difference would cancel."""
        shares = self.shares[index]
        odds = 1.0 + totals
        return np.asarray((shares / (odds + shares)) @ (self.weights / odds), dtype=np.float64)

    def conflict_counts(self, chosen: Iterable[int]) -> NDArray[np.int64]:
        """Return for each site with how many of the chosen it is in conflict."""
        counts = np.zeros(self.size, dtype=np.int64)
        if self.neighbours:
            for site in chosen:
                counts[self.neighbours[site]] += 1
        return counts

    def restricted(self, keep: Ints) -> "Problem":
        """Return the problem with only the sites of `keep`."""
        new = np.full(self.size, -1, dtype=np.intp)
        new[keep] = np.arange(keep.size)
        neighbours: tuple[Ints, ...] = ()
        if self.neighbours:
            moved = (new[self.neighbours[site]] for site in keep)
            neighbours = tuple(m[m >= 0] for m in moved)
        return Problem(
            weights=self.weights,
            shares=np.ascontiguousarray(self.shares[keep]),
            start=self.start,
            count=self.count,
            sites=self.sites[keep],
            neighbours=neighbours,
        )


def prepare(
    weights: Floats,
    utilities: Floats,
    outside: Floats,
    *,
    count: int,
    forced: Ints,
    conflicts: NDArray[np.int64],
) -> Problem:
    """Drop what can't matter, merge equal rows, and put the forced sites into the start."""
    with np.errstate(over="ignore"):
        shares = utilities / outside[:, None]
    if not np.isfinite(shares).all():
        message = "outside: so small beside the utilities that their ratio overflows. Rescale both."
        raise UsageError(message)
    shares, weights = _merged(shares[weights > 0], weights[weights > 0])
    start = shares[:, forced].sum(axis=1)
    open_site: Flags = np.any(shares > 0, axis=0)
    open_site[forced] = False
    is_forced = np.zeros(shares.shape[1], dtype=bool)
    is_forced[forced] = True
    if conflicts.size:
        first, second = conflicts[:, 0], conflicts[:, 1]
        open_site[second[is_forced[first]]] = False
        open_site[first[is_forced[second]]] = False
    sites = np.flatnonzero(open_site)
    return Problem(
        weights=weights,
        shares=np.ascontiguousarray(shares[:, sites].T),
        start=start,
        count=count - forced.size,
        sites=sites,
        neighbours=_neighbours(conflicts, sites, shares.shape[1]),
    )


def _merged(shares: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Merge rows with equal shares, such as the colonies of one yard, adding their weights."""
    places: dict[bytes, int] = {}
    firsts: list[int] = []
    group = np.empty(weights.size, dtype=np.intp)
    for row in range(weights.size):
        key = shares[row].tobytes()
        if key not in places:
            places[key] = len(places)
            firsts.append(row)
        group[row] = places[key]
    summed = np.zeros(len(firsts))
    np.add.at(summed, group, weights)
    return shares[firsts], summed


def _neighbours(conflicts: NDArray[np.int64], sites: Ints, total: int) -> tuple[Ints, ...]:
    new = np.full(total, -1, dtype=np.intp)
    new[sites] = np.arange(sites.size)
    pairs = new[conflicts]
    pairs = pairs[(pairs >= 0).all(axis=1)]
    if not pairs.size:
        return ()
    rows, columns = np.concatenate([pairs, pairs[:, ::-1]]).T
    shape = (sites.size, sites.size)
    near = csr_array((np.ones(rows.size, dtype=bool), (rows, columns)), shape=shape)
    near.sum_duplicates()
    return tuple(near.indices[a:b].astype(np.intp) for a, b in pairwise(near.indptr.tolist()))


def checked_arrays(
    weights: ArrayLike, utilities: ArrayLike, outside: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Return the three arrays as floats, or say what is wrong with them."""
    w, u, o = (
        _floats(a, n)
        for a, n in ((weights, "weights"), (utilities, "utilities"), (outside, "outside"))
    )
    if w.ndim != 1 or o.ndim != 1 or u.ndim != 2 or u.shape[0] != w.size or o.size != w.size:
        message = (
            f"weights {w.shape}, utilities {u.shape} and outside {o.shape} don't go together. "
            "Give (sources,), (sources, sites) and (sources,)."
        )
        raise UsageError(message)
    for array, name, bad, rule in (
        (w, "weights", w < 0, "0 or more"),
        (u, "utilities", u < 0, "0 or more"),
        (o, "outside", o <= 0, "above 0"),
    ):
        _refuse_values(array, name, bad, rule)
    return w, u + 0.0, o  # + 0.0 turns -0.0 into 0.0, so that equal rows are equal bytes


def _floats(values: ArrayLike, name: str) -> Floats:
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        message = f"{name}: not an array of numbers ({error})."
        raise UsageError(message) from error


def _refuse_values(array: Floats, name: str, bad: Flags, rule: str) -> None:
    bad = bad | ~np.isfinite(array)
    if bad.any():
        place = tuple(int(i) for i in np.argwhere(bad)[0])
        where = ", ".join(map(str, place))
        message = f"{name}[{where}] is {array[place]:g}. Every one must be a number {rule}."
        raise UsageError(message)


def checked_sites(values: Iterable[int], *, name: str, sites: int) -> Ints:
    """Return site numbers without repeats, sorted, or say which is not a site."""
    numbers = [_whole(v, name) for v in values]
    outside = [v for v in numbers if not 0 <= v < sites]
    if outside:
        message = f"{name}: {outside[0]} is not a site. Sites are numbered 0 to {sites - 1}."
        raise UsageError(message)
    return np.unique(np.asarray(numbers, dtype=np.intp))


def checked_conflicts(
    pairs: Iterable[Iterable[int]] | NDArray[np.int64], *, sites: int
) -> NDArray[np.int64]:
    """Return (pairs, 2) site numbers, or say which pair is not one."""
    if not (isinstance(pairs, np.ndarray) and pairs.dtype.kind in "iu"):
        listed = [[_whole(v, "conflicts") for v in pair] for pair in pairs]
        for pair in listed:
            if len(pair) != 2:
                raise _no_pair(pair, sites)
        pairs = np.asarray(listed, dtype=np.int64)
    rows = np.asarray(pairs, dtype=np.int64).reshape(-1, 2)
    bad = (rows[:, 0] == rows[:, 1]) | (rows < 0).any(axis=1) | (rows >= sites).any(axis=1)
    if bad.any():
        raise _no_pair(rows[bad][0].tolist(), sites)
    return rows


def _no_pair(numbers: Iterable[int], sites: int) -> UsageError:
    pair = tuple(numbers)
    return UsageError(f"conflicts: {pair} is not a pair of two sites numbered 0 to {sites - 1}.")


def checked_count(count: int, *, forced: Ints) -> int:
    """Return the count of sites, or say why it can't be met."""
    number = _whole(count, "count")
    if number < 0:
        message = (
            f"count: {number} is below 0. Say how many sites may be chosen, forced ones included."
        )
        raise UsageError(message)
    if number < forced.size:
        message = (
            f"{forced.size} sites are forced but only {number} may be chosen. "
            f"Raise the count to {forced.size} or more; it includes the forced ones."
        )
        raise PlanInfeasible(message)
    return number


def checked_limits(time_limit_s: float, gap: float) -> None:
    """Refuse a time limit or gap that is no limit."""
    if math.isnan(time_limit_s) or time_limit_s < 0:
        message = f"time_limit_s: {time_limit_s} is not a time. Give seconds, 0 or more."
        raise UsageError(message)
    if not 0 <= gap < 1:
        message = f"gap: {gap} is not a share. Give 0 for a proof, or a share below 1."
        raise UsageError(message)


def _whole(value: object, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int | np.integer):
        message = f"{name}: {value!r} is not a whole number."
        raise UsageError(message)
    return int(value)
