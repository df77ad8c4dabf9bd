"""How do queen cells age, get lost or given up, and who raises them for another reason?"""

import numpy as np

from swarmwatch.swarming.simulation.bees import HATCHED, Day
from swarmwatch.swarming.simulation.colonies import (
    CELL_AGES,
    GONE,
    IDLE,
    LAYING,
    NEVER,
    PREPARING,
    QUEENLESS,
    SUPERSEDING,
    Colonies,
)
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Integers, Numbers

STAGES = ("egg", "small-larva", "large-larva", "capped", "ripe", "emerged")
_STAGE_ENDS = ("hatch_age", "large_age", "seal_age", "ripe_age", "emerge_age")
SEALED = STAGES.index("capped")
EMERGED = STAGES.index("emerged")
_GIVEN_UP = ("egg", "larva", "larva", "sealed", "sealed", "sealed")
_EGGS_FOR_QUEENS = 50  # definition: with fewer larvae of the right age no emergency queen is raised
_LARVA_AGE = 4  # evidence simulation.rebuild_age: larvae that can still become queens


def stage(age: Integers, pace: Floats, numbers: Numbers) -> Integers:
    """Return the place in STAGES of cells `age` days old by midday, in colonies of a `pace` [d]."""
    ends = np.array([numbers[name] for name in _STAGE_ENDS])
    at = np.asarray(age) + 0.5 + np.asarray(pace)
    return np.asarray((at[..., None] >= ends).sum(axis=-1), dtype=np.int64)


def stages_of_cells(colonies: Colonies, numbers: Numbers) -> Integers:
    """Return the stage of the cells of each age in each colony, (n, CELL_AGES)."""
    return stage(np.arange(CELL_AGES)[None, :], colonies.pace[:, None], numbers)


def oldest_stage(colonies: Colonies, numbers: Numbers) -> Integers:
    """Return the stage of each colony's oldest cell, NEVER without cells, (n,)."""
    age = colonies.oldest_cell()
    return np.where(age == NEVER, NEVER, stage(age, colonies.pace, numbers))


def age_cells(colonies: Colonies, numbers: Numbers, rng: np.random.Generator) -> None:
    """Age cells and their remains by a day, and let single ones be torn down."""
    fading = 1 / numbers["open_days"]
    colonies.torn = colonies.torn * (1 - fading)
    colonies.opened = colonies.opened * (1 - fading)
    colonies.cells[:, 1:] = colonies.cells[:, :-1]
    colonies.cells[:, 0] = 0
    preparing = colonies.phase == PREPARING
    chance = np.where(preparing, numbers["cell_loss"], 0)[:, None]
    lost = rng.binomial(colonies.cells, np.broadcast_to(chance, colonies.cells.shape))
    colonies.cells -= lost
    colonies.torn = colonies.torn + lost.sum(axis=1)


def give_up(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let colonies tear all their swarm cells down, sooner in rain, dearth and with lost drive."""
    preparing = colonies.phase == PREPARING
    at = oldest_stage(colonies, numbers)
    rates = np.array([numbers[f"give_up_{s}"] for s in _GIVEN_UP])
    rate = rates[np.maximum(at, 0)]
    rate = rate * (1 + (numbers["give_up_rain"] - 1) * (1 - day.flight))
    rate = rate * (1 + (numbers["give_up_dearth"] - 1) * (1 - np.minimum(day.flow, 1)))
    fallen = np.maximum(colonies.drive_at_start - colonies.drive, 0)
    rate = np.minimum(rate * np.exp(numbers["give_up_drive"] * fallen), 0.5)
    stops = preparing & (rng.random(colonies.count) < rate)
    # all cells lost one by one is giving up, too; those still to be laid go with them
    stops |= preparing & (colonies.cells.sum(axis=1) == 0) & (colonies.cells_days <= 0)
    tear_down(colonies, stops)
    colonies.phase[stops] = IDLE
    rest = 1 + rng.poisson(numbers["rest_after"], colonies.count)
    colonies.rest_until[stops] = day.index + rest[stops]


def tear_down(colonies: Colonies, which: Flags) -> None:
    """Tear all cells of some colonies down."""
    colonies.torn[which] += colonies.cells[which].sum(axis=1)
    colonies.cells[which] = 0
    colonies.cells_due[which] = 0
    colonies.cells_days[which] = 0


def supersede(colonies: Colonies, day: Day, numbers: Numbers, rng: np.random.Generator) -> None:
    """Let old or failing queens be replaced quietly: few cells of one age."""
    years = np.maximum(colonies.queen_age - 1, 0)
    rate = numbers["supersede"] * numbers["supersede_year"] ** years / colonies.queen_quality
    able = colonies.alive & (colonies.phase == IDLE) & (colonies.queen == LAYING)
    able &= (day.drone_laying > 0) & (colonies.drones > 0)
    starts = able & (rng.random(colonies.count) < rate)
    count = 1 + rng.poisson(numbers["supersede_cells"] - 1, colonies.count)
    colonies.cells[starts, 0] = np.minimum(count, _MOST_SUPERSEDURE)[starts]
    colonies.phase[starts] = SUPERSEDING


_MOST_SUPERSEDURE = 3  # evidence simulation.supersede_cells: 1 to 3


def lose_queens(
    colonies: Colonies, opened: Flags, day: Day, numbers: Numbers, rng: np.random.Generator
) -> None:
    """Lose a few queens, some of them where the keeper opened the hive, and raise others."""
    chance = numbers["queen_lost"] + numbers["queen_crushed"] * opened
    able = colonies.alive & (colonies.queen == LAYING)
    able &= (colonies.phase == IDLE) | (colonies.phase == PREPARING)
    lost = able & (rng.random(colonies.count) < chance)
    colonies.queen[lost] = GONE
    colonies.lost_day[lost] = day.index
    raise_emergency_queens(colonies, lost, numbers, rng)


def raise_emergency_queens(
    colonies: Colonies, which: Flags, numbers: Numbers, rng: np.random.Generator
) -> None:
    """Turn young larvae into queens, all of one age; a colony with cells goes on with these."""
    young = colonies.brood[:, HATCHED : HATCHED + 2].sum(axis=1) > _EGGS_FOR_QUEENS
    bare = which & young & (colonies.cells.sum(axis=1) == 0)
    made = 2 + rng.poisson(numbers["emergency_cells"] - 2, colonies.count)
    # raised over three days from larvae of much the same age
    for back in range(HATCHED):
        share = made // HATCHED + (made % HATCHED > back)
        colonies.cells[bare, _LARVA_AGE - back] = share[bare]
    colonies.cells_due[which] = 0
    colonies.cells_days[which] = 0
    colonies.phase[which] = QUEENLESS
