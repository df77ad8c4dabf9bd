"""What may be going on in a colony, how does it move from day to day, and what did a look tell?

A belief is an array over the states of `States`: idle; gave up its cells; cells by the age of the
oldest; gone, by the days since the prime swarm left. It sums to 1 over the states.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from swarmwatch.swarming.departure import OLDEST_AGE, CellRates

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

IDLE = 0
ABANDONED = 1
CELLS = slice(2, 2 + OLDEST_AGE + 1)
# a month after the swarm the colony has a new queen or none: the last state gathers what is older
LONGEST_GONE = 31
GONE = slice(CELLS.stop, CELLS.stop + LONGEST_GONE + 1)
STATES = GONE.stop


def all_idle(draws: int, colonies: int) -> Floats:
    """Return the belief that every colony is idle, (n_draws, n_colonies, n_states)."""
    belief = np.zeros((draws, colonies, STATES))
    belief[..., IDLE] = 1
    return belief


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """The chances of one day, each (n_draws, n) [1/d]: a start, a new start, the weather's gate."""

    start: Floats
    restart: Floats
    gate: Floats


def step(belief: Floats, day: Day, *, rates: CellRates, clipped: NDArray[np.bool_]) -> Floats:
    """Carry the belief over one day.

    Parameters
    ----------
    belief
        (n_draws, n, n_states) on the evening before.
    day
        The day's chances.
    rates
        Daily rates by age of cells.
    clipped
        (n,) whether the queen can't fly.

    Returns
    -------
    (n_draws, n, n_states) on the evening of the day; no mass is lost.
    """
    moved = np.empty_like(belief)
    # (n_draws, n, n_ages); most blocks hold no clipped queen at all
    hazard, give_up = (rate[:, None] for rate in rates.of(clipped=False))
    if clipped.any():
        both = zip(rates.of(clipped=True), (hazard, give_up), strict=True)
        hazard, give_up = (np.where(clipped[:, None], cut[:, None], whole) for cut, whole in both)
    cells = belief[..., CELLS]
    leave = cells * hazard * day.gate[..., None]
    left = cells - leave
    given_up = left * give_up
    older = left - given_up
    begin = belief[..., IDLE] * day.start
    again = belief[..., ABANDONED] * day.restart
    moved[..., IDLE] = belief[..., IDLE] - begin
    moved[..., ABANDONED] = belief[..., ABANDONED] - again + given_up.sum(axis=-1)
    ages = moved[..., CELLS]
    ages[..., 1:] = older[..., :-1]
    ages[..., -1] += older[..., -1]
    ages[..., 0] = begin + again
    gone, after = belief[..., GONE], moved[..., GONE]
    after[..., 1:] = gone[..., :-1]
    after[..., -1] += gone[..., -1]
    after[..., 0] = leave.sum(axis=-1)
    return moved


def seen(belief: Floats, likelihood: Floats) -> tuple[Floats, Floats]:
    """Take in a look by Bayes' rule; a colony that gave up its cells counts as idle afterwards.

    Both are (n_draws, n, n_states).

    Returns
    -------
    The belief after, and the chance (n_draws, n) of what was seen. Where what was seen is
    impossible under every state, the belief stays as it was and the chance is given as 1.
    """
    weighed = belief * likelihood
    total = weighed.sum(axis=-1)
    possible = total > 0
    total = np.where(possible, total, 1)
    posterior = np.where(possible[..., None], weighed / total[..., None], belief)
    posterior[..., IDLE] += posterior[..., ABANDONED]
    posterior[..., ABANDONED] = 0
    return posterior, total


def tilted(reference: Floats, multiple: Floats) -> Floats:
    """Turn the reference colony's belief into that of one that starts `multiple` times as readily.

    Exact for the idle part, whose share is the reference's to the power of the multiple; the rest
    keeps its proportions.

    Parameters
    ----------
    reference
        (n_draws, n, n_states).
    multiple
        (n_draws, n) hazard ratio to the reference colony [-].
    """
    idle = reference[..., IDLE] ** multiple
    busy = 1 - reference[..., IDLE]
    scale = np.where(busy > 0, (1 - idle) / np.where(busy > 0, busy, 1), 0)
    belief = reference * scale[..., None]
    belief[..., IDLE] = np.where(busy > 0, idle, 1)
    return belief
