"""Where does each colony and bait box stand, in words that fit on a lock screen?

Pure: frames and a date in, standings out.
"""

import re
from datetime import date, timedelta

import numpy as np
import pandas as pd

from swarmwatch.alerts.thresholds import QUIET, Standing
from swarmwatch.evidence import Evidence
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

    An occupied box stands at today until it was taken down or its swarm moved; scouts at the
    quorum stand at act while the count is fresh.

    Parameters
    ----------
    checks, hangings, catches
        The tables of these names; rows after `on` are not read.
    on
        The evening.
    evidence
        Gives ``levels.scouts_...`` and ``levels.move_within``.

    Returns
    -------
    One standing for each box that was ever checked, by name.
    """
    table = conform(checks, TABLES["checks"]).sort_values("date", kind="stable")
    table = table[table["date"] <= pd.Timestamp(on)]
    emptied = _emptied_on(hangings, catches, on)
    return [
        _box(str(name), seen, on=on, emptied_on=emptied.get(str(name)), evidence=evidence)
        for name, seen in table.groupby("box", sort=True)
    ]


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


def _box(
    name: str, seen: pd.DataFrame, *, on: date, emptied_on: date | None, evidence: Evidence
) -> Standing:
    level, said, advice, do_by = QUIET, f"Bait box {_name(name)}: nothing to report.", "", None
    lived_in = _last_known(seen, "occupied")
    scouts = _last_known(seen, "scouts")
    if lived_in is not None and lived_in[1] == "yes" and not _since(emptied_on, lived_in[0]):
        level = "today"
        do_by = lived_in[0] + timedelta(days=int(evidence.value("levels.move_within")))
        said = f"Bait box {_name(name)}: a swarm lives in it."
        advice = (
            "Move it at dusk, shut, veil on, with a second person (heavy), as local rules allow, "
            f"by {do_by.isoformat()}."
        )
    elif (
        scouts is not None
        and int(str(scouts[1])) >= evidence.value("levels.scouts_quorum")
        and (on - scouts[0]).days <= evidence.value("levels.scouts_fresh")
        and not _since(emptied_on, scouts[0])
    ):
        level = "act"
        do_by = scouts[0] + timedelta(days=int(evidence.value("levels.scouts_look_within")))
        said = f"Bait box {_name(name)}: {scouts[1]} scouts at once on {scouts[0].isoformat()}."
        advice = "A swarm may move in within a day: look from outside, don't open or move it."
    text = f"{said} {advice}".strip()
    return Standing(
        kind="box",
        name=name,
        on=on,
        level=level,
        score=None,
        text=text,
        advice=advice,
        do_by=do_by,
    )


def _last_known(seen: pd.DataFrame, column: str) -> tuple[date, object] | None:
    known = seen[seen[column].notna()]
    return None if known.empty else (known["date"].iloc[-1].date(), known[column].iloc[-1])


def _since(emptied_on: date | None, seen_on: date) -> bool:
    return emptied_on is not None and emptied_on >= seen_on


def _emptied_on(
    hangings: pd.DataFrame | None, catches: pd.DataFrame | None, on: date
) -> dict[str, date]:
    days = []
    if hangings is not None:
        days.append(conform(hangings, TABLES["hangings"])[["box", "taken_on"]])
    if catches is not None:
        days.append(conform(catches, TABLES["catches"])[["box", "moved_on"]])
    if not days:
        return {}
    named = pd.concat([d.set_axis(["box", "emptied_on"], axis=1) for d in days])
    named = named[named["emptied_on"] <= pd.Timestamp(on)]
    return {str(b): d.date() for b, d in named.groupby("box")["emptied_on"].max().items()}


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
