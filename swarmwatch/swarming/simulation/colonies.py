"""In what state do the colonies of a world's seasons come out of the winter?"""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.hives import hive_types, is_long
from swarmwatch.swarming.simulation.drawing import (
    Flags,
    Floats,
    Integers,
    Numbers,
    logistic,
    lognormal,
)

ADULT_AGES = 60  # definition: the oldest cohort holds all older bees
BROOD_AGES = 21  # definition: a worker's days from egg to adult
DRONE_AGES = 24  # definition: a drone's
CELL_AGES = 30  # definition: queen cells are followed so long
NEVER = -1

# what is going on in a colony
IDLE, PREPARING, PARTED, VIRGIN, HOPELESS, SUPERSEDING, QUEENLESS = range(7)
GONE, UNMATED, LAYING = range(3)

# common enough hives, framed and long; their measures are evidence
_HIVES = ("langstroth-deep-10", "national-deep", "zander-10", "dadant-12", "top-bar", "layens-14")
_SMALL_BOX_CM2 = 18_000  # evidence simulation.keeper_boxes: a box with less comb may be doubled
_BARS_OF_A_LONG_HIVE = 26  # evidence hives: long hives hold 20 to 30
_DRAWN_LEAST = 0.7  # evidence simulation.keeper_boxes: combs of the brood boxes drawn in March
_BARS_FREE = 2  # evidence simulation.keeper_room_at: empty bars inside the follower board


@dataclass(slots=True, kw_only=True)
class Colonies:
    """All colonies of all seasons of one world, one place an array, n = seasons x colonies.

    Bees, brood and cells are counts by age in days, ``adults`` (n, ADULT_AGES), ``brood``
    (n, BROOD_AGES), ``cells`` (n, CELL_AGES), each from the youngest on. Days count from 1 March;
    NEVER where something has not happened.
    """

    season: Integers
    keeper: Integers
    area_cm2: Floats
    super_cm2: Floats
    combs_a_super: Floats
    combs_max: Floats
    long: Flags
    winter: Floats
    adults: Floats = field(init=False)
    brood: Floats = field(init=False)
    drone_brood: Floats = field(init=False)
    drones: Floats = field(init=False)
    honey_g: Floats
    nectar_g: Floats = field(init=False)
    nest_g: Floats = field(init=False)
    combs: Floats
    foundation: Floats
    supers: Floats = field(init=False)
    super_drawn: Floats = field(init=False)
    queen: Integers = field(init=False)
    queen_age: Integers
    queen_quality: Floats
    clipped: Flags
    clipped_at_start: Flags
    age_at_start: Integers
    swarmed_last_year: Flags
    readiness: Floats
    mood: Floats
    pace: Floats
    phase: Integers = field(init=False)
    cells: Integers = field(init=False)
    cells_due: Floats = field(init=False)
    cells_days: Integers = field(init=False)
    drive: Floats = field(init=False)
    drive_at_start: Floats = field(init=False)
    crowding: Floats = field(init=False)
    congestion: Floats = field(init=False)
    cups: Floats = field(init=False)
    torn: Floats = field(init=False)
    opened: Floats = field(init=False)
    rest_until: Integers = field(init=False)
    hurry: Flags = field(init=False)
    swarms_due: Integers = field(init=False)
    swarms_done: Integers = field(init=False)
    parted_day: Integers = field(init=False)
    last_swarm_day: Integers = field(init=False)
    virgin_day: Integers = field(init=False)
    mated_day: Integers = field(init=False)
    began_day: Integers = field(init=False)
    prime_day: Integers = field(init=False)
    returned_day: Integers = field(init=False)
    superseded_day: Integers = field(init=False)
    treated_day: Integers = field(init=False)
    died_day: Integers = field(init=False)
    lost_day: Integers = field(init=False)

    def __post_init__(self) -> None:
        n = len(self.season)
        self.adults = np.zeros((n, ADULT_AGES))
        self.brood = np.zeros((n, BROOD_AGES))
        self.drone_brood = np.zeros((n, DRONE_AGES))
        self.cells = np.zeros((n, CELL_AGES), dtype=np.int64)
        self.queen = np.full(n, LAYING, dtype=np.int64)
        self.phase = np.full(n, IDLE, dtype=np.int64)
        self.hurry = np.zeros(n, dtype=bool)
        # each its own array
        (
            self.drones,
            self.nectar_g,
            self.nest_g,
            self.supers,
            self.super_drawn,
            self.cells_due,
            self.drive,
            self.drive_at_start,
            self.crowding,
            self.congestion,
            self.cups,
            self.torn,
            self.opened,
        ) = (np.zeros(n) for _ in range(13))
        # each its own array
        (
            self.cells_days,
            self.rest_until,
            self.parted_day,
            self.last_swarm_day,
            self.virgin_day,
            self.mated_day,
            self.began_day,
            self.prime_day,
            self.returned_day,
            self.superseded_day,
            self.treated_day,
            self.died_day,
            self.lost_day,
        ) = (np.full(n, NEVER, dtype=np.int64) for _ in range(13))
        self.swarms_due, self.swarms_done = (np.zeros(n, dtype=np.int64) for _ in range(2))

    @property
    def count(self) -> int:
        """Return the number of colonies, over all seasons."""
        return len(self.season)

    @property
    def alive(self) -> Flags:
        """Return which colonies live, (n,)."""
        return np.asarray(self.died_day == NEVER)

    def workers(self) -> Floats:
        """Return all adult workers, (n,)."""
        return np.asarray(self.winter + self.adults.sum(axis=1))

    def oldest_cell(self) -> Integers:
        """Return the age of the oldest occupied queen cell, NEVER where there is none [d]."""
        there = self.cells > 0
        return np.where(
            there.any(axis=1), CELL_AGES - 1 - there[:, ::-1].argmax(axis=1), NEVER
        ).astype(np.int64)


def hives_of_keepers(
    evidence: Evidence, habits: dict[str, Floats], rng: np.random.Generator
) -> pd.DataFrame:
    """Choose the hive that each keeper uses, one row a keeper, with its measures."""
    types = hive_types(evidence)
    chosen = rng.integers(0, len(_HIVES), len(habits["boxes"]))
    hives = types.loc[[_HIVES[i] for i in chosen]].reset_index()
    box = 2 * hives["comb_area_cm2"] * hives["combs_a_box"]
    long = is_long(hives)
    double = (np.round(habits["boxes"]) > 1) & (box < _SMALL_BOX_CM2) & ~long
    hives["long"] = long
    hives["combs_max"] = np.where(
        long, _BARS_OF_A_LONG_HIVE, hives["combs_a_box"] * np.where(double, 2, 1)
    )
    supers = types.reindex(hives["default_super"].fillna(hives["hive_type"]).to_numpy())
    hives["combs_a_super"] = supers["combs_a_box"].to_numpy(dtype=float)
    hives["super_cm2"] = 2 * (supers["comb_area_cm2"] * supers["combs_a_box"]).to_numpy(dtype=float)
    return hives


def colonies_in_march(
    hives: pd.DataFrame,
    habits: dict[str, Floats],
    numbers: Numbers,
    *,
    seasons: int,
    colonies: int,
    rng: np.random.Generator,
) -> Colonies:
    """Draw the colonies of every season as they stand on 1 March.

    Parameters
    ----------
    hives, habits
        Of `hives_of_keepers` and `keeper_numbers`; colony i belongs to keeper i modulo their
        number.
    numbers
        The world's parameters.
    seasons, colonies
        How many seasons, and colonies a season.
    rng
        Where chance comes from.
    """
    n = seasons * colonies
    keeper = np.tile(np.arange(colonies) % len(hives), seasons)
    hive = {c: hives[c].to_numpy(dtype=float)[keeper] for c in _MEASURES}
    traits = _traits(numbers, habits, keeper, rng)
    winter = np.maximum(
        numbers["spring_bees"] * lognormal(rng, numbers["spring_bees_sd"], n),
        numbers["spring_bees_least"],
    )
    drawn = np.ceil(hive["combs_max"] * rng.uniform(_DRAWN_LEAST, 1, n))
    long = hives["long"].to_numpy(dtype=bool)[keeper]
    # a long hive is opened bar by bar: so many combs as the winter's bees sit on, and some
    sat_on = winter / (2 * hive["comb_area_cm2"] * numbers["comfort"])
    combs = np.where(long, np.clip(np.ceil(sat_on) + 2, 5, hive["combs_max"]), drawn)
    free = np.where(long, _BARS_FREE, hive["combs_max"] - combs)
    return Colonies(
        season=np.repeat(np.arange(seasons), colonies),
        keeper=keeper,
        area_cm2=hive["comb_area_cm2"],
        super_cm2=hive["super_cm2"],
        combs_a_super=hive["combs_a_super"],
        combs_max=hive["combs_max"],
        long=long,
        winter=winter,
        honey_g=numbers["spring_honey"] * lognormal(rng, numbers["spring_bees_sd"], n),
        combs=combs,
        foundation=np.minimum(free, hive["combs_max"] - combs),
        mood=rng.normal(0, numbers["mood_sd"], n),
        pace=rng.normal(0, numbers["stage_sd"], n),
        queen_age=traits.age.copy(),
        age_at_start=traits.age,
        queen_quality=traits.quality,
        clipped=traits.clipped.copy(),
        clipped_at_start=traits.clipped,
        swarmed_last_year=traits.swarmed,
        readiness=traits.readiness,
    )


_MEASURES = ("comb_area_cm2", "super_cm2", "combs_a_super", "combs_max")


class _Traits(NamedTuple):
    age: Integers
    quality: Floats
    clipped: Flags
    swarmed: Flags
    readiness: Floats


def _traits(
    numbers: Numbers, habits: dict[str, Floats], keeper: Integers, rng: np.random.Generator
) -> _Traits:
    """Draw queens and temper: who swarmed last year has last year's queen, and the same stock."""
    n = len(keeper)
    sd, kept = numbers["colony_sd"], numbers["heritability"]
    stock = rng.normal(0, sd * np.sqrt(kept), n)
    last_year = rng.normal(0, sd * np.sqrt(1 - kept), n)
    this_year = rng.normal(0, sd * np.sqrt(1 - kept), n)
    swarmed = rng.random(n) < logistic(_ODDS_LAST_YEAR + stock + last_year)
    young = habits["young_queens"][keeper]
    old = rng.random(n) > young
    older = old & (rng.random(n) > young)
    age = np.where(swarmed, 1, 1 + old.astype(np.int64) + older)
    fall = (1 - numbers["queen_fall"]) ** (age - 1)
    return _Traits(
        age=age,
        quality=lognormal(rng, numbers["queen_sd"], n) * fall,
        clipped=rng.random(n) < habits["clips"][keeper],
        swarmed=swarmed,
        readiness=stock + this_year,
    )


# log odds of three swarms in ten colonies; evidence season.yearly_chance_inspected
_ODDS_LAST_YEAR = float(np.log(0.3 / 0.7))
