"""How do bees, brood, food and comb change in a day?"""

from dataclasses import dataclass

import numpy as np

from swarmwatch.swarming.simulation.colonies import GONE, LAYING, Colonies
from swarmwatch.swarming.simulation.drawing import Floats, Numbers

# definition: ages at which a worker hatches and at which her cell is capped [d]
HATCHED, CAPPED = 3, 9
_BEES_A_BUILDING_GROUP = 10_000  # definition of evidence simulation.build_comb


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """What one day brings to each colony's place, (n,)."""

    index: int
    flight: Floats
    flow: Floats
    laying: Floats
    urge: Floats
    drone_laying: Floats
    leaving: Floats
    pent_up: Floats
    mating: Floats


def foragers(colonies: Colonies, numbers: Numbers) -> Floats:
    """Return the bees of an age to forage; half of the winter's bees do, (n,)."""
    first = round(numbers["forage_age"])
    return np.asarray(colonies.adults[:, first:].sum(axis=1) + colonies.winter / 2)


def nest_cells(colonies: Colonies, numbers: Numbers) -> tuple[Floats, Floats]:
    """Return the cells of the brood combs that a queen could use, and those that are free, (n,)."""
    cells = colonies.combs * 2 * colonies.area_cm2 * numbers["worker_cells"]
    usable = cells * numbers["cells_usable"]
    food = colonies.nest_g * numbers["worker_cells"] / numbers["honey_per_cm2"]
    pollen = numbers["pollen_share"] * usable
    brood = colonies.brood.sum(axis=1) + colonies.drone_brood.sum(axis=1)
    return usable, np.maximum(usable - food - pollen - brood, 0)


def backfilled(colonies: Colonies, numbers: Numbers) -> Floats:
    """Return the share of the cells of brood and food in the nest that is food, (n,)."""
    food = colonies.nest_g * numbers["worker_cells"] / numbers["honey_per_cm2"]
    brood = colonies.brood.sum(axis=1) + colonies.drone_brood.sum(axis=1)
    return np.asarray(food / (food + brood + numbers["dead_below"]))


def laid_today(colonies: Colonies, day: Day, numbers: Numbers) -> tuple[Floats, Floats]:
    """Return the eggs that each queen would lay, and those that nurses and room allow, (n,)."""
    fed = numbers["dearth_laying"] + (1 - numbers["dearth_laying"]) * np.minimum(
        day.flow + colonies.honey_g / numbers["spring_honey"], 1
    )
    wanted = numbers["eggs_most"] * colonies.queen_quality * day.laying * fed
    wanted = np.where(colonies.queen == LAYING, wanted, 0)
    out = foragers(colonies, numbers)
    nurses = colonies.workers() - out + numbers["forager_nursing"] * out
    brood = colonies.brood.sum(axis=1)
    kept = np.maximum(nurses * numbers["brood_a_nurse"] - brood, 0)
    # cells come free as bees emerge through the day; the nest lags a day behind
    _, free = nest_cells(colonies, numbers)
    return wanted, np.minimum(np.minimum(wanted, kept), free)


def rear_first_brood(colonies: Colonies, day: Day, numbers: Numbers) -> None:
    """Put the brood of a queen that has laid steadily into colonies that have none yet."""
    _, eggs = laid_today(colonies, day, numbers)
    ages = colonies.brood.shape[1]
    nurses = colonies.workers() * numbers["brood_a_nurse"] / ages
    colonies.brood += np.minimum(eggs, nurses)[:, None]


def age_brood(colonies: Colonies, eggs: Floats, numbers: Numbers) -> tuple[Floats, Floats]:
    """Age the brood by a day and lay the day's eggs; return what emerged and what died, (n,).

    All brood and eggs of the day before are there afterwards, or emerged, or died.
    """
    death = np.repeat(
        [numbers["egg_death"], numbers["larva_death"], numbers["pupa_death"]],
        [HATCHED, CAPPED - HATCHED, colonies.brood.shape[1] - CAPPED],
    )
    died = colonies.brood * death
    left = colonies.brood - died
    emerged = left[:, -1].copy()
    colonies.brood[:, 1:] = left[:, :-1]
    colonies.brood[:, 0] = eggs
    return emerged, np.asarray(died.sum(axis=1))


def age_adults(colonies: Colonies, emerged: Floats, day: Day, numbers: Numbers) -> Floats:
    """Age the adults by a day and add those that emerged; return how many died, (n,)."""
    first = round(numbers["forage_age"])
    out = numbers["forager_death_idle"] + day.flight * (
        numbers["forager_death"] - numbers["forager_death_idle"]
    )
    death = np.full(colonies.adults.shape, numbers["house_death"])
    death[:, first:] = np.maximum(out, 0)[:, None]
    dead = colonies.adults * death
    left = colonies.adults - dead
    colonies.adults[:, 1:] = left[:, :-1]
    colonies.adults[:, -1] += left[:, -1]
    colonies.adults[:, 0] = emerged
    # winter bees wear out as they nurse and forage
    rate = numbers["winter_death"] + numbers["winter_death_rearing"] * day.laying
    lost = colonies.winter * rate
    colonies.winter = colonies.winter - lost
    return np.asarray(dead.sum(axis=1) + lost)


def raise_drones(colonies: Colonies, eggs: Floats, day: Day, numbers: Numbers) -> Floats:
    """Age drones and their brood; return the worker eggs that are left of the day's eggs, (n,)."""
    ready = (day.drone_laying > 0) & (colonies.workers() > numbers["drone_bees"])
    drone = np.where(ready, numbers["drone_share"], 0) * eggs
    colonies.drones = colonies.drones * (1 - numbers["drone_death"])
    colonies.drones = colonies.drones + colonies.drone_brood[:, -1] * numbers["drone_survival"]
    colonies.drone_brood[:, 1:] = colonies.drone_brood[:, :-1].copy()
    colonies.drone_brood[:, 0] = drone
    return eggs - drone


def feed(colonies: Colonies, wanted: Floats, day: Day, numbers: Numbers) -> None:
    """Bring nectar in, ripen it, put it into supers or the nest, and eat.

    `wanted` are the eggs that each queen would lay today, (n,).
    """
    income = foragers(colonies, numbers) * numbers["load"] * day.flow
    larvae = colonies.brood[:, HATCHED:CAPPED].sum(axis=1)
    eaten = numbers["use_adult"] * colonies.workers() + numbers["use_brood"] * larvae
    ripe = colonies.nectar_g * numbers["ripening"]
    colonies.nectar_g = colonies.nectar_g + income - ripe
    colonies.honey_g = np.maximum(colonies.honey_g + ripe - eaten, 0)
    _store(colonies, wanted, income, numbers)


def _store(colonies: Colonies, wanted: Floats, income: Floats, numbers: Numbers) -> None:
    """Spread the food over supers and nest: what finds no other place fills the brood nest."""
    food = colonies.honey_g + numbers["nectar_room"] * colonies.nectar_g
    usable, _ = nest_cells(colonies, numbers)
    # cells that no queen uses, and those beyond the nest that this one could fill with brood
    rim = usable * (1 / numbers["cells_usable"] - 1)
    nest = wanted * colonies.brood.shape[1] + numbers["pollen_share"] * usable
    cells = rim + np.maximum(usable - nest, 0)
    elsewhere = cells * numbers["honey_per_cm2"] / numbers["worker_cells"]
    above = colonies.supers * colonies.super_cm2 * colonies.super_drawn
    elsewhere = elsewhere + above * numbers["honey_per_cm2"]
    overflow = np.maximum(food - elsewhere, 0)
    habit = colonies.nest_g * (1 - numbers["clearing"]) + numbers["backfill_share"] * income
    colonies.nest_g = np.minimum(np.maximum(overflow, habit), food)


def build(colonies: Colonies, day: Day, numbers: Numbers) -> None:
    """Draw comb on foundation or free bars, and in supers, while nectar comes in."""
    groups = colonies.workers() / _BEES_A_BUILDING_GROUP
    made = numbers["build_comb"] * groups * np.minimum(day.flow, 1)
    below = np.minimum(made, colonies.foundation)
    colonies.combs = colonies.combs + below
    colonies.foundation = colonies.foundation - below
    above = np.where(colonies.supers > 0, (made - below) * 2 * colonies.area_cm2, 0)
    room = np.maximum(colonies.supers * colonies.super_cm2, 1)
    colonies.super_drawn = np.minimum(colonies.super_drawn + above / room, 1)


def crowd(colonies: Colonies, wanted: Floats, laid: Floats, numbers: Numbers) -> None:
    """Note how crowded the hive and how congested the nest is, the latter over some days."""
    comb = (
        2 * colonies.area_cm2 * (colonies.combs + numbers["foundation_room"] * colonies.foundation)
    )
    drawn = colonies.super_drawn + numbers["foundation_room"] * (1 - colonies.super_drawn)
    above = numbers["super_room"] * colonies.supers * colonies.super_cm2 * drawn
    colonies.crowding = colonies.workers() / (numbers["comfort"] * (comb + above))
    _, free = nest_cells(colonies, numbers)
    # room for three days of eggs is an open nest; what she could not lay counts as well
    short = 1 - np.minimum(free / np.maximum(wanted * HATCHED, 1), 1)
    unlaid = np.where(wanted > 0, 1 - laid / np.maximum(wanted, 1), 0)
    now = np.maximum(short * np.maximum(unlaid, 0.5), backfilled(colonies, numbers))
    colonies.congestion = colonies.congestion + (now - colonies.congestion) / HATCHED


def die(colonies: Colonies, day: Day, numbers: Numbers) -> None:
    """Mark colonies that are too small or have starved as dead."""
    small = colonies.workers() < numbers["dead_below"]
    starved = (colonies.honey_g + colonies.nectar_g <= 0) & (day.flow < 0.5)
    fresh = (small | starved) & colonies.alive
    colonies.died_day[fresh] = day.index
    colonies.queen[fresh] = GONE
    for bees in (colonies.cells, colonies.brood, colonies.adults, colonies.drone_brood):
        bees[fresh] = 0
    colonies.winter[fresh] = 0
    colonies.drones[fresh] = 0
