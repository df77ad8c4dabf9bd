"""What follows when the old queen is gone: virgins, afterswarms, mating, a new queen or none?"""

import numpy as np

from swarmwatch.swarming.simulation.bees import Day
from swarmwatch.swarming.simulation.cells import EMERGED, STAGES, oldest_stage, tear_down
from swarmwatch.swarming.simulation.colonies import (
    GONE,
    HOPELESS,
    IDLE,
    LAYING,
    NEVER,
    PARTED,
    QUEENLESS,
    SUPERSEDING,
    UNMATED,
    VIRGIN,
    Colonies,
)
from swarmwatch.swarming.simulation.drawing import Flags, Numbers, lognormal
from swarmwatch.swarming.simulation.leaving import plan_afterswarms, take_bees

_RIPE = STAGES.index("ripe")


def after(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> Flags:
    """Let virgins emerge, afterswarms leave and one queen stay; return who sent an afterswarm."""
    _emerge(colonies, day, numbers, rng)
    n = colonies.count
    since = day.index - colonies.parted_day
    waiting = colonies.alive & (colonies.phase == PARTED) & (colonies.virgin_day != NEVER)
    open_now = (since >= numbers["after_from"]) & (since <= numbers["after_until"])
    due = colonies.swarms_due > colonies.swarms_done
    fit = np.maximum(day.leaving, numbers["after_weather"] * (day.flight > 0))
    able = waiting & due & open_now & (colonies.last_swarm_day < day.index)
    # who swarms with a virgin needs another, soon to emerge, to stay
    able &= oldest_stage(colonies, numbers) >= _RIPE
    goes = able & (rng.random(n) < numbers["after_rate"] * fit)
    first = goes & (colonies.prime_day == NEVER)
    take_bees(colonies, first, numbers["share_leaving"], numbers)
    take_bees(colonies, goes & ~first, numbers["after_share"], numbers)
    colonies.prime_day[first] = day.index
    colonies.swarms_done[goes] += 1
    colonies.virgin_day[goes] = day.index
    open_oldest(colonies, goes)
    colonies.last_swarm_day[goes] = day.index
    idle = (day.flight <= 0) & (rng.random(n) < numbers["after_called_off"])
    over = (since >= numbers["after_until"]) | (colonies.swarms_due <= colonies.swarms_done) | idle
    # a day after the last swarm the rivals are dead
    settles = waiting & ~goes & over & (colonies.last_swarm_day < day.index)
    tear_down(colonies, settles)
    colonies.phase[settles] = VIRGIN
    colonies.queen[settles] = UNMATED
    return np.asarray(goes & ~first)


def _emerge(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let the first queen of a colony that parted, lost or replaces its queen come out."""
    oldest = oldest_stage(colonies, numbers)
    raising = np.isin(colonies.phase, (PARTED, SUPERSEDING, QUEENLESS)) & colonies.alive
    out = raising & (oldest == EMERGED) & (colonies.virgin_day == NEVER)
    colonies.virgin_day[out] = day.index
    open_oldest(colonies, out)
    lone = out & (colonies.phase != PARTED)
    strong = lone & (colonies.phase == QUEENLESS) & (colonies.prime_day == NEVER)
    strong &= (rng.random(colonies.count) < numbers["emergency_swarm"]) & (day.urge > 0.5)
    plan_afterswarms(colonies, strong, numbers, rng)
    colonies.swarms_due[strong] += 1
    colonies.phase[strong] = PARTED
    # the bees part a virgin's swarm no sooner than a window's first day after she is out
    colonies.parted_day[strong] = day.index - round(numbers["after_from"])
    colonies.last_swarm_day[strong] = day.index - 1
    alone = lone & ~strong
    tear_down(colonies, alone)
    colonies.phase[alone] = VIRGIN
    without = alone & (colonies.queen != LAYING)
    colonies.queen[without] = UNMATED
    empty = raising & (colonies.cells.sum(axis=1) == 0) & (colonies.virgin_day == NEVER)
    colonies.phase[empty] = np.where(colonies.queen[empty] == LAYING, IDLE, HOPELESS)


def open_oldest(colonies: Colonies, which: Flags) -> None:
    """Let the queen of the oldest cell out in some colonies."""
    row = np.flatnonzero(which)
    colonies.cells[row, colonies.oldest_cell()[row]] -= 1
    colonies.opened[row] += 1


def mate(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let virgins mate on days that let them, be lost, or begin to lay; some are past it."""
    n = colonies.count
    virgin = colonies.alive & (colonies.phase == VIRGIN)
    age = day.index - colonies.virgin_day
    flies = virgin & (colonies.mated_day == NEVER) & (day.mating > 0)
    flies &= age >= numbers["mating_from"]
    lost = flies & (rng.random(n) < numbers["mating_loss"])
    mated = flies & ~lost & (rng.random(n) < numbers["mating_rate"])
    colonies.mated_day[mated] = day.index
    old = virgin & (colonies.mated_day == NEVER) & (age > numbers["mating_until"])
    failed = lost | old
    kept = failed & (colonies.queen == LAYING)
    colonies.phase[failed] = HOPELESS
    colonies.queen[failed & ~kept] = GONE
    colonies.phase[kept] = IDLE
    colonies.virgin_day[kept] = NEVER
    since = day.index - colonies.mated_day
    lays = virgin & (colonies.mated_day != NEVER) & (since >= numbers["laying_after"])
    replaced = lays & (colonies.queen == LAYING)
    colonies.superseded_day[replaced] = colonies.virgin_day[replaced]
    crown(colonies, lays, numbers, rng)


def crown(colonies: Colonies, which: Flags, numbers: Numbers, rng: np.random.Generator) -> None:
    """Give colonies a laying queen of this year."""
    colonies.phase[which] = IDLE
    colonies.queen[which] = LAYING
    colonies.queen_age[which] = 0
    colonies.clipped[which] = False
    colonies.queen_quality[which] = lognormal(rng, numbers["queen_sd"], colonies.count)[which]
    colonies.virgin_day[which] = NEVER
    colonies.mated_day[which] = NEVER
    colonies.parted_day[which] = NEVER
