"""Which colony or bait box has crossed a line since the last look?

Pure: what stands where comes in, what changed comes out. Nothing here reads records or a clock.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence
from swarmwatch.tables.outputs import LEVELS

QUIET = LEVELS[0]
LINES = {
    "look-soon": "advice.line_look_soon",
    "act": "advice.line_act",
    "today": "advice.line_today",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where one colony or bait box stands on an evening, and the words an alert would use.

    `score` is the chance that is held against the lines; None where no chance stands behind the
    level (a bait box), which then falls back as soon as its reason is gone.
    """

    kind: str
    name: str
    on: date
    level: str
    score: float | None
    text: str
    advice: str = ""
    do_by: date | None = None

    @property
    def subject(self) -> str:
        """Name it among colonies and bait boxes, such as ``colony:Birch``."""
        return f"{self.kind}:{self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The level that a subject is held at, and the day on which it got there."""

    level: str
    on_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossings:
    """What rose far enough to alert, and the level of every subject from now on."""

    raised: tuple[Standing, ...] = ()
    held: Mapping[str, Held] = field(default_factory=dict)


def crossings(
    standings: Sequence[Standing],
    levels_before: Mapping[str, Held],
    *,
    evidence: Evidence,
    lowest: str = "act",
) -> Crossings:
    """Find what rose over a line since the levels before.

    A level rises at once. It falls only when the score is below the line of the level it is held
    at by the evidence's margin, so that a score wavering on a line alerts once. An evening
    earlier than the day of the held level changes nothing: looking back is no news. A subject
    that no longer stands anywhere (a colony that died) is let go.

    Parameters
    ----------
    standings
        Where everything stands, all of one evening.
    levels_before
        The held levels by subject; a subject not in it was quiet.
    evidence
        Gives the lines ``advice.line_...`` and ``levels.fall_margin``.
    lowest
        The lowest level that alerts.

    Returns
    -------
    The standings that alert, most urgent first, and the new held levels.

    Raises
    ------
    UsageError
        `lowest` is no level above quiet.
    """
    if lowest not in LINES:
        message = f"{lowest!r} is not a level to alert at. Choose one of {', '.join(LINES)}."
        raise UsageError(message)
    raised: list[Standing] = []
    held: dict[str, Held] = {}
    for standing in standings:
        before = levels_before.get(standing.subject)
        now = _held_now(standing, before, evidence)
        if now.level != QUIET or before is not None:
            held[standing.subject] = now
        risen = _rank(now.level) > _rank(before.level if before else QUIET)
        if risen and _rank(now.level) >= _rank(lowest):
            raised.append(standing)
    raised.sort(key=lambda s: (-_rank(s.level), s.do_by or date.max, s.subject))
    return Crossings(raised=tuple(raised), held=held)


def at_or_over(standings: Sequence[Standing], level: str) -> list[Standing]:
    """Return the standings whose own level, hysteresis aside, is `level` or more urgent."""
    return [s for s in standings if _rank(s.level) >= _rank(level)]


def _held_now(standing: Standing, before: Held | None, evidence: Evidence) -> Held:
    if before is None:
        return Held(level=standing.level, on_day=standing.on)
    if standing.on < before.on_day:
        return before
    level = max(standing.level, _still_held(standing, before, evidence), key=_rank)
    return before if level == before.level else Held(level=level, on_day=standing.on)


def _still_held(standing: Standing, before: Held, evidence: Evidence) -> str:
    """Return the highest level, up to the held one, whose line is not left by the margin."""
    if standing.score is None:
        return QUIET
    keeps = 1 - evidence.value("levels.fall_margin")
    kept = [
        level
        for level, line in LINES.items()
        if _rank(level) <= _rank(before.level) and standing.score >= keeps * evidence.value(line)
    ]
    return max(kept, key=_rank, default=QUIET)


def _rank(level: str) -> int:
    return LEVELS.index(level)
