"""How likely is a colony to begin raising swarm cells on a given day?

The daily rate is ``lambda0 x season x exp(b . x)``. Only lambda0 is solved for: the reference
colony, on its reference course of crowding, must swarm with the yearly chance of its class.
"""

import hashlib
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from swarmwatch.swarming.belief import GONE, Day, all_idle, step
from swarmwatch.swarming.departure import CellRates
from swarmwatch.swarming.parameters import Parameters

Floats = NDArray[np.float64]
# numerical: secant steps on the log of the rate; it is then within 1 in 1,000 of its limit
_SOLVER_STEPS = 4
# numerical: a yard is scored over and over, by day and by what-if; so many are kept in mind
_KEPT = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceYear:
    """The reference colony's season at each yard, in a year of usual weather.

    `days_from_peak` (n_days,) [d]; `gate` (n_days, n_yards) the usual departure weather [-];
    `season` (n_days, n_yards, n_draws) the season's height for a start on each day [-].
    """

    days_from_peak: Floats
    gate: Floats
    season: Floats


def reference_crowding(days_from_peak: Floats, parameters: Parameters) -> Floats:
    """Return the reference colony's crowding so many days from the peak [-].

    `days_from_peak` may have any shape; the draws don't differ in this course.
    Source: evidence ``preparation.reference_crowding_spring``, ``..._peak``, ``..._growth_days``.
    """
    spring = parameters["preparation.reference_crowding_spring"][0]
    peak = parameters["preparation.reference_crowding_peak"][0]
    growth = parameters["preparation.reference_growth_days"][0]
    grown = np.clip(1 + np.asarray(days_from_peak) / growth, 0, 1)
    return np.asarray(spring + (peak - spring) * grown)


def crowding_log_ratio(crowding: Floats, parameters: Parameters) -> Floats:
    """Return the log hazard ratio of a crowding to the reference colony's at the peak.

    `crowding` is (n_draws or 1, n) [-]; so is the result, with all draws.
    """
    held = np.clip(
        crowding,
        parameters.column("preparation.crowding_least"),
        parameters.column("preparation.crowding_most"),
    )
    peak = parameters["preparation.reference_crowding_peak"][0]
    return np.asarray(parameters.column("preparation.crowding_effect") * (held - peak))


def solve_base_rate(
    year: ReferenceYear, rates: CellRates, parameters: Parameters, *, chance_key: str
) -> Floats:
    """Find lambda0 so that the reference colony swarms with the yearly chance of its class.

    Parameters
    ----------
    year
        The reference season.
    rates
        Daily rates by age of cells.
    parameters
        The draws.
    chance_key
        Evidence key of the yearly chance.

    Returns
    -------
    (n_yards, n_draws) rate a day at the season's peak [1/d].
    """
    _, yards, draws = year.season.shape
    crowding = reference_crowding(year.days_from_peak, parameters)
    shape = year.season * np.exp(crowding_log_ratio(crowding[None], parameters).T[:, None, :])
    wanted = np.broadcast_to(parameters[chance_key], (yards, draws))
    mark = hashlib.blake2b(repr(shape.shape).encode("ascii"))
    for part in (shape, year.gate, wanted, rates.depart, rates.abandon):
        mark.update(np.ascontiguousarray(part).data)
    asked = _Asked(mark=mark.digest(), shape=shape, gate=year.gate, rates=rates, wanted=wanted)
    return _solved(asked)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What the solver is asked; alike where the mark of all of its numbers is."""

    mark: bytes
    shape: Floats = field(compare=False)
    gate: Floats = field(compare=False)
    rates: CellRates = field(compare=False)
    wanted: Floats = field(compare=False)


@lru_cache(maxsize=_KEPT)
def _solved(asked: _Asked) -> Floats:
    shape, gate, rates, wanted = asked.shape, asked.gate, asked.rates, asked.wanted
    # start from the rate that would do if every start ended in a swarm
    low = np.log(-np.log1p(-wanted) / shape.sum(axis=0))
    high = low + 1
    missed_low = _log_hazard(_yearly(np.exp(low), shape, gate, rates)) - _log_hazard(wanted)
    for _ in range(_SOLVER_STEPS):
        missed = _log_hazard(_yearly(np.exp(high), shape, gate, rates)) - _log_hazard(wanted)
        moved = missed - missed_low
        slope = np.where(moved == 0, 0, (high - low) / np.where(moved == 0, 1, moved))
        # where no rate reaches the chance, as in the polar summer, a start a day is as good as any
        low, high, missed_low = high, np.minimum(high - missed * slope, 0), missed
    base = np.exp(high)
    base.setflags(write=False)
    return np.asarray(base)


def _log_hazard(chance: Floats) -> Floats:
    return np.asarray(np.log(-np.log1p(-np.clip(chance, 0, 1 - np.finfo(float).eps))))


def _yearly(base: Floats, shape: Floats, gate: Floats, rates: CellRates) -> Floats:
    """Return the chance (n_yards, n_draws) that the reference colony swarms in the year."""
    days, yards, draws = shape.shape
    belief = all_idle(draws, yards)
    never_clipped = np.zeros(yards, dtype=bool)
    for t in range(days):
        rate = -np.expm1(-(base * shape[t]).T)
        today = Day(start=rate, restart=rate, gate=np.broadcast_to(gate[t], (draws, yards)))
        belief = step(belief, today, rates=rates, clipped=never_clipped)
    return np.asarray(belief[..., GONE].sum(axis=-1).T)
