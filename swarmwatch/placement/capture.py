"""The sites that catch most: choose, bound, prove (the maximum-capture problem).

Sites share each source's swarms with the outside world: a source s of weight w sends ``w U / (o +
U)`` to the chosen sites, U the sum of their utilities, o the outside's. The objective is concave
in U and submodular in the set, so greedy choice and exchanges come close, and duality says how
close. The parts: `_capture_problem` (what is maximised), `_capture_search` (a good set),
`_capture_bound` (how good any set can be), `_capture_spacing` (what conflicts cost),
`_capture_tree` (the proof).

Source: the share is Huff's (1964); the concave relaxation and submodularity as in Benati & Hansen
(2002), both from memory.
"""

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from swarmwatch.placement._capture_bound import Bound, tightest
from swarmwatch.placement._capture_problem import (
    Floats,
    Ints,
    Problem,
    checked_arrays,
    checked_conflicts,
    checked_count,
    checked_limits,
    checked_sites,
    prepare,
)
from swarmwatch.placement._capture_search import fill, search, swap
from swarmwatch.placement._capture_spacing import conflict_prices
from swarmwatch.placement._capture_tree import (
    TOLERANCE,
    Prices,
    no_prices,
    prove,
    reduced,
    relaxation_of,
    worth_beating,
)

_TIME_LIMIT_S = 30.0  # numerical setting: patience with the proof
_ROOT_TOLERANCE = 1e-7  # numerical setting: the root's bound is solved this closely


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    """A set of sites, what it catches, and how far from the best it can be.

    `chosen` sorted site numbers, forced ones included; `value` the objective; `bound` no set can
    pass it; `gap` ``(bound - value) / bound`` [-]; `proved` whether the search ended, so that no
    set is better by more than a rounding error; `seconds` of work [s].
    """

    chosen: tuple[int, ...]
    value: float
    bound: float
    gap: float
    proved: bool
    seconds: float


def maximum_capture(
    weights: ArrayLike,
    utilities: ArrayLike,
    outside: ArrayLike,
    *,
    count: int,
    forced: Sequence[int] = (),
    conflicts: Iterable[tuple[int, int]] | NDArray[np.int64] = (),
    time_limit_s: float = _TIME_LIMIT_S,
    gap: float = 0.0,
    clock: Callable[[], float] = time.monotonic,
) -> Capture:
    """Choose at most `count` sites that maximise the sum of weights times shares.

    Parameters
    ----------
    weights
        (sources,) >= 0, such as swarms a season.
    utilities
        (sources, sites) >= 0, in the unit of `outside`.
    outside
        (sources,) > 0, what the sites compete with.
    count
        How many sites may be chosen, the forced ones included. A site that adds nothing is not
        chosen, so fewer may come back; so may a count above what the conflicts allow.
    forced
        Sites that are chosen already. Two of them may conflict.
    conflicts
        (pairs, 2) sites that may not both be chosen.
    time_limit_s
        When to stop the proof [s]; the best set met and its bound are returned.
    gap
        Stop when ``(bound - value) / bound`` is at or below it [-]; 0 asks for a proof.
    clock
        Read for the time limit only [s].

    Returns
    -------
    The set with its value, bound and gap. Equal arguments give equal answers unless time ran out.

    Raises
    ------
    UsageError
        Shapes that don't go together, NaN, negative numbers, an outside of 0, unknown sites.
    PlanInfeasible
        More sites forced than may be chosen.

    Examples
    --------
    >>> maximum_capture([1.0, 1.0], [[3.0, 0.0, 1.0], [0.0, 3.0, 1.0]], [1.0, 1.0], count=2).chosen
    (0, 1)
    """
    began = clock()
    w, u, o = checked_arrays(weights, utilities, outside)
    checked_limits(time_limit_s, gap)
    held = checked_sites(forced, name="forced", sites=u.shape[1])
    count = checked_count(count, forced=held)
    pairs = checked_conflicts(conflicts, sites=u.shape[1])
    problem = prepare(w, u, o, count=count, forced=held, conflicts=pairs)

    def late() -> bool:
        return clock() - began > time_limit_s

    chosen, bound, proved = _solve(problem, gap=gap, late=late)
    sites = np.union1d(held, problem.sites[np.asarray(chosen, dtype=np.intp)])
    value = _worth(w, u, o, sites)
    bound = max(bound, value)
    return Capture(
        chosen=tuple(int(s) for s in sites),
        value=value,
        bound=bound,
        gap=(bound - value) / bound if bound > 0 else 0.0,
        proved=proved,
        seconds=clock() - began,
    )


def _worth(weights: Floats, utilities: Floats, outside: Floats, sites: Ints) -> float:
    total = utilities[:, sites].sum(axis=1)
    return float(weights @ (total / (outside + total)))


def _solve(
    problem: Problem, *, gap: float, late: Callable[[], bool]
) -> tuple[list[int], float, bool]:
    """Return the best set met, a bound on every set, and whether it is proved best."""
    if problem.count == 0 or not problem.size:
        return [], problem.worth(problem.start), True
    chosen = search(problem, late=late)
    value = problem.worth(problem.totals(chosen))
    prices = no_prices(problem)
    bound = _root_bound(problem, prices, chosen, late=late)
    best = bound.value
    if _enough(value, best, gap) or late():
        return chosen, best, best <= value * (1.0 + TOLERANCE)
    # a set of which a site is left out from here on may be as good as this, and no better
    floor = worth_beating(value, gap)
    out, _ = reduced(bound, problem.count, floor)
    keep = np.union1d(np.flatnonzero(~out), chosen)
    smaller = problem.restricted(keep)
    picked = np.searchsorted(keep, chosen).tolist()
    fractions = bound.fractions[keep]
    if smaller.neighbours:
        priced = _priced(smaller, picked, bound.scores[keep], late=late)
        if priced is not None and priced[1].value < best:
            prices, tighter, picked = priced
            fractions, best = tighter.fractions, max(tighter.value, floor)
        else:
            prices = no_prices(smaller)
    else:
        prices = no_prices(smaller)
    value = smaller.worth(smaller.totals(picked))
    if not _enough(value, best, gap) and not late():
        proof = prove(smaller, prices, chosen=picked, fractions=fractions, gap=gap, late=late)
        return keep[proof.chosen].tolist(), min(best, max(proof.bound, floor)), proof.finished
    return keep[picked].tolist(), best, best <= value * (1.0 + TOLERANCE)


def _enough(value: float, bound: float, gap: float) -> bool:
    return bound <= worth_beating(value, gap)


def _root_bound(
    problem: Problem, prices: Prices, chosen: list[int], *, late: Callable[[], bool]
) -> Bound:
    everything = np.arange(problem.size, dtype=np.intp)
    start = np.zeros(problem.size)
    start[chosen] = 1.0
    relaxation = relaxation_of(problem, prices, np.zeros(0, dtype=np.intp), everything)
    return tightest(relaxation, start, late=late, tolerance=_ROOT_TOLERANCE)


def _priced(
    problem: Problem, chosen: list[int], scores: Floats, *, late: Callable[[], bool]
) -> tuple[Prices, Bound, list[int]] | None:
    """Price the conflicts; return the prices, the bound they give, and a set at least as good."""
    prices = conflict_prices(problem, scores=scores, totals=problem.totals(chosen), late=late)
    if prices is None:
        return None
    bound = _root_bound(problem, prices, chosen, late=late)
    order = np.lexsort((-bound.scores, -bound.fractions))
    trial: list[int] = []
    counts = np.zeros(problem.size, dtype=np.int64)
    for site in order:
        if len(trial) < problem.count and not counts[site] and bound.fractions[site] > 0:
            trial.append(int(site))
            counts[problem.neighbours[site]] += 1
    trial = swap(problem, fill(problem, trial), late=late)
    if problem.worth(problem.totals(trial)) > problem.worth(problem.totals(chosen)):
        chosen = sorted(trial)
    return prices, bound, chosen
