"""A good set: greedy choice, then exchanges, until none helps."""

from collections.abc import Callable

import numpy as np

from swarmwatch.placement._capture_problem import Flags, Floats, Ints, Problem

# numerical settings, not trade numbers: they steer work, never the answer's worth
_BLOCK = 32
_EJECT_TRIES = 60
_EJECT_ROUNDS = 8
_LEAST_IMPROVEMENT = 1e-12
_EJECT_HOPE = 0.01  # a refilled set this far below the best is not worth the exchanges


def search(problem: Problem, *, late: Callable[[], bool]) -> list[int]:
    """Return a good set of sites (numbers within `problem`), legal and without repeats."""
    chosen = swap(problem, fill(problem, []), late=late)
    if problem.neighbours:
        for _ in range(_EJECT_ROUNDS):
            better = None if late() else _eject(problem, chosen, late=late)
            if better is None:
                break
            chosen = better
    return sorted(chosen)


def fill(problem: Problem, chosen: list[int]) -> list[int]:
    """Add the site with the greatest gain until the count is met or nothing helps."""
    chosen = list(chosen)
    totals = problem.totals(chosen)
    blocked = problem.conflict_counts(chosen)
    blocked[chosen] += 1
    while len(chosen) < problem.count:
        best, gain = _best_addition(problem, totals, allowed=blocked == 0)
        if gain <= 0:
            break
        chosen.append(best)
        totals = totals + problem.shares[best]
        blocked[best] += 1
        if problem.neighbours:
            blocked[problem.neighbours[best]] += 1
    return chosen


def _best_addition(problem: Problem, totals: Floats, *, allowed: Flags) -> tuple[int, float]:
    """Return the best site and its gain; a site's slope bounds its gain, so few are evaluated."""
    screen = np.where(allowed, problem.shares @ problem.slopes(totals), -1.0)
    order = np.argsort(-screen, kind="stable")
    best, best_gain, at, block = -1, 0.0, 0, _BLOCK
    while at < order.size and screen[order[at]] > max(best_gain, 0.0):
        part = order[at : at + block]
        part = part[allowed[part]]  # a chosen or forbidden site must not slip in within a block
        values = problem.gains(totals, part)
        for site, gain in ((int(part[i]), float(values[i])) for i in _largest(values)):
            if gain > best_gain or (gain == best_gain and site < best):
                best, best_gain = site, gain
        at, block = at + block, block * 2
    return best, best_gain


def _largest(values: Floats) -> Ints:
    return np.flatnonzero(values == values.max()) if values.size else np.zeros(0, dtype=np.intp)


def swap(problem: Problem, chosen: list[int], *, late: Callable[[], bool]) -> list[int]:
    """Exchange one chosen site for another, the best exchange first, until none improves."""
    chosen = list(chosen)
    while chosen and not late():
        totals = problem.totals(chosen)
        worth = problem.worth(totals)
        exchange = _best_exchange(problem, chosen, totals, worth)
        if exchange is None:
            break
        out, new = exchange
        chosen[out] = new
        if problem.worth(problem.totals(chosen)) <= worth:  # rounding: no real improvement
            chosen[out] = -1
            chosen = [c for c in chosen if c >= 0]
            return fill(problem, chosen)
    return chosen


def _best_exchange(
    problem: Problem, chosen: list[int], totals: Floats, worth: float
) -> tuple[int, int] | None:
    """Return (place in `chosen`, new site) of the exchange that gains most, if one gains."""
    shares = problem.shares[chosen]
    base = np.maximum(totals - shares, problem.start)  # rounding can pass below the start
    need = worth - (base / (1.0 + base)) @ problem.weights
    screen = (problem.weights / (1.0 + base) ** 2) @ problem.shares.T
    screen -= need[:, None]
    screen[:, chosen] = -np.inf
    _forbid_conflicts(problem, chosen, screen)
    best, best_gain = None, _LEAST_IMPROVEMENT * worth
    for out in np.argsort(-screen.max(axis=1), kind="stable"):
        hopeful = np.flatnonzero(screen[out] > best_gain)
        hopeful = hopeful[np.argsort(-screen[out, hopeful], kind="stable")]
        at, block = 0, _BLOCK
        while at < hopeful.size and screen[out, hopeful[at]] > best_gain:
            part = hopeful[at : at + block]
            values = problem.gains(base[out], part) - need[out]
            top = int(values.argmax())
            if values[top] > best_gain:
                best, best_gain = (int(out), int(part[top])), float(values[top])
            at, block = at + block, block * 2
    return best


def _forbid_conflicts(problem: Problem, chosen: list[int], screen: Floats) -> None:
    if not problem.neighbours:
        return
    counts = problem.conflict_counts(chosen)
    for out, site in enumerate(chosen):
        left = counts.copy()
        left[problem.neighbours[site]] -= 1
        screen[out, left > 0] = -np.inf


def _eject(problem: Problem, chosen: list[int], *, late: Callable[[], bool]) -> list[int] | None:
    """Put in a site that chosen ones bar, refill, exchange; return the first success."""
    counts = problem.conflict_counts(chosen)
    totals = problem.totals(chosen)
    worth = problem.worth(totals)
    barred = np.flatnonzero(counts >= 2)
    barred = np.setdiff1d(barred, chosen)
    slopes = problem.shares[barred] @ problem.slopes(totals)
    for site in barred[np.argsort(-slopes, kind="stable")][:_EJECT_TRIES]:
        if late():
            return None
        out = set(problem.neighbours[site].tolist())
        kept = [c for c in chosen if c not in out]
        trial = fill(problem, [*kept, int(site)])
        if problem.worth(problem.totals(trial)) > worth * (1.0 - _EJECT_HOPE):
            trial = swap(problem, trial, late=late)
        if problem.worth(problem.totals(trial)) > worth * (1.0 + _LEAST_IMPROVEMENT):
            return trial
    return None
