"""How good any set can be: a bound by duality, from the best fractional choice."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from swarmwatch.placement._capture_problem import Floats, Ints

# numerical settings, not trade numbers: they steer work, never the truth of the bound
_ACTIVE_MORE = 60
_ROUNDS = 60
_STEPS = 200
_NEWTON_ROUNDS = 20
_RIDGE = 1e-10
_TINY = 1e-300
_NEWTON_STEPS = 30
_NEWTON_TOLERANCE = 0.02  # of the step: the next exchange corrects what is left
_CLOSE = 1e-12
_WORTH_BRANCHING = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxation:
    """A set of sites, some fractional, is to be chosen: maximise the objective less the prices.

    `weights` (rows,), `shares` (sites, rows), `start` (rows,), `count` sites at most. `prices`
    (sites,) and `constant` come from Lagrange multipliers y of conflicts: a site pays the y of its
    cliques, the constant gives all y back. Both are 0 without conflicts.
    """

    weights: Floats
    shares: Floats
    start: Floats
    count: int
    prices: Floats
    constant: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """A proven bound: its `value`, the row multipliers, each site's score, and the fractions."""

    value: float
    multipliers: Floats
    scores: Floats
    fractions: Floats


def dual_value(relaxation: Relaxation, multipliers: Floats) -> tuple[float, Floats]:
    """Return the bound D that row multipliers (rows,) >= 0 prove, and the scores c (sites,).

    Notes
    -----
    ``f(S) <= D = sum_s h_s(lam_s) + sum_q y_q + (sum of the count largest of max(0, c_j))`` with
    ``c_j = sum_s lam_s v_sj - sum_{q contains j} y_q``; h_s is the largest of ``w g(t) - lam (t -
    t0)`` over t >= t0, by weak duality. Every site counts, so anyone can recheck it.
    """
    w, lam, t0 = relaxation.weights, multipliers, relaxation.start
    rows = np.where(
        lam <= w / (1.0 + t0) ** 2,
        (np.sqrt(w) - np.sqrt(lam)) ** 2 + lam * t0,
        w * t0 / (1.0 + t0),
    )
    scores = relaxation.shares @ lam - relaxation.prices
    positive = np.maximum(scores, 0.0)
    if relaxation.count < positive.size:
        cut = positive.size - relaxation.count
        positive = np.partition(positive, cut)[cut:]
    return float(rows.sum() + positive.sum() + relaxation.constant), scores


def tightest(
    relaxation: Relaxation,
    fractions: Floats,
    *,
    late: Callable[[], bool],
    target: float = -np.inf,
    tolerance: float = _CLOSE,
) -> Bound:
    """Solve the relaxation by pairwise exchange of mass and return the best bound met.

    Parameters
    ----------
    relaxation
        The fractional problem.
    fractions
        (sites,) a start, 0..1, summing to at most the count.
    late
        Says when to stop early; the bound is valid whenever it stops.
    target
        Stop as soon as the bound is at or below it.
    tolerance
        Stop when bound and fractional value are this close, relative [-].
    """
    x = fractions.copy()
    best: Bound | None = None
    for _ in range(_ROUNDS):
        totals = relaxation.start + x @ relaxation.shares
        lam = relaxation.weights / (1.0 + totals) ** 2
        value, scores = dual_value(relaxation, lam)
        if best is None or value < best.value:
            best = Bound(value=value, multipliers=lam, scores=scores, fractions=x.copy())
        primal = (
            float(relaxation.weights @ (totals / (1.0 + totals)) - x @ relaxation.prices)
            + relaxation.constant
        )
        close = tolerance * abs(value)
        if np.isfinite(target):
            close = max(close, _WORTH_BRANCHING * (primal - target))
        if best.value <= target or best.value - primal <= close or late():
            break
        active = _active(scores, x, relaxation.count)
        if not _exchange(relaxation, x, active, totals, close / (2.0 * max(relaxation.count, 1))):
            break
    assert best is not None  # noqa: S101 - at least one round ran
    return best


def _active(scores: Floats, x: Floats, count: int) -> Ints:
    """Return the sites that hold mass and those whose scores say that they should."""
    wanted = min(count + _ACTIVE_MORE, scores.size)
    top = np.argpartition(-scores, wanted - 1)[:wanted]
    return np.union1d(np.flatnonzero(x > 0), top)


def _exchange(
    relaxation: Relaxation, x: Floats, active: Ints, totals: Floats, tolerance: float
) -> bool:
    """Move mass within the active sites, worst to best; change `x`; say whether any was moved.

    The last place is an empty site that takes what is better left unused. Each exchange is
    followed by a Newton step of all sites that are partly chosen: exchanges find which those are,
    the step settles how much.
    """
    inner = _Inner(
        weights=relaxation.weights,
        start=relaxation.start,
        shares=np.vstack([relaxation.shares[active], np.zeros_like(relaxation.start)]),
        prices=np.append(relaxation.prices[active], 0.0),
        limits=np.append(np.ones(active.size), float(relaxation.count)),
        mass=np.append(x[active], max(relaxation.count - x.sum(), 0.0)),
        totals=totals.copy(),
    )
    moved = False
    for _ in range(_STEPS):
        if not inner.exchange(tolerance):
            break
        moved = True
        inner.settle()
    x[active] = inner.mass[:-1]
    return moved


@dataclass(slots=True, kw_only=True)
class _Inner:
    """The mass of the active sites while it is moved; the last one is the empty site."""

    weights: Floats
    start: Floats
    shares: Floats
    prices: Floats
    limits: Floats
    mass: Floats
    totals: Floats

    def exchange(self, tolerance: float) -> bool:
        """Move mass from the site with the least slope to the one with the greatest."""
        odds = 1.0 + self.totals
        slopes = self.shares @ (self.weights / (odds * odds)) - self.prices
        giver = int(np.where(self.mass > 0, slopes, np.inf).argmin())
        taker = int(np.where(self.mass < self.limits, slopes, -np.inf).argmax())
        if slopes[taker] - slopes[giver] <= tolerance:
            return False
        room = float(min(self.mass[giver], self.limits[taker] - self.mass[taker]))
        step = _line_step(
            self.weights,
            self.totals,
            self.shares[taker] - self.shares[giver],
            room,
            float(self.prices[taker] - self.prices[giver]),
        )
        if step <= 0:
            return False
        full = step >= self.limits[taker] - self.mass[taker]
        self.mass[taker] = self.limits[taker] if full else self.mass[taker] + step
        self.mass[giver] = 0.0 if step >= self.mass[giver] else self.mass[giver] - step
        change = step * (self.shares[taker] - self.shares[giver])
        self.totals = np.maximum(self.totals + change, self.start)
        return True

    def settle(self) -> None:
        """Take Newton steps of the partly chosen sites until none of them meets a limit."""
        for _ in range(_NEWTON_ROUNDS):
            part = np.flatnonzero((self.mass > 0) & (self.mass < self.limits))
            if part.size < 2 or not self._newton(part):
                return

    def _newton(self, part: Ints) -> bool:
        """Take one step along which the mass stays the same in sum; say whether a limit was met."""
        odds = 1.0 + self.totals
        first = self.weights / (odds * odds)
        shares = self.shares[part]
        slopes = shares @ first - self.prices[part]
        bend = (shares * (first / odds)) @ shares.T
        size = part.size
        system = np.ones((size + 1, size + 1))
        system[:size, :size] = 2.0 * bend
        system[np.arange(size), np.arange(size)] += _RIDGE * (float(np.trace(bend)) + _TINY)
        system[size, size] = 0.0
        try:
            direction = np.linalg.solve(system, np.append(slopes, 0.0))[:size]
        except np.linalg.LinAlgError:
            return False
        with np.errstate(divide="ignore", invalid="ignore"):
            to_limit = np.where(
                direction > 0,
                (self.limits[part] - self.mass[part]) / direction,
                np.where(direction < 0, -self.mass[part] / direction, np.inf),
            )
        room = min(float(to_limit.min()), 1.0)
        along = direction @ shares
        step = _line_step(
            self.weights, self.totals, along, room, float(direction @ self.prices[part])
        )
        if not step > 0:
            return False
        mass = np.clip(self.mass[part] + step * direction, 0.0, self.limits[part])
        met = to_limit <= step
        mass[met] = np.where(direction[met] > 0, self.limits[part][met], 0.0)
        self.mass[part] = mass
        self.totals = np.maximum(self.totals + step * along, self.start)
        return bool(met.any())


def _line_step(weights: Floats, t: Floats, direction: Floats, room: float, price: float) -> float:
    """Return how much mass to move: Newton's method, kept in its bracket by bisection."""
    low, high = 0.0, room
    odds = 1.0 + t
    pull = weights * direction
    if float(pull @ (1.0 / np.maximum(odds + room * direction, 1.0) ** 2)) >= price:
        return room
    step = 0.0
    for _ in range(_NEWTON_STEPS):
        here = np.maximum(odds + step * direction, 1.0)
        fall = pull / (here * here)
        slope = float(fall.sum()) - price
        if slope > 0:
            low = step
        else:
            high = step
        curve = -2.0 * float(fall @ (direction / here))
        new = step - slope / curve if curve < 0 else high
        if not low < new < high:
            new = (low + high) / 2
        if abs(new - step) <= _NEWTON_TOLERANCE * new:
            return new
        step = new
    return step
