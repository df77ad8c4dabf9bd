"""What is to be done on the weekly round, in which order and by when?

Pure: tables and a date in; page, paper and terminal show the same facts.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.placement.box_life import box_season, caught_colonies, hung_boxes
from swarmwatch.swarming.visits import order_of_visits
from swarmwatch.tables import TABLES, conform
from swarmwatch.wording import per_cent

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_LOUD = ("act", "today")
# a chance of having swarmed, or of an afterswarm, below this is not worth a word
_WORTH_A_WORD = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One colony on the round; chances in 0..1, days None where nothing is due."""

    rank: int
    colony: str
    apiary: str
    level: str
    p_7d: float
    p_7d_low: float
    p_7d_high: float
    gone: float
    chance: str
    later: str
    worth: str
    reasons: tuple[str, ...]
    do: str
    do_by: date | None
    look_by: date | None
    inspected_on: date | None

    @property
    def due_on(self) -> date | None:
        """The first day that something is due: to act, or to open it next."""
        days = [d for d in (self.do_by, self.look_by) if d is not None]
        return min(days, default=None)

    @property
    def waits(self) -> bool:
        """Say whether nothing asks for the keeper yet: quiet, and nothing to do by a day."""
        return self.level == "quiet" and self.do_by is None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxVisit:
    """One bait box that hangs or holds a swarm: its state in words, what to do and by when."""

    box: str
    site: str
    state: str
    occupied: bool
    level: str
    do: str
    do_by: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """A caught colony that is kept apart until its brood is known to be well."""

    colony: str
    caught_on: date
    do: str
    do_by: date | None
    stop: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """All that falls due on one day: whom to act on, whom to open next, which boxes."""

    by: date
    act: tuple[Visit, ...]
    look: tuple[Visit, ...]
    boxes: tuple[BoxVisit, ...]
    apart: tuple[Apart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """The facts of one round, seen from the evening `on`; visits by what each is worth."""

    on: date
    weather: tuple[str, ...]
    visits: tuple[Visit, ...]
    boxes: tuple[BoxVisit, ...]
    apart: tuple[Apart, ...]
    due: tuple[Due, ...]

    @property
    def needs_keeper(self) -> bool:
        """Say whether a colony or a bait box stands at act or today, or a catch looks sick."""
        levels = {*(v.level for v in self.visits), *(b.level for b in self.boxes)}
        return bool(levels & set(_LOUD)) or any(a.stop for a in self.apart)


def round_of(
    scores: pd.DataFrame,
    frames: Mapping[str, pd.DataFrame],
    *,
    on: date,
    evidence: Evidence,
) -> Round:
    """Gather what is to be done at colonies, bait boxes and caught colonies.

    Parameters
    ----------
    scores
        Table ``scores`` of that evening, with its words.
    frames
        The keeper's tables by name, as records hold them.
    on
        The evening to speak of; later rows are not read.
    evidence
        The numbers.

    Returns
    -------
    The facts; the same tables give the same facts, whatever the day and hour.
    """
    visits = _visits(scores, frames, evidence)
    boxes: tuple[BoxVisit, ...] = ()
    apart: tuple[Apart, ...] = ()
    # without a yard there is no season to count from
    if not frames["apiaries"].empty:
        if any(len(frames[name]) for name in ("hangings", "checks", "catches")):
            boxes = _boxes(frames, on, evidence)
        if len(frames["catches"]):
            apart = _apart(frames, on, evidence)
    return Round(
        on=on,
        weather=_weather(scores, frames["weather"], on),
        visits=visits,
        boxes=boxes,
        apart=apart,
        due=_due(visits, boxes, apart),
    )


def day_words(day: date) -> str:
    """Return a date with its weekday, such as ``Sat 2026-06-06``."""
    return f"{_WEEKDAYS[day.weekday()]} {day.isoformat()}"


def _visits(
    scores: pd.DataFrame, frames: Mapping[str, pd.DataFrame], evidence: Evidence
) -> tuple[Visit, ...]:
    if scores.empty:
        return ()
    order = order_of_visits(
        scores,
        len(scores),
        inspections=frames["inspections"],
        events=frames["events"],
        evidence=evidence,
    )
    rows = {str(row["colony"]): row for row in scores.to_dict("records")}
    return tuple(
        _visit(
            rows[str(o["colony"])],
            rank=int(o["rank"]),
            worth=str(o["because"]),
            probably=evidence.value("advice.probably_gone"),
        )
        for o in order.to_dict("records")
    )


def _visit(row: Mapping[Hashable, Any], *, rank: int, worth: str, probably: float) -> Visit:
    advice = "" if pd.isna(row["advice"]) else str(row["advice"])
    because = "" if pd.isna(row["because"]) else str(row["because"])
    return Visit(
        rank=rank,
        colony=str(row["colony"]),
        apiary=str(row["apiary"]),
        level=str(row["level"]),
        p_7d=float(row["p_7d"]),
        p_7d_low=float(row["p_7d_low"]),
        p_7d_high=float(row["p_7d_high"]),
        gone=float(row["p_gone"]),
        chance=_chance(row, probably),
        later=_later(row, probably),
        worth=worth,
        reasons=tuple(r for r in because.split("; ") if r),
        do=advice,
        do_by=_day(row["do_by"]),
        look_by=_day(row["look_by"]),
        inspected_on=_day(row["inspected_on"]),
    )


def _chance(row: Mapping[Hashable, Any], probably: float) -> str:
    """Say what may come in one breath: the chance with its range, or that it has left."""
    gone = float(row["p_gone"])
    if gone >= 1:
        return "has swarmed"
    if gone >= probably:
        return f"probably swarmed already ({per_cent(gone)})"
    return _within(row, 7)


def _within(row: Mapping[Hashable, Any], days: int) -> str:
    p, low, high = (per_cent(float(row[f"p_{days}d{end}"])) for end in ("", "_low", "_high"))
    span = "" if low == p == high else f" ({low} to {high})"
    return f"{p}{span} to swarm in {days} days"


def _later(row: Mapping[Hashable, Any], probably: float) -> str:
    gone, after = float(row["p_gone"]), float(row["p_after_7d"])
    parts = []
    if gone < probably:
        parts.append(_within(row, 14))
        if gone >= _WORTH_A_WORD:
            parts.append(f"{per_cent(gone)} that it has swarmed already")
    elif gone < 1:
        parts.append(f"if it has not: {_within(row, 7)}")
    if after >= _WORTH_A_WORD:
        parts.append(f"{per_cent(after)} that an afterswarm leaves in 7 days")
    return "; ".join(parts)


def _boxes(
    frames: Mapping[str, pd.DataFrame], on: date, evidence: Evidence
) -> tuple[BoxVisit, ...]:
    hung = hung_boxes(frames, on=on, evidence=evidence, rates=False)
    quorum = evidence.value("levels.scouts_quorum")
    return tuple(_box(row, quorum) for row in hung.to_dict("records"))


def _box(row: Mapping[Hashable, Any], quorum: float) -> BoxVisit:
    state = str(row["state"])
    words = state
    if state == "occupied":
        kind = {"prime": "prime swarm", "afterswarm": "afterswarm"}.get(str(row["kind"]), "swarm")
        words = f"occupied by a {kind} since {_day(row['occupied_on'])}"
    elif state == "tenant":
        words = f"tenant: {row['tenant']}"
    elif state == "scouted":
        words = f"{int(row['scouts'])} scouts at once on {_day(row['scouts_on'])}"
    elif state == "empty":
        words = f"empty on {_day(row['looked_on'])}"
    scouted = state == "scouted" and row["scouts"] >= quorum
    return BoxVisit(
        box=str(row["box"]),
        site="" if pd.isna(row["site"]) else str(row["site"]),
        state=words,
        occupied=state == "occupied",
        level="today" if state == "occupied" else "act" if scouted else "quiet",
        do=str(row["do"]),
        do_by=_day(row["do_by"]),
    )


def _apart(frames: Mapping[str, pd.DataFrame], on: date, evidence: Evidence) -> tuple[Apart, ...]:
    season = box_season(frames["apiaries"], frames["weather"], on=on, evidence=evidence)
    caught = caught_colonies(
        frames["catches"], frames["inspections"], on=on, season=season, evidence=evidence
    )
    return tuple(
        Apart(
            colony=str(row["colony"]),
            caught_on=row["caught_on"].date(),
            do=str(row["do"]),
            do_by=_day(row["do_by"]),
            stop=row["state"] == "stop",
        )
        for row in caught.to_dict("records")
    )


def _due(
    visits: Sequence[Visit], boxes: Sequence[BoxVisit], apart: Sequence[Apart]
) -> tuple[Due, ...]:
    days = {v.due_on for v in visits} | {b.do_by for b in boxes} | {a.do_by for a in apart}
    return tuple(
        Due(
            by=by,
            act=tuple(v for v in visits if v.due_on == by and not v.waits),
            look=tuple(v for v in visits if v.due_on == by and v.waits),
            boxes=tuple(b for b in boxes if b.do_by == by),
            apart=tuple(a for a in apart if a.do_by == by),
        )
        for by in sorted(d for d in days if d is not None)
    )


def _weather(scores: pd.DataFrame, weather: pd.DataFrame, on: date) -> tuple[str, ...]:
    """Say for each yard, those alike together, what its weather rests on and how old it is."""
    yards: dict[str, list[str]] = {}
    kinds = scores.drop_duplicates("apiary").sort_values("apiary")
    weather = conform(weather, TABLES["weather"])
    for yard, kind in zip(kinds["apiary"], kinds["weather_kind"], strict=True):
        yards.setdefault(f"{kind}{_fetched(weather, str(yard), on)}", []).append(str(yard))
    return tuple(f"{', '.join(names)}: {words}" for words, names in yards.items())


def _fetched(weather: pd.DataFrame, yard: str, on: date) -> str:
    rows = weather[(weather["apiary"] == yard).fillna(value=False) | weather["apiary"].isna()]
    newest = rows.loc[(rows["kind"] != "normal").fillna(value=True), "fetched_at"].max()
    if pd.isna(newest):
        return ""
    days = (on - newest.date()).days
    age = "" if days <= 0 else f", {days} {'day' if days == 1 else 'days'} before this evening"
    return f"; fetched {newest:%Y-%m-%d %H:%M} UTC{age}"


def _day(cell: object) -> date | None:
    return None if pd.isna(cell) else pd.Timestamp(str(cell)).date()  # type: ignore[call-overload]  # a scalar cell
