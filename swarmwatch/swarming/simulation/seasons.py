"""How do the seasons of one world run, day by day?"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from swarmwatch.swarming.simulation import bees, cells, leaving, preparing, queens
from swarmwatch.swarming.simulation.colonies import NEVER, PREPARING, Colonies
from swarmwatch.swarming.simulation.counting import count_combs
from swarmwatch.swarming.simulation.course import Course
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Integers, Numbers
from swarmwatch.swarming.simulation.keepers import (
    Keepers,
    find_out,
    notice_swarms,
    opened_today,
)
from swarmwatch.swarming.simulation.keeping import act, give_room
from swarmwatch.swarming.simulation.looking import look


@dataclass(slots=True, kw_only=True)
class Diary:
    """What truly happened, beyond the days that the colonies keep themselves.

    `afterswarms` lists (row, day); `crowding` is the mean of the days before a colony parted, in
    the weeks round the season's height; `larvae` and `sealed` say whether swarm cells came so far.
    """

    afterswarms: list[tuple[int, int]]
    crowding: Floats
    crowding_days: Integers
    larvae: Flags
    sealed: Flags


def run(
    colonies: Colonies,
    keepers: Keepers,
    course: Course,
    numbers: Numbers,
    *,
    keeper_acts: bool,
    rng: np.random.Generator,
) -> Diary:
    """Run all seasons of a world from March to September; colonies and keepers are changed.

    Looks and what follows from them come in the morning, the bees' day after.
    """
    n = colonies.count
    diary = Diary(
        afterswarms=[],
        crowding=np.zeros(n),
        crowding_days=np.zeros(n, dtype=np.int64),
        larvae=np.zeros(n, dtype=bool),
        sealed=np.zeros(n, dtype=bool),
    )
    bees.rear_first_brood(colonies, _day(course, 0, colonies.season), numbers)
    for index in range(course.days):
        day = _day(course, index, colonies.season)
        opened = opened_today(keepers, colonies, course, day=day, numbers=numbers, rng=rng)
        find_out(keepers, colonies, opened, day, rng)
        opened &= colonies.alive
        _visit(
            keepers,
            colonies,
            opened,
            course,
            day=day,
            numbers=numbers,
            keeper_acts=keeper_acts,
            rng=rng,
        )
        _live(colonies, day, numbers, rng)
        cells.lose_queens(colonies, opened, day, numbers, rng)
        afterswarmed = _swarm(colonies, day, numbers, rng)
        notice_swarms(keepers, colonies, afterswarmed, day, rng)
        diary.afterswarms += [(int(i), index) for i in np.flatnonzero(afterswarmed)]
        _write(diary, colonies, course, day, numbers)
    return diary


def _day(course: Course, index: int, season: Integers) -> bees.Day:
    at = {
        name: getattr(course, name)[season, index].astype(float)
        for name in (
            "flight",
            "flow",
            "laying",
            "urge",
            "drone_laying",
            "leaving",
            "pent_up",
            "mating",
        )
    }
    return bees.Day(index=index, **at)


def _visit(
    keepers: Keepers,
    colonies: Colonies,
    opened: Flags,
    course: Course,
    *,
    day: bees.Day,
    numbers: Numbers,
    keeper_acts: bool,
    rng: np.random.Generator,
) -> None:
    if not opened.any():
        return
    counted = count_combs(keepers, colonies, opened, day=day, numbers=numbers, rng=rng)
    temp = course.temp_max_c[colonies.season, day.index]
    seen = look(keepers, colonies, opened, temp, numbers=numbers, rng=rng)
    rows = np.flatnonzero(opened)
    keepers.looks.append({"row": rows, "day": np.full(len(rows), day.index), **counted, **seen})
    give_room(
        keepers, colonies, opened, np.asarray(counted["combs_bees"]), day=day, numbers=numbers
    )
    if keeper_acts:
        act(keepers, colonies, opened, seen, day=day, numbers=numbers, rng=rng)
    keepers.last_look[opened] = day.index


def _live(colonies: Colonies, day: bees.Day, numbers: Numbers, rng: np.random.Generator) -> None:
    wanted, eggs = bees.laid_today(colonies, day, numbers)
    workers = bees.raise_drones(colonies, eggs, day, numbers)
    emerged, _ = bees.age_brood(colonies, workers, numbers)
    bees.age_adults(colonies, emerged, day, numbers)
    bees.feed(colonies, wanted, day, numbers)
    bees.build(colonies, day, numbers)
    bees.crowd(colonies, wanted, eggs, numbers)
    bees.die(colonies, day, numbers)
    preparing.wander(colonies, numbers, rng)
    preparing.grow_cups(colonies, day, numbers, rng)


def _swarm(colonies: Colonies, day: bees.Day, numbers: Numbers, rng: np.random.Generator) -> Flags:
    """Run the queens' and cells' day; return who sent an afterswarm."""
    cells.age_cells(colonies, numbers, rng)
    preparing.begin(colonies, day, numbers, rng)
    cells.supersede(colonies, day, numbers, rng)
    cells.give_up(colonies, day, numbers, rng)
    afterswarmed = queens.after(colonies, day, numbers, rng)
    leaving.leave(colonies, day, numbers, rng)
    leaving.call_off(colonies, day, numbers)
    queens.mate(colonies, day, numbers, rng)
    return afterswarmed


def _write(
    diary: Diary, colonies: Colonies, course: Course, day: bees.Day, numbers: Numbers
) -> None:
    at = cells.oldest_stage(colonies, numbers)
    swarming = (colonies.phase == PREPARING) | (colonies.prime_day == day.index)
    diary.larvae |= swarming & (at >= 1)
    diary.sealed |= swarming & (at >= cells.SEALED)
    # the weeks in which most cells are begun, after the spring day
    since = course.day_of_year[:, day.index] - course.spring_day
    height = ((since >= _HEIGHT[0]) & (since < _HEIGHT[1]))[colonies.season]
    height &= (colonies.prime_day == NEVER) & colonies.alive
    diary.crowding += np.where(height, colonies.crowding, 0)
    diary.crowding_days += height


_HEIGHT = (15, 55)  # definition: days after the spring day, from fruit bloom to the main flow


def span(diary: Diary) -> pd.Series:
    """Return each colony's mean crowding round the season's height, blank where it had none."""
    days = np.where(diary.crowding_days > 0, diary.crowding_days, 1)
    return pd.Series(diary.crowding / days).where(diary.crowding_days > 0)
