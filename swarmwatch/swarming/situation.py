"""What is known of one colony on the evening of its score, as far as advice depends on it?"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from swarmwatch.tables.outputs import LEVELS

QUIET, LOOK_SOON, ACT, TODAY = LEVELS


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """What is known of one colony; chances in 0..1.

    `unseen_by_day` is the chance of a prime swarm by each day ahead. `p_7d_as_is`, `p_7d_split`
    and `p_7d_room` compare one central run as things are, after a split and after room was
    given. `looked_on` is the last look; `removed_on` the day on which cells were last removed.
    """

    on: dt.date
    p_7d: float
    p_gone: float
    p_after_7d: float
    unseen_by_day: tuple[float, ...]
    in_season: bool
    swarmed_on: dt.date | None
    sick: bool
    cells_seen: bool
    queen_seen: bool
    unclear_cells: bool
    crowding: float
    clipped_or_young: bool
    long_hive: bool
    looked_on: dt.date | None
    removed_on: dt.date | None
    warm_enough: bool
    p_7d_as_is: float
    p_7d_split: float
    p_7d_room: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUp:
    """The dates that a known swarm brings: leave one cell, then look for eggs."""

    thin_from: dt.date
    thin_until: dt.date
    eggs_from: dt.date
    eggs_until: dt.date

    @classmethod
    def after(cls, swarmed_on: dt.date, rules: Mapping[str, float]) -> "FollowUp":
        """Count the dates from the swarm; `rules` is the evidence group ``afterswarm``."""
        return cls(
            thin_from=later(swarmed_on, rules["thin_from_day"]),
            thin_until=later(swarmed_on, rules["thin_until_day"]),
            eggs_from=later(swarmed_on, rules["eggs_from_day"]),
            eggs_until=later(swarmed_on, rules["eggs_until_day"]),
        )

    def thinning_due(self, situation: Situation) -> bool:
        """Tell whether the look at which one cell is left is still to come."""
        return situation.on <= self.thin_until and not _looked_since(situation, self.thin_from)

    def eggs_due(self, situation: Situation) -> bool:
        """Tell whether it is time to look for eggs and nobody has."""
        return situation.on >= self.eggs_from and not _looked_since(situation, self.eggs_from)


def _looked_since(situation: Situation, day: dt.date) -> bool:
    return situation.looked_on is not None and situation.looked_on >= day


def later(day: dt.date, days: float) -> dt.date:
    """Return the date so many days later."""
    return day + dt.timedelta(days=round(days))


def level_of(situation: Situation, lines: Mapping[str, float], after: Mapping[str, float]) -> str:
    """Return the level: the worst of a coming prime swarm, an afterswarm and an open follow-up.

    `lines` and `after` are the evidence groups ``advice`` and ``afterswarm``.
    """
    worst = max((1 - situation.p_gone) * situation.p_7d, situation.p_after_7d)
    level = QUIET
    for name, key in ((LOOK_SOON, "line_look_soon"), (ACT, "line_act"), (TODAY, "line_today")):
        if worst >= lines[key]:
            level = name
    if level == QUIET and _needs_a_look(situation, lines, after):
        return LOOK_SOON
    return level


def _needs_a_look(
    situation: Situation, lines: Mapping[str, float], after: Mapping[str, float]
) -> bool:
    if situation.swarmed_on is not None:
        due = FollowUp.after(situation.swarmed_on, after)
        return due.thinning_due(situation) or due.eggs_due(situation)
    if situation.sick:
        return True
    cells = situation.unclear_cells or situation.cells_seen
    gone = situation.p_gone >= lines["probably_gone"]
    return gone or (cells and situation.in_season)


def look_by(
    situation: Situation,
    lines: Mapping[str, float],
    after: Mapping[str, float],
    actions: Mapping[str, float],
) -> dt.date | None:
    """Return the last day to open the hive next; None out of season.

    In season it is the last day by which a swarm that nobody saw coming stays unlikely enough,
    within what the evidence group ``advice`` allows; after a known swarm it is the look at which
    one cell is left, then the look for eggs.
    """
    on = situation.on
    if situation.swarmed_on is not None:
        due = FollowUp.after(situation.swarmed_on, after)
        if due.thinning_due(situation):
            return due.thin_until
        return due.eggs_until if on < due.eggs_until else later(on, lines["look_least"])
    if not situation.in_season:
        return None
    most = lines["look_most"] if situation.clipped_or_young else lines["look_most_in_season"]
    safe = sum(1 for p in situation.unseen_by_day if p <= lines["tolerance"])
    last = later(on, min(max(safe, lines["look_least"]), most))
    if situation.removed_on is not None:
        again = later(situation.removed_on, actions["look_again_after_removal"])
        if again > on:
            last = min(last, again)
    return last
