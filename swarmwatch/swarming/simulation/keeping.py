"""What does a keeper do after a look: give room, feed, split, remove cells, requeen?"""

import numpy as np

from swarmwatch.swarming.simulation.bees import Day
from swarmwatch.swarming.simulation.cells import raise_emergency_queens, tear_down
from swarmwatch.swarming.simulation.colonies import (
    GONE,
    HOPELESS,
    IDLE,
    LAYING,
    NEVER,
    PARTED,
    PREPARING,
    Colonies,
)
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Integers, Numbers
from swarmwatch.swarming.simulation.keepers import Keepers
from swarmwatch.swarming.simulation.preparing import prepare
from swarmwatch.swarming.simulation.queens import crown

_LAST_ROOM_D = 140  # evidence simulation.keeper_room_at: no room is given from late July on
_COMBS_GIVEN = 2  # evidence simulation.keeper_room_at: combs or bars given at a time
_CELLS_LEFT = 2  # evidence simulation.split_share: cells that a queenless half keeps


def give_room(
    keepers: Keepers,
    colonies: Colonies,
    opened: Flags,
    combs_bees: Floats,
    *,
    day: Day,
    numbers: Numbers,
) -> None:
    """Give combs and supers where the keeper counted the hive too full; feed where food is short.

    Parameters
    ----------
    combs_bees
        Combs covered with bees as counted in the hives opened, in the order of the rows.
    """
    covered = np.zeros(colonies.count)
    covered[opened] = combs_bees
    in_supers = colonies.supers * colonies.combs_a_super
    room = np.maximum(colonies.combs + colonies.foundation + in_supers, 1)
    full = opened & colonies.alive & (covered / room >= keepers.of("room_at", colonies))
    full &= day.index <= _LAST_ROOM_D
    below = full & (colonies.combs + colonies.foundation + 1 <= colonies.combs_max)
    more = np.minimum(
        _COMBS_GIVEN, np.floor(colonies.combs_max - colonies.combs - colonies.foundation)
    )
    colonies.foundation = colonies.foundation + np.where(below, more, 0)
    keepers.note(below, day.index, "combs-added", amount=more, where="nest-edge")
    most = np.round(keepers.of("supers_most", colonies))
    above = full & ~below & ~colonies.long & (colonies.supers < most)
    drawn = keepers.of("super_drawn", colonies)
    mixed = (colonies.super_drawn * colonies.supers + drawn) / (colonies.supers + 1)
    colonies.super_drawn = np.where(above, mixed, colonies.super_drawn)
    colonies.supers = colonies.supers + above
    keepers.note(above, day.index, "room-added", amount=1.0, where="above")
    hungry = opened & colonies.alive & (colonies.honey_g < numbers["feed_below"])
    colonies.honey_g = colonies.honey_g + numbers["feed"] * hungry
    keepers.note(hungry, day.index, "fed")


def act(
    keepers: Keepers,
    colonies: Colonies,
    opened: Flags,
    seen: dict[str, object],
    *,
    day: Day,
    numbers: Numbers,
    rng: np.random.Generator,
) -> None:
    """Split, remove cells or requeen in some of the hives where the look gave reason to.

    Parameters
    ----------
    seen
        Columns of `look`, one value an opened hive.
    """
    n = colonies.count
    larvae = np.zeros(n, dtype=bool)
    larvae[opened] = np.asarray(seen["queen_cells_larva"]) > 0
    larvae[opened] |= np.asarray(seen["queen_cells_capped"]) > 0
    queen_seen = np.zeros(n, dtype=bool)
    queen_seen[opened] = np.asarray(seen["queen_seen"]) == "yes"
    acts = larvae & colonies.alive & (rng.random(n) < keepers.of("acts", colonies))
    # who knows that the swarm has gone leaves the hive to its virgins
    acts &= ~keepers.knows
    splits = acts & (rng.random(n) < keepers.of("splits", colonies))
    _split(keepers, colonies, splits, queen_seen, day=day, numbers=numbers, rng=rng)
    _remove_cells(keepers, colonies, acts & ~splits, day=day, numbers=numbers, rng=rng)
    no_eggs = np.zeros(n, dtype=bool)
    no_eggs[opened] = np.asarray(seen["eggs_seen"]) == "no"
    lost = opened & colonies.alive & no_eggs & (colonies.phase == HOPELESS)
    lost &= rng.random(n) < keepers.of("acts", colonies)
    _treated(colonies, lost, day)
    crown(colonies, lost, numbers, rng)
    keepers.note(lost, day.index, "requeened", queen_kind="mated")


def _treated(colonies: Colonies, which: Flags, day: Day) -> None:
    colonies.treated_day[which & (colonies.treated_day == NEVER)] = day.index


def _split(
    keepers: Keepers,
    colonies: Colonies,
    which: Flags,
    queen_seen: Flags,
    *,
    day: Day,
    numbers: Numbers,
    rng: np.random.Generator,
) -> None:
    """Take bees and brood away, the queen with them if she was found, or by chance."""
    share = numbers["split_share"]
    has = colonies.queen == LAYING
    goes = which & has & (queen_seen | (rng.random(colonies.count) < share))
    stay = np.where(which, 1 - share, 1)
    for bees in (colonies.adults, colonies.brood, colonies.drone_brood):
        bees *= stay[:, None]
    colonies.winter = colonies.winter * stay
    colonies.honey_g = colonies.honey_g * stay
    keeps = which & has & ~goes
    tear_down(colonies, keeps)
    colonies.phase[keeps] = IDLE
    colonies.rest_until[keeps] = day.index + round(numbers["rest_after"])
    colonies.queen[goes] = GONE
    colonies.clipped[goes] = False
    _leave_good_cells(colonies, goes)
    raise_emergency_queens(colonies, goes, numbers, rng)
    went = np.where(queen_seen & goes, "moved", np.where(keeps & queen_seen, "stayed", "unknown"))
    left = np.minimum(colonies.cells.sum(axis=1), _CELLS_LEFT)
    keepers.note(which, day.index, "split", amount=share, queen_went=went, cells_left=left)
    _treated(colonies, which, day)


def _leave_good_cells(colonies: Colonies, which: Flags) -> None:
    """Leave the oldest few cells of a half without a queen."""
    cells = colonies.cells[which]
    from_oldest = np.cumsum(cells[:, ::-1], axis=1)[:, ::-1]
    older = from_oldest - cells
    colonies.cells[which] = np.clip(_CELLS_LEFT - older, 0, cells)
    colonies.cells_due[which] = 0
    colonies.cells_days[which] = 0


def _remove_cells(
    keepers: Keepers,
    colonies: Colonies,
    which: Flags,
    *,
    day: Day,
    numbers: Numbers,
    rng: np.random.Generator,
) -> None:
    """Cut out every cell that is found; the bees may raise others at once."""
    misses = 1 - keepers.of("thorough", colonies)
    left = rng.binomial(colonies.cells, np.broadcast_to(misses[:, None], colonies.cells.shape))
    colonies.cells[which] = left[which]
    colonies.cells_due[which] = 0
    colonies.cells_days[which] = 0
    none = which & (left.sum(axis=1) == 0)
    quiet = none & (colonies.queen == LAYING)
    again = (
        quiet & (colonies.phase == PREPARING) & (rng.random(colonies.count) < numbers["rebuild"])
    )
    prepare(colonies, again, numbers, rng)
    few = _some_cells(colonies, numbers, rng)
    colonies.cells[again, round(numbers["rebuild_age"])] = few[again]
    colonies.hurry[again] = True
    rests = quiet & ~again
    colonies.phase[rests] = IDLE
    colonies.rest_until[rests] = day.index + round(numbers["rest_after"])
    orphan = none & (colonies.queen != LAYING) & (colonies.phase != PARTED)
    raise_emergency_queens(colonies, orphan, numbers, rng)
    keepers.note(which, day.index, "queen-cells-removed", cells_left=0)
    _treated(colonies, which, day)


def _some_cells(colonies: Colonies, numbers: Numbers, rng: np.random.Generator) -> Integers:
    return np.asarray(1 + rng.poisson(numbers["emergency_cells"] / 2, colonies.count))
