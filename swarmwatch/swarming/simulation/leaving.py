"""When does a prime swarm leave, and what goes with it?"""

import numpy as np

from swarmwatch.swarming.simulation.bees import Day
from swarmwatch.swarming.simulation.cells import EMERGED, SEALED, oldest_stage, tear_down
from swarmwatch.swarming.simulation.colonies import (
    GONE,
    IDLE,
    LAYING,
    PARTED,
    PREPARING,
    Colonies,
)
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Numbers


def leave(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let ready colonies part with a prime swarm; some come back."""
    n = colonies.count
    goes = rng.random(n) < _chance(colonies, day, numbers)
    backs = np.where(colonies.clipped, numbers["return_clipped"], numbers["return_whole"])
    returns = goes & (rng.random(n) < backs)
    loses = returns & colonies.clipped & (rng.random(n) < numbers["queen_lost_clipped"])
    colonies.returned_day[returns] = day.index
    away = goes & ~returns
    take_bees(colonies, away, numbers["share_leaving"], numbers)
    colonies.prime_day[away] = day.index
    gone = away | loses
    colonies.queen[gone] = GONE
    colonies.clipped[gone] = False
    colonies.phase[gone] = PARTED
    colonies.parted_day[gone] = day.index
    colonies.last_swarm_day[gone] = day.index
    colonies.cells_due[gone] = 0
    colonies.cells_days[gone] = 0
    colonies.swarms_due[gone] = 0
    colonies.swarms_done[gone] = 0
    plan_afterswarms(colonies, away, numbers, rng)
    virgin_led = loses & (rng.random(n) < numbers["virgin_prime"])
    plan_afterswarms(colonies, virgin_led, numbers, rng)
    colonies.swarms_due[virgin_led] += 1


def _chance(colonies: Colonies, day: Day, numbers: Numbers) -> Floats:
    """Return each colony's chance to part today, (n,)."""
    at = oldest_stage(colonies, numbers)
    ready = (colonies.phase == PREPARING) & (colonies.queen == LAYING)
    ready &= colonies.oldest_cell() >= numbers["leave_first_age"]
    early = numbers["leave_unsealed"] * np.where(colonies.hurry, numbers["rebuild_hurry"], 1)
    rate = np.where(at >= SEALED, numbers["leave_sealed"], np.minimum(early, 0.5))
    fit = day.leaving * np.where(day.pent_up > 0, numbers["leave_pent_up"], 1)
    fit = fit * (1 - (1 - numbers["leave_dearth"]) * (1 - np.minimum(day.flow, 1)))
    return np.where(ready, np.minimum(rate * fit, 1 - (1 - numbers["leave_sealed"]) / 2), 0)


def call_off(colonies: Colonies, day: Day, numbers: Numbers) -> None:
    """End preparations whose ripe queens could not be held back any longer."""
    at = oldest_stage(colonies, numbers)
    late = colonies.oldest_cell() >= numbers["emerge_age"] + numbers["leave_held"]
    ends = (colonies.phase == PREPARING) & (at == EMERGED) & late
    tear_down(colonies, ends)
    colonies.phase[ends] = IDLE
    colonies.rest_until[ends] = day.index + round(numbers["rest_after"])


def plan_afterswarms(
    colonies: Colonies, which: Flags, numbers: Numbers, rng: np.random.Generator
) -> None:
    """Draw how many more swarms colonies would send, if weather lets them; none are done yet."""
    due = np.zeros(colonies.count, dtype=np.int64)
    going = which.copy()
    chance = numbers["after_first"]
    for _ in range(round(numbers["after_most"])):
        going &= rng.random(colonies.count) < chance
        due[going] += 1
        chance = numbers["after_next"]
    colonies.swarms_due[which] = due[which]
    colonies.swarms_done[which] = 0


def take_bees(colonies: Colonies, which: Flags, share: float, numbers: Numbers) -> None:
    """Let a share of the workers leave, the young more readily, with food for each."""
    young = round(numbers["young_age"])
    before = colonies.workers()
    few = colonies.adults[:, :young].sum(axis=1)
    often = np.minimum(share * numbers["share_young"], 1)
    others = np.maximum(before - few, 1)
    rest = np.clip((share * before - often * few) / others, 0, 1)
    stay = np.where(which, 1 - rest, 1)
    colonies.adults[:, :young] *= np.where(which, 1 - often, 1)[:, None]
    colonies.adults[:, young:] *= stay[:, None]
    colonies.winter = colonies.winter * stay
    taken = (before - colonies.workers()) * numbers["honey_a_bee"]
    colonies.honey_g = np.maximum(colonies.honey_g - np.where(which, taken, 0), 0)
