"""When does each keeper open which hive, and what does he know?"""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from swarmwatch.swarming.simulation.bees import Day
from swarmwatch.swarming.simulation.colonies import NEVER, Colonies
from swarmwatch.swarming.simulation.course import Course
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Integers, Numbers

HOW = ("packed", "seams", "loose")
_COLONIES_A_KEEPER = 8  # definition: a hobby keeper's yard
_SPARED_AFTER_SWARM_D = 12  # definition: a parent colony is left in peace while queens mate
_ROUND_LATE_D = 135  # evidence simulation.keeper_interval: from mid July on looks are rarer
_LATE_SLOWER = 2


@dataclass(slots=True, kw_only=True)
class Keepers:
    """The keepers of a world and what they know; n colonies over all seasons.

    `habits` holds (n_keepers,) values a habit; `due` (n_seasons, n_keepers) the day of the next
    round. `blank` names the columns that each never fills.
    """

    habits: dict[str, Floats]
    hives: pd.DataFrame
    how: Integers
    blank: list[frozenset[str]]
    due: Floats
    last_look: Integers
    look_before_swarm: Integers
    knows: Flags
    told_dead: Flags
    looks: list[dict[str, object]] = field(default_factory=list)
    events: list[dict[str, object]] = field(default_factory=list)

    def of(self, habit: str, colonies: Colonies) -> Floats:
        """Return a habit of each colony's keeper, (n,)."""
        return np.asarray(self.habits[habit][colonies.keeper])

    def note(self, rows: Flags, day: int, event: str, **more: object) -> None:
        """Write an event down for some colonies; a value of `more` may be an array (n,)."""
        for row in np.flatnonzero(rows):
            cells = {k: v[row] if isinstance(v, np.ndarray) else v for k, v in more.items()}
            self.events.append({"row": int(row), "day": day, "event": event, **cells})


def keepers_of(
    habits: dict[str, Floats],
    hives: pd.DataFrame,
    blank: list[frozenset[str]],
    *,
    seasons: int,
    colonies: int,
    rng: np.random.Generator,
) -> Keepers:
    """Set the keepers up before their first round."""
    keepers, n = len(hives), seasons * colonies
    return Keepers(
        habits=habits,
        hives=hives,
        how=rng.integers(0, len(HOW) + 1, keepers),
        blank=blank,
        due=np.round(habits["first_look"] + rng.uniform(-1, 1, (seasons, keepers)) * _DAYS_OFF),
        last_look=np.full(n, NEVER, dtype=np.int64),
        look_before_swarm=np.full(n, NEVER, dtype=np.int64),
        knows=np.zeros(n, dtype=bool),
        told_dead=np.zeros(n, dtype=bool),
    )


_DAYS_OFF = 7  # definition: a round may fall any day of the week


def keepers_for(colonies: int) -> int:
    """Return how many keepers share so many colonies."""
    return max(1, round(colonies / _COLONIES_A_KEEPER))


def opened_today(
    keepers: Keepers,
    colonies: Colonies,
    course: Course,
    *,
    day: Day,
    numbers: Numbers,
    rng: np.random.Generator,
) -> Flags:
    """Return which colonies are opened today, (n,), and set each keeper's next round."""
    habits, at = keepers.habits, day.index
    fit = course.dry[:, at, None] & (course.temp_max_c[:, at, None] >= habits["warm"])
    waited = at - keepers.due
    # after a long wait any day will do that is not icy
    anyway = (waited >= habits["late"]) & (course.temp_max_c[:, at, None] >= numbers["flight_cold"])
    goes = (waited >= 0) & (fit | anyway)
    slower = np.where(at >= _ROUND_LATE_D, _LATE_SLOWER, 1)
    gap = habits["interval"] * slower + rng.normal(0, 1, goes.shape)
    keepers.due = np.where(goes, at + np.maximum(np.round(gap), 2), keepers.due)
    n = colonies.count
    opened = goes[colonies.season, colonies.keeper] & ~keepers.told_dead
    spared = keepers.knows & (at - colonies.prime_day < _SPARED_AFTER_SWARM_D)
    spared &= colonies.prime_day != NEVER
    passed = rng.random(n) < keepers.of("skip", colonies)
    return np.asarray(opened & ~passed & ~(spared & (rng.random(n) < 0.5)))


def notice_swarms(
    keepers: Keepers,
    colonies: Colonies,
    afterswarmed: Flags,
    day: Day,
    rng: np.random.Generator,
) -> None:
    """Let keepers see, or not see, the swarms of today."""
    n = colonies.count
    sees = rng.random(n) < keepers.of("sees_swarm", colonies)
    left = colonies.prime_day == day.index
    keepers.look_before_swarm[left] = keepers.last_look[left]
    keepers.knows[left] = sees[left]
    keepers.note(left & sees, day.index, "swarmed", how_known="seen")
    keepers.note(afterswarmed & sees, day.index, "afterswarmed", how_known="seen")
    back = (colonies.returned_day == day.index) & sees
    keepers.note(back, day.index, "swarm-returned", how_known="seen")


def find_out(
    keepers: Keepers, colonies: Colonies, opened: Flags, day: Day, rng: np.random.Generator
) -> None:
    """Let keepers find at a look that a swarm has left, or that the colony is dead."""
    dead = opened & ~colonies.alive
    keepers.note(dead, day.index, "died", how_known="seen")
    keepers.told_dead |= dead
    left = opened & colonies.alive & (colonies.prime_day != NEVER) & ~keepers.knows
    # once a new queen lays, the hive looks as any other
    left &= colonies.parted_day != NEVER
    found = left & (rng.random(colonies.count) < keepers.of("infers_swarm", colonies))
    keepers.knows |= found
    keepers.note(
        found,
        day.index,
        "swarmed",
        how_known="inferred",
        from_day=keepers.look_before_swarm,
    )
