"""What should the keeper do, by when, and when is the next look due?

The rules take the first situation that fits, the gravest first. Nothing here tells anyone to
remove all queen cells unless the queen was seen at that look, and where the brood looks sick
nothing is moved.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from swarmwatch.swarming.situation import (
    ACT,
    LOOK_SOON,
    QUIET,
    TODAY,
    FollowUp,
    Situation,
    later,
    level_of,
    look_by,
)
from swarmwatch.wording import per_cent

CARE = "veil on, a second person and a phone within reach"
LIFT = "two people for a heavy box"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The level, what to do, by when, and the last day for the next look."""

    level: str
    text: str
    do_by: dt.date | None
    look_by: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """What a rule reads: `s` the situation, its level, and the numbers."""

    s: Situation
    level: str
    lines: Mapping[str, float]
    after: Mapping[str, float]
    actions: Mapping[str, float]


def advice_of(
    situation: Situation,
    *,
    lines: Mapping[str, float],
    after: Mapping[str, float],
    actions: Mapping[str, float],
) -> Advice:
    """Return what to do for one colony.

    Parameters
    ----------
    situation
        What is known.
    lines, after, actions
        Evidence groups ``advice``, ``afterswarm`` and ``actions``.
    """
    level = level_of(situation, lines, after)
    next_look = look_by(situation, lines, after, actions)
    case = _Case(s=situation, level=level, lines=lines, after=after, actions=actions)
    text, own_date = next((found for rule in _RULES if (found := rule(case))), (None, None))
    if text is None:
        text = "nothing now"
        if next_look is not None:
            text += f"; open it next by {next_look}"
    return Advice(level=level, text=text, do_by=own_date or _within(case), look_by=next_look)


def _within(case: _Case) -> dt.date | None:
    keys = {TODAY: "do_within_today", ACT: "do_within_act", LOOK_SOON: "do_within_look_soon"}
    key = keys.get(case.level)
    return None if key is None else later(case.s.on, case.lines[key])


Found = tuple[str, dt.date | None] | None


def _sick(case: _Case) -> Found:
    if not case.s.sick:
        return None
    text = (
        "the brood did not look right: move no bees, comb, boxes or tools; close up, clean your "
        "tools and call the bee inspector or local authority"
    )
    return text, later(case.s.on, case.lines["do_within_today"])


def _after_known_swarm(case: _Case) -> Found:
    s = case.s
    if s.swarmed_on is None:
        return None
    due = FollowUp.after(s.swarmed_on, case.after)
    if due.thinning_due(s):
        text = (
            f"open it once between {due.thin_from} and {due.thin_until} and leave one good queen "
            "cell, or two; don't shake or invert that comb; then keep it closed until "
            f"{due.eggs_from}; {CARE}"
        )
        return text, due.thin_until
    if s.on <= due.eggs_until:
        text = (
            f"keep it closed, then look for eggs between {due.eggs_from} and {due.eggs_until}; "
            f"none by then: ask a mentor; {CARE}"
        )
        if s.p_after_7d < case.lines["line_look_soon"]:
            return text, due.eggs_until
        return f"an afterswarm may come: have an empty hive ready now; {text}", _within(case)
    return f"look for eggs of the new queen; none: ask a mentor; {CARE}", None


def _probably_gone(case: _Case) -> Found:
    if case.s.p_gone < case.lines["probably_gone"]:
        return None
    text = (
        "probably swarmed: check for eggs, the queen and open queen cells; look round for a "
        f"cluster, never alone on a ladder; leave one or two good cells; {CARE}"
    )
    return text, later(case.s.on, case.lines["do_within_today"])


def _cells(case: _Case) -> Found:
    s = case.s
    if case.level not in {ACT, TODAY} or not s.cells_seen:
        return None
    if s.queen_seen:
        days = case.actions["look_again_after_removal"]
        choice = (
            "take the queen with some combs into another hive, or remove cells and look again "
            f"within {days:.0f} days"
        )
    else:
        choice = (
            "find the queen and take her with some combs into another hive; if you can't find "
            "her leave one or two good cells, don't shake or invert that comb, ask a mentor"
        )
    change = _change("a split now", s, s.p_7d_split, case.lines)
    return f"{choice}{change}; {CARE}; {LIFT}", None


def _unclear(case: _Case) -> Found:
    if not (case.s.unclear_cells and case.s.in_season):
        return None
    text = (
        "a few cells of one age: it may be replacing its queen; unclear, so treat them as swarm "
        f"cells: leave them, look again for number and age; ask a mentor; {CARE}"
    )
    return text, None


def _cells_watched(case: _Case) -> Found:
    if not (case.s.cells_seen and case.s.in_season):
        return None
    text = (
        "queen cells were there at the last look: take them for swarm cells; go through every "
        f"brood comb again for number, age, eggs and the queen, and have a hive ready; {CARE}"
    )
    return text, None


def _crowded(case: _Case) -> Found:
    s = case.s
    if not (s.in_season and s.crowding >= case.lines["crowded"]):
        return None
    what = "an empty bar or a drawn comb beside the brood" if s.long_hive else "a box or drawn comb"
    change = _change("that", s, s.p_7d_room, case.lines)
    look = "go through every brood comb for queen cells"
    return f"give room: {what}{change}; {look}; {CARE}; {LIFT}", _within(case) or later(
        s.on, case.lines["do_within_look_soon"]
    )


def _change(what: str, s: Situation, after: float, lines: Mapping[str, float]) -> str:
    """Say what an action does to the chance, where there is a chance worth speaking of."""
    if s.p_7d_as_is < lines["line_look_soon"] or after >= s.p_7d_as_is:
        return ""
    return f" ({what} cuts the chance for 7 days by about {per_cent(1 - after / s.p_7d_as_is)})"


def _look(case: _Case) -> Found:
    if case.level == QUIET:
        return None
    how = "open it and go through every brood comb for queen cells"
    if not case.s.warm_enough:
        how = f"too cold to open (below {case.lines['open_above']:.0f} C): look from outside"
    return f"{how}; {CARE}", None


_RULES: tuple[Callable[[_Case], Found], ...] = (
    _sick,
    _after_known_swarm,
    _probably_gone,
    _cells,
    _unclear,
    _cells_watched,
    _crowded,
    _look,
)
