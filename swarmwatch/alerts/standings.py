"""Where does each colony and bait box stand, in words that fit on a lock screen?

Pure: frames and a date in, standings out.
"""

import re
from datetime import date, timedelta

import numpy as np
import pandas as pd

from swarmwatch.alerts.thresholds import QUIET, Standing
from swarmwatch.evidence import Evidence
from swarmwatch.placement.box_life import BoxState, box_states, move_days
from swarmwatch.tables import TABLES, conform
from swarmwatch.wording import one_line, per_cent

# what a phone shows of a message before it cuts it off
LOCK_SCREEN_CHARACTERS = 180
_NAME_CHARACTERS = 40
_MORE = "More in score."
_IN_BRACKETS = re.compile(r" \([^()]*\)")


def colony_standings(scores: pd.DataFrame) -> list[Standing]:
    """Read where each colony stands off the scores.

    Parameters
    ----------
    scores
        The `scores` table of one evening.

    Returns
    -------
    One standing a row, in the rows' order. Its score is the worse of the chance that the prime
    swarm is still to come within 7 days and the chance of an afterswarm.
    """
    table = conform(scores, TABLES["scores"])
    rows = table.astype(object).itertuples(index=False)
    return [_colony(dict(zip(table.columns, row, strict=True))) for row in rows]


def box_standings(
    checks: pd.DataFrame,
    *,
    on: date,
    evidence: Evidence,
    hangings: pd.DataFrame | None = None,
    catches: pd.DataFrame | None = None,
) -> list[Standing]:
    """Read where each bait box stands off its checks.

    An occupied box stands at today until it was taken down or its swarm moved, its last day to
    move it counted from the day on which the swarm came; scouts at the quorum stand at act while
    the count is fresh. A tenant is left alone and raises nothing.

    Parameters
    ----------
    checks, hangings, catches
        The tables of these names; rows after `on` are not read.
    on
        The evening.
    evidence
        Gives ``levels.scouts_...``, ``levels.move_within``, ``boxes.move_from_d`` and
        ``boxes.eggs_...``.

    Returns
    -------
    One standing for each box that hangs, was ever checked or caught a swarm, by name.
    """
    states = box_states(checks, hangings=hangings, catches=catches, on=on, evidence=evidence)
    return [_box(state, on=on, evidence=evidence) for state in states]


def _colony(row: dict[str, object]) -> Standing:
    gone, prime, after = (_chance(row[c]) for c in ("p_gone", "p_7d", "p_after_7d"))
    do_by = _day(row["do_by"])
    advice = _words(row["advice"])
    still = None if prime is None else (1 - (gone or 0)) * prime
    do, more = _first_step(one_line(advice))
    head = _name(_words(row["colony"])) + ": " + _what_may_come(row, gone, prime, after)
    if gone is not None and gone >= 0.5:
        # the advice says it, too
        do = _sentence(do.removeprefix("Probably swarmed: "))
        head = head.replace(": check.", ".", 1) if do.startswith("Check") else head
    return Standing(
        kind="colony",
        name=str(row["colony"]),
        on=pd.Timestamp(str(row["on"])).date(),
        level=_words(row["level"]) or QUIET,
        score=max(still or 0.0, after or 0.0),
        text=_fit(head, why=_why(_words(row["because"])), do=do, more=more, do_by=do_by),
        advice=advice,
        do_by=do_by,
    )


def _what_may_come(
    row: dict[str, object], gone: float | None, prime: float | None, after: float | None
) -> str:
    if gone is not None and gone >= 0.5:
        # 1 is a swarm that was written down; anything less is inferred
        said = "swarmed." if gone >= 1 else f"probably swarmed ({per_cent(gone)}): check."
        return said if after is None else f"{said} Afterswarm {per_cent(after)} in 7 days."
    if prime is None:
        return "chance to swarm not known."
    low, high = _chance(row["p_7d_low"]), _chance(row["p_7d_high"])
    within = "" if low is None or high is None else f" ({per_cent(low)} to {per_cent(high)})"
    said = f"{per_cent(prime)}{within} to swarm in 7 days."
    if after is not None and after > prime:
        said += f" Afterswarm {per_cent(after)}."
    return said


def _first_step(advice: str) -> tuple[str, bool]:
    """Return the first thing to do, without what it would change, and whether more follows."""
    first, *rest = re.split(r"(?<=[.!?]) |; ", advice, maxsplit=1)
    return _sentence(_IN_BRACKETS.sub("", first)), bool(rest)


def _why(because: str) -> str:
    """Return the reason that raises the chance most, or the first; its share left out."""
    reasons = one_line(because).split("; ")
    raising = [r for r in reasons if "raises it" in r]
    return _sentence(_IN_BRACKETS.sub("", [*raising, *reasons][0]))


def _fit(head: str, *, why: str, do: str, more: bool, do_by: date | None) -> str:
    """Join what fits, what to do before why; a sentence whole or not at all.

    Half an instruction can be the opposite of the whole, so one that is too long gives way to a
    pointer, and where more follows the pointer comes along.
    """
    by = "" if do_by is None or do_by.isoformat() in do else f"By {do_by.isoformat()}."
    tail = [do, by, _MORE if more else ""]
    if len(_joined(head, *tail)) > LOCK_SCREEN_CHARACTERS:
        tail = ["", by, _MORE]
    whole = _joined(head, why, *tail)
    return whole if len(whole) <= LOCK_SCREEN_CHARACTERS else _joined(head, *tail)


def _joined(*sentences: str) -> str:
    return " ".join(s for s in sentences if s)


def _sentence(text: str) -> str:
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _box(state: BoxState, *, on: date, evidence: Evidence) -> Standing:
    level, advice, do_by = QUIET, "", None
    said = f"Bait box {_name(state.box)}: nothing to report."
    if state.occupied_on is not None:
        level = "today"
        said, advice, do_by = _occupied(state, evidence)
    elif state.quorum and state.scouts_on is not None:
        level = "act"
        do_by = state.scouts_on + timedelta(days=int(evidence.value("levels.scouts_look_within")))
        counted = f"{state.scouts} scouts at once on {state.scouts_on.isoformat()}."
        said = f"Bait box {_name(state.box)}: {counted}"
        advice = "A swarm may move in within a day: look from outside, don't open or move it."
    return Standing(
        kind="box",
        name=state.box,
        on=on,
        level=level,
        score=None,
        text=f"{said} {advice}".strip(),
        advice=advice,
        do_by=do_by,
    )


def _occupied(state: BoxState, evidence: Evidence) -> tuple[str, str, date]:
    assert state.occupied_on is not None  # noqa: S101 - the caller looked
    if state.kind == "afterswarm":
        first, last = (
            state.occupied_on + timedelta(days=int(evidence.value(f"boxes.eggs_{end}_d")))
            for end in ("from", "until")
        )
        advice = (
            f"Move it only once eggs are seen: look from {first.isoformat()}; none by "
            f"{last.isoformat()}: ask a mentor."
        )
        return f"Bait box {_name(state.box)}: an afterswarm lives in it.", advice, last
    first, last = move_days(state.occupied_on, evidence)
    lives = "likely a swarm (pollen)." if state.likely else "a swarm lives in it."
    advice = (
        f"Move it {first.isoformat()} to {last.isoformat()}: dusk, shut, veil on, second person "
        "(heavy), as local rules allow."
    )
    return f"Bait box {_name(state.box)}: {lives}", advice, last


def _name(name: str) -> str:
    return _shorten(one_line(name), _NAME_CHARACTERS)


def _shorten(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _chance(cell: object) -> float | None:
    value = np.nan if cell is None or cell is pd.NA else float(str(cell))
    return None if np.isnan(value) else value


def _words(cell: object) -> str:
    return "" if cell is None or pd.isna(cell) else str(cell)  # type: ignore[call-overload]  # a scalar cell


def _day(cell: object) -> date | None:
    moment = pd.to_datetime(cell)  # type: ignore[call-overload]  # a scalar cell
    return None if pd.isna(moment) else moment.date()
