"""What drives a colony to raise swarm cells, and when does it begin?"""

import numpy as np

from swarmwatch.swarming.simulation.bees import HATCHED, Day
from swarmwatch.swarming.simulation.colonies import IDLE, LAYING, NEVER, PREPARING, Colonies
from swarmwatch.swarming.simulation.drawing import (
    GUARD,
    Flags,
    Floats,
    Numbers,
    logistic,
    lognormal,
    ramp,
)

_LONGEST_LAYING_D = 2  # definition: cells are laid over a mean number of days, at least so many


def wander(colonies: Colonies, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let each colony's mood drift."""
    kept = np.exp(-1 / numbers["mood_days"])
    step = numbers["mood_sd"] * np.sqrt(1 - kept**2)
    colonies.mood = kept * colonies.mood + rng.normal(0, step, colonies.count)


def drive(colonies: Colonies, day: Day, numbers: Numbers) -> Floats:
    """Return how strongly each colony is driven to swarm, (n,); 0 with comfortable room.

    Notes
    -----
    A weighted sum of crowding, congestion, lack of queen substance, young bees without open
    brood, nectar, the colony's own readiness and its mood; the weights are the world's.
    """
    crowding = np.log(np.maximum(colonies.crowding, GUARD))
    substance = -(
        numbers["substance_year"] * np.maximum(colonies.queen_age - 1, 0)
        + numbers["substance_bees"]
        * np.log(np.maximum(colonies.workers(), 1) / numbers["bees_reference"])
        + numbers["substance_crowding"] * np.maximum(crowding, 0)
    )
    open_brood = colonies.brood[:, :_OPEN_UNTIL].sum(axis=1)
    young = colonies.adults[:, : round(numbers["young_age"])].sum(axis=1)
    ratio = (young + 1) / (open_brood + numbers["dead_below"]) / numbers["young_reference"]
    return np.asarray(
        numbers["effect_crowding"] * crowding
        + numbers["effect_congestion"] * colonies.congestion
        - numbers["effect_substance"] * substance
        + numbers["effect_young"] * np.clip(np.log(np.maximum(ratio, GUARD)), -1, 1)
        + numbers["effect_nectar"] * np.minimum(day.flow, 1)
        + colonies.readiness
        + colonies.mood
    )


_OPEN_UNTIL = 9  # definition: worker brood is open until this age [d]


def start_chance(colonies: Colonies, day: Day, numbers: Numbers) -> Floats:
    """Return each colony's chance to begin swarm cells today, (n,)."""
    if numbers["switch"] > 0:
        over = (colonies.drive - numbers["switch_at"]) / numbers["switch_width"]
        rate = numbers["start_rate_most"] * logistic(over)
    else:
        rate = np.minimum(
            numbers["start_rate"] * np.exp(np.minimum(colonies.drive, _MOST_DRIVE)),
            numbers["start_rate_most"],
        )
    share = numbers["drone_share_of_start"]
    drones = 1 - share + share * ramp(colonies.drones, start=0, end=numbers["drones_enough"])
    age = np.where(colonies.queen_age == 0, numbers["queen_this_year"], 1)
    return np.asarray(rate * day.urge * drones * age)


_MOST_DRIVE = 20  # numerical: keeps the exponential finite


def begin(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let colonies begin swarm cells, and the rest of the cells of those that began be laid."""
    colonies.drive = drive(colonies, day, numbers)
    # about one in a hundred swarms again in a season (Quinby 1853): left out
    able = (
        colonies.alive
        & (colonies.prime_day == NEVER)
        & (colonies.phase == IDLE)
        & (colonies.queen == LAYING)
        & (colonies.rest_until <= day.index)
    )
    starts = able & (rng.random(colonies.count) < start_chance(colonies, day, numbers))
    prepare(colonies, starts, numbers, rng)
    colonies.began_day[starts & (colonies.began_day == NEVER)] = day.index
    _lay_cells(colonies, starts, rng)


def prepare(colonies: Colonies, which: Flags, numbers: Numbers, rng: np.random.Generator) -> None:
    """Set colonies to raising swarm cells: how many, over how many days."""
    n = colonies.count
    most = numbers["cells_mean"] * lognormal(rng, numbers["cells_sd"], n)
    days = np.maximum(rng.poisson(numbers["cells_laid_over"], n), _LONGEST_LAYING_D)
    colonies.phase[which] = PREPARING
    colonies.cells_due[which] = most[which]
    colonies.cells_days[which] = days[which]
    colonies.drive_at_start[which] = colonies.drive[which]
    colonies.hurry[which] = False


def _lay_cells(colonies: Colonies, starts: Flags, rng: np.random.Generator) -> None:
    laying = (colonies.phase == PREPARING) & (colonies.cells_days > 0)
    mean = np.where(laying, colonies.cells_due / np.maximum(colonies.cells_days, 1), 0)
    new = rng.poisson(mean)
    # a start without a cell is none
    new = np.where(starts, np.maximum(new, 1), new)
    colonies.cells[:, 0] += new
    colonies.cells_due = np.where(laying, np.maximum(colonies.cells_due - new, 0), 0)
    colonies.cells_days = np.where(laying, colonies.cells_days - 1, 0)


def grow_cups(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let dry cups come and go with strength and season."""
    aim = numbers["cups_strong"] * day.laying * colonies.workers() / numbers["bees_reference"]
    step = (aim - colonies.cups) / (numbers["mood_days"] * HATCHED)
    noise = rng.normal(0, 1, colonies.count) * np.sqrt(np.maximum(aim, 0)) / numbers["mood_days"]
    colonies.cups = np.maximum(colonies.cups + step + noise, 0)
