"""From notes to chances: carry the belief to the last note, then read off what comes.

Up to a colony's last note its belief is carried day by day. From there on nothing new is learnt,
so the chances are worked back from the horizon once per yard and draw and shared by all colonies;
a colony adds only its own starts of preparation.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from swarmwatch.swarming.belief import (
    ABANDONED,
    CELLS,
    GONE,
    IDLE,
    LONGEST_GONE,
    Day,
    all_idle,
    seen,
    step,
    tilted,
)
from swarmwatch.swarming.chances import Chances, at_odds
from swarmwatch.swarming.departure import CellRates, value_of
from swarmwatch.swarming.notes import Flags, Floats, Integers
from swarmwatch.swarming.parameters import Parameters
from swarmwatch.swarming.seen import Look, likelihood
from swarmwatch.swarming.steps import LOOK, STATE_EVENTS, Steps, apply_event
from swarmwatch.swarming.timeline import Course, Days


@dataclass(frozen=True, slots=True, kw_only=True)
class Colonies:
    """What of each colony the replay needs: `yard` and `clipped` (n,), `log_ratio` its readiness.

    `log_ratio` is (n_draws, n, n_days); `thinned` and `torn` (n,) tell whether all cells but one
    were taken away, or found torn, since the swarm; `afterswarms` (n,) how many have left.
    """

    yard: Integers
    clipped: Flags
    log_ratio: Floats
    thinned: Flags
    torn: Flags
    afterswarms: Integers


def replay(
    *,
    colonies: Colonies,
    steps: Steps,
    looks: Look,
    course: Course,
    rates: CellRates,
    parameters: Parameters,
    days: Days,
    targets: tuple[int, ...],
) -> Chances:
    """Run the filter of each draw over the notes, and read off the chances.

    Parameters
    ----------
    colonies, steps, looks
        The colonies, and their notes in order.
    course, rates, parameters
        Rates and weather under each draw.
    days
        The line of days.
    targets
        Days after `on` by which a swarm is asked for; 0 is `on` itself.

    Returns
    -------
    The chances.
    """
    start = -np.expm1(
        -np.moveaxis(course.season_rate, -1, 0).swapaxes(1, 2)[:, colonies.yard]
        * np.exp(colonies.log_ratio)
    )
    belief, since, log_chance = carry(
        colonies=colonies,
        steps=steps,
        looks=looks,
        course=course,
        rates=rates,
        parameters=parameters,
        start=start,
    )
    coming = _read_off(
        belief,
        since,
        colonies=colonies,
        start=start,
        horizon=days.on + max(targets),
        course=course,
        rates=rates,
        horizons=tuple(days.on + ahead for ahead in targets),
    )
    by = np.moveaxis(coming, 0, -1) + belief[..., GONE].sum(axis=-1)[..., None]
    after = _afterswarms(
        belief,
        since,
        colonies=colonies,
        start=start,
        course=course,
        rates=rates,
        parameters=parameters,
        days=days,
    )
    return Chances(
        by=at_odds(np.clip(by, 0, 1), parameters["calibration.odds"]),
        after=after,
        cells=belief[..., CELLS].sum(axis=-1),
        weight=softmax(log_chance, axis=0),
    )


def carry(
    *,
    colonies: Colonies,
    steps: Steps,
    looks: Look,
    course: Course,
    rates: CellRates,
    parameters: Parameters,
    start: Floats,
) -> tuple[Floats, Integers, Floats]:
    """Return the belief after each colony's last note, the evening of it, and what the draws tell.

    The last is the log of the chance (n_draws, n) of all that was seen, under each draw.
    """
    draws, count = start.shape[:2]
    belief = all_idle(draws, count)
    log_chance = np.zeros((draws, count))
    since = np.zeros(count, dtype=np.int64)
    reference = reference_course(course, rates, set(steps.day[steps.rank == 0].tolist()))
    for rank in range(int(steps.rank.max(initial=-1)) + 1):
        now = np.flatnonzero(steps.rank == rank)
        colony, day = steps.colony[now], steps.day[now]
        if rank == 0:
            ratio = np.log(np.maximum(start[:, colony, day], np.finfo(float).tiny)) - np.log(
                np.maximum(course.restart[day, colonies.yard[colony]].T, np.finfo(float).tiny)
            )
            usual = np.stack(
                [reference[d][:, y] for d, y in zip(day, colonies.yard[colony], strict=True)],
                axis=1,
            )
            belief[:, colony] = tilted(usual, np.exp(ratio))
        else:
            belief[:, colony] = _forward(
                belief[:, colony],
                since[colony],
                day,
                colony=colony,
                colonies=colonies,
                course=course,
                rates=rates,
                start=start,
            )
        since[colony] = day
        belief[:, colony], chance = _take_in(belief[:, colony], now, steps, looks, parameters)
        log_chance[:, colony] += np.log(chance)
    return belief, since, log_chance


def _take_in(
    belief: Floats, now: Integers, steps: Steps, looks: Look, parameters: Parameters
) -> tuple[Floats, Floats]:
    """Take in one note per colony: a look by Bayes' rule, an event by what it does.

    Returns the belief after, and the chance (n_draws, n) of what was seen; that of an event is 1.
    """
    out = belief.copy()
    chance = np.ones(belief.shape[:2])
    for kind in np.unique(steps.kind[now]):
        of_kind = np.flatnonzero(steps.kind[now] == kind)
        rows = now[of_kind]
        if kind == LOOK:
            out[:, of_kind], chance[:, of_kind] = seen(
                belief[:, of_kind], likelihood(looks.take(steps.row[rows]), parameters)
            )
        else:
            out[:, of_kind] = apply_event(
                belief[:, of_kind],
                int(kind),
                span=steps.span[rows],
                flag=steps.flag[rows],
                parameters=parameters,
            )
    return out, chance


def reference_course(course: Course, rates: CellRates, wanted: set[int]) -> dict[int, Floats]:
    """Return the reference colony's belief (n_draws, n_yards, n_states) on the wanted evenings."""
    _, yards, draws = course.gate.shape
    belief = all_idle(draws, yards)
    never_clipped = np.zeros(yards, dtype=bool)
    out = {0: belief} if 0 in wanted else {}
    for t in range(1, max(wanted, default=0) + 1):
        rate = course.restart[t].T
        today = Day(start=rate, restart=rate, gate=course.gate[t].T)
        belief = step(belief, today, rates=rates, clipped=never_clipped)
        if t in wanted:
            out[t] = belief
    return out


def _forward(
    belief: Floats,
    since: Integers,
    until: Integers,
    *,
    colony: Integers,
    colonies: Colonies,
    course: Course,
    rates: CellRates,
    start: Floats,
) -> Floats:
    """Carry each colony's belief from its last note to the next."""
    gap = until - since
    yard = colonies.yard[colony]
    for ahead in range(1, int(gap.max(initial=0)) + 1):
        go = np.flatnonzero(gap >= ahead)
        t = since[go] + ahead
        today = Day(
            start=start[:, colony[go], t],
            restart=course.restart[t, yard[go]].T,
            gate=course.gate[t, yard[go]].T,
        )
        belief[:, go] = step(
            belief[:, go], today, rates=rates, clipped=colonies.clipped[colony[go]]
        )
    return belief


def _read_off(
    belief: Floats,
    since: Integers,
    *,
    colonies: Colonies,
    start: Floats,
    horizon: int,
    course: Course,
    rates: CellRates,
    horizons: tuple[int, ...],
    reward: Floats | None = None,
) -> Floats:
    """Return the worth (n_horizons, n_draws, n) of each belief at its last note, without gone."""
    out = np.zeros((len(horizons), *belief.shape[:2]))
    for clipped in (False, True):
        mine = np.flatnonzero(colonies.clipped == clipped)
        if len(mine) == 0:
            continue
        yard, at = colonies.yard[mine], since[mine]
        value = value_of(
            rates=rates,
            clipped=clipped,
            gate=course.gate,
            restart=course.restart,
            horizons=horizons,
            first=int(at.min()),
            reward=reward,
        )
        # (n, n_horizons, n_draws, n_ages): advanced indices come first
        cells = np.einsum("dna,nhda->hdn", belief[:, mine, CELLS], value.cells[at, :, yard])
        again = belief[:, mine, ABANDONED] * np.moveaxis(value.abandoned[at, :, yard], 0, -1)
        out[:, :, mine] = cells + again
        idle = belief[:, mine, IDLE].copy()
        for t in range(int(at.min()) + 1, horizon + 1):
            began = idle * np.where(at < t, start[:, mine, t], 0)
            out[:, :, mine] += began * np.moveaxis(value.cells[t, :, yard, :, 0], 0, -1)
            idle -= began
    return out


def first_afterswarm(parameters: Parameters) -> NDArray[np.float64]:
    """Return the chance (n_draws, n_days) that the first afterswarm has left by each day.

    Day 0 is the day of the prime swarm. Source: evidence ``afterswarm.*``.
    """
    day = np.arange(LONGEST_GONE + 1, dtype=np.float64)
    spread = parameters.column("afterswarm.day_spread")
    density = np.exp(-0.5 * ((day - parameters.column("afterswarm.day_middle")) / spread) ** 2)
    density *= (day >= parameters.column("afterswarm.first_day")) & (
        day <= parameters.column("afterswarm.last_day")
    )
    by = np.cumsum(density, axis=1) / density.sum(axis=1, keepdims=True)
    return np.asarray(by * parameters.column("afterswarm.chance_first"))


_WEEK = 7


def afterswarm_ahead(parameters: Parameters) -> Floats:
    """Return the chance (n_draws, n_days) of a first afterswarm within 7 days, by days gone."""
    by = first_afterswarm(parameters)
    by_then = np.concatenate([by[:, _WEEK:], np.repeat(by[:, -1:], _WEEK, axis=1)], axis=1)
    # given that none has left yet
    return np.asarray((by_then - by) / (1 - by))


def afterswarm_reward(ahead: Floats, days: Days) -> Floats:
    """Return what a prime swarm on each day of the line is worth in afterswarms, (n_days, n_draws).

    `ahead` is that of `afterswarm_ahead`.
    """
    since_departure = days.on - np.arange(days.count)
    return np.where(
        (since_departure >= 0)[:, None],
        ahead.T[np.clip(since_departure, 0, LONGEST_GONE)],
        0,
    )


def _afterswarms(
    belief: Floats,
    since: Integers,
    *,
    colonies: Colonies,
    start: Floats,
    course: Course,
    rates: CellRates,
    parameters: Parameters,
    days: Days,
) -> Floats:
    """Return the chance (n_draws, n) of an afterswarm in the 7 days after `on`."""
    ahead = afterswarm_ahead(parameters)
    reward = afterswarm_reward(ahead, days)
    out = _read_off(
        belief,
        since,
        colonies=colonies,
        start=start,
        horizon=days.on,
        course=course,
        rates=rates,
        horizons=(days.on,),
        reward=reward,
    )[0]
    age = np.arange(LONGEST_GONE + 1)[None] + (days.on - since)[:, None]
    known = np.where(age <= LONGEST_GONE, 1.0, 0.0) * ahead[:, np.minimum(age, LONGEST_GONE)]
    out += (belief[..., GONE] * known).sum(axis=-1)
    return without_the_done(out, colonies, parameters)


def without_the_done(chance: Floats, colonies: Colonies, parameters: Parameters) -> Floats:
    """Lower the chance (n_draws, n) of an afterswarm by those that left and the cells taken."""
    out = np.where(
        colonies.afterswarms > 0, chance * parameters.column("afterswarm.chance_second"), chance
    )
    out = np.where(colonies.afterswarms > 1, 0, out)
    out = np.where(colonies.thinned, out * parameters.column("afterswarm.factor_thinned"), out)
    out = np.where(colonies.torn, out * parameters.column("afterswarm.factor_torn"), out)
    return np.clip(out, 0, 1)


__all__ = ["STATE_EVENTS", "Chances", "Colonies", "first_afterswarm", "replay"]
