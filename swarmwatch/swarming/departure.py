"""How old are the cells, are they kept, and on which day does the prime swarm leave?

Cells are followed by the age of the oldest in days from its egg, 0 to `OLDEST_AGE`. The chance
that a preparation at a given age ends in a swarm by a given evening depends only on the yard's
weather and the parameters: one backward pass over the days gives it for all colonies of the yard.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from swarmwatch.swarming.parameters import Parameters

Floats = NDArray[np.float64]
# 16 days to the emerging queen and the 8 to 10 that a swarm without its clipped queen waits
OLDEST_AGE = 26
AGES = np.arange(OLDEST_AGE + 1, dtype=np.float64)
STAGES = ("egg", "small-larva", "large-larva", "capped", "ripe", "emerged")


def stage_shares(parameters: Parameters) -> Floats:
    """Return how likely the oldest cell is in each stage at each age.

    Returns
    -------
    (n_draws, n_stages, n_ages) shares that sum to 1 over the stages [-].
    Source: evidence ``cells.hatch_age`` ... ``cells.emergence_age``.
    """
    marks = ("hatch_age", "large_larva_age", "sealing_age", "ripe_age", "emergence_age")
    spread = parameters["cells.stage_spread"][:, None, None]
    ages = np.stack([parameters[f"cells.{m}"] for m in marks], axis=1)[:, :, None]
    # the oldest cell of age a has lived a to a + 1 days by the evening it is looked at
    passed = expit((AGES + 0.5 - ages) / (spread / 2))
    ends = np.ones_like(passed[:, :1])
    reached = np.concatenate([ends, passed, 0 * ends], axis=1)
    return np.asarray(reached[:, :-1] - reached[:, 1:])


@dataclass(frozen=True, slots=True, kw_only=True)
class CellRates:
    """Daily rates by age, each (n_draws, n_ages) [1/d]: departing on a perfect day, giving up.

    Each for a queen that can fly and for one that is clipped.
    """

    depart: Floats
    abandon: Floats
    depart_clipped: Floats
    abandon_clipped: Floats

    def of(self, *, clipped: bool) -> tuple[Floats, Floats]:
        """Return the rates of departing and of giving up."""
        if clipped:
            return self.depart_clipped, self.abandon_clipped
        return self.depart, self.abandon


def cell_rates(parameters: Parameters) -> CellRates:
    """Return the daily rates at which cells of each age end in a swarm or are given up.

    Source: evidence ``departure.*``, ``cells.abandon_*``.
    """
    shares = stage_shares(parameters)
    egg, larva = shares[:, 0], shares[:, 1] + shares[:, 2]
    sealed = shares[:, 3:].sum(axis=1)
    depart = (
        larva * parameters.column("departure.hazard_unsealed")
        + sealed * parameters.column("departure.hazard_sealed")
    ) * (parameters.column("departure.first_age") <= AGES)
    # a young queen is out and nothing left: it was rather a replacement, but for a clipped
    # colony, which waits for her
    fall = parameters["departure.hazard_sealed"] - parameters["departure.hazard_emerged"]
    flying = np.maximum(depart - shares[:, -1] * fall[:, None], 0)
    abandon = (
        egg * parameters.column("cells.abandon_egg")
        + larva * parameters.column("cells.abandon_larva")
        + sealed * parameters.column("cells.abandon_sealed")
    )
    again = _delayed(depart, parameters)
    goes = parameters.column("departure.clipped_goes")
    return CellRates(
        depart=flying,
        abandon=abandon,
        depart_clipped=again * goes,
        abandon_clipped=np.minimum(abandon + again * (1 - goes), 1),
    )


def usual_ages(rates: CellRates, parameters: Parameters) -> Floats:
    """Return the shares of days on which the oldest swarm cell is of each age.

    Parameters
    ----------
    rates
        Of `cell_rates`.
    parameters
        The draws.

    Returns
    -------
    (n_draws, n_ages), summing to 1 over the ages: cells are given up or left in weather as usual.
    Source: evidence ``departure.usual_weather``.
    """
    stay = 1 - rates.depart * parameters.column("departure.usual_weather")
    stay *= 1 - rates.abandon
    there = np.cumprod(np.hstack([np.ones_like(stay[:, :1]), stay[:, :-1]]), axis=1)
    return np.asarray(there / there.sum(axis=1, keepdims=True))


def _delayed(depart: Floats, parameters: Parameters) -> Floats:
    """Shift the departure of a colony whose queen can't fly by the wait for a virgin."""
    delay = parameters["departure.clipped_delay"]
    return np.stack(
        [np.interp(AGES - d, AGES, row, left=0.0) for d, row in zip(delay, depart, strict=True)]
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """What a state on each evening is worth: the chance of an event by each of some horizons.

    `cells` is (n_days, n_horizons, n_yards, n_draws, n_ages), `abandoned` the same without ages;
    the first index is the evening counted from the timeline's start.
    """

    cells: Floats
    abandoned: Floats


def value_of(
    *,
    rates: CellRates,
    clipped: bool,
    gate: Floats,
    restart: Floats,
    horizons: tuple[int, ...],
    first: int = 0,
    reward: Floats | None = None,
) -> Value:
    """Work back from some evenings to what each state on the evenings before is worth.

    Parameters
    ----------
    rates
        Daily rates by age.
    clipped
        Whether the queen can't fly.
    gate
        (n_days, n_yards, n_draws) departure weather of each day [-]; that of the timeline's first
        day is not used.
    restart
        (n_days, n_yards, n_draws) daily chance that a colony that gave up starts anew [1/d].
    horizons
        Indices of the evenings by which the event counts.
    first
        Index of the earliest evening that is asked for; before it the worth is left 0.
    reward
        (n_days, n_draws) worth of a swarm that leaves on each day; 1 by default.

    Returns
    -------
    The worth on every evening from `first` to each horizon; 0 after it.

    Notes
    -----
    V_t(a) = d r + (1 - d) [(1 - w) V_t+1(a + 1) + w V_t+1(abandoned)], with d = depart(a) x
    gate of day t + 1, w = abandon(a), r the reward of day t + 1.
    """
    days, yards, draws = gate.shape
    hazard, give_up = rates.of(clipped=clipped)
    ends = np.array(horizons)
    cells = np.zeros((days, len(ends), yards, draws, OLDEST_AGE + 1))
    abandoned = np.zeros(cells.shape[:-1])
    for t in range(int(ends.max()) - 1, first - 1, -1):
        open_yet = np.flatnonzero(ends > t)
        after = cells[t + 1, open_yet]
        waiting = abandoned[t + 1, open_yet]
        older = np.concatenate([after[..., 1:], after[..., -1:]], axis=-1)
        leave = hazard * gate[t + 1][..., None]
        worth = leave if reward is None else leave * reward[t + 1][:, None]
        stay = (1 - give_up) * older + give_up * waiting[..., None]
        cells[t, open_yet] = worth + (1 - leave) * stay
        begin = restart[t + 1]
        abandoned[t, open_yet] = begin * after[..., 0] + (1 - begin) * waiting
    return Value(cells=cells, abandoned=abandoned)
