"""What would one change, or waiting, do to each colony's chance of swarming?

The same score is asked twice, as things are and with the change noted on the evening of the score,
with the same draws: a difference is the change's own. Nothing here says that a change is wise.
"""

import datetime as dt
import re
from collections.abc import Hashable, Mapping
from difflib import get_close_matches

import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.swarming.advice import CARE, LIFT
from swarmwatch.swarming.notes import known_rows
from swarmwatch.swarming.score import score_colonies
from swarmwatch.tables import TABLES, conform
from swarmwatch.wording import per_cent

# what each change is taken to be, where the keeper says no more
CHANGES = {
    "room-added": "one more honey box",
    "combs-added": "one more drawn comb",
    "split": "half of the bees leave, where the queen went is not said",
    "queen-cells-removed": "all queen cells that were found",
    "queen-removed": "the queen is taken away",
    "requeened": "a new queen of this year heads it",
    "brood-removed": "brood combs are taken away",
    "queen-confined": "the queen is kept away from the brood",
    "honey-removed": "honey is taken",
}
_WAIT = re.compile(r"wait-(\d+)")
WAIT_MOST = 14
# later than any other event that is noted for the same day
_LAST_VISIT = 9
_RANGES = tuple(f"p_{days}d{end}" for days in (7, 14) for end in ("", "_low", "_high"))
_COMPARED = (*_RANGES, "p_gone", "likely_date")
COLUMNS = (
    *("colony", "apiary", "on", "change", "level"),
    *_COMPARED,
    *(f"{c}_after" for c in _COMPARED),
    *("difference", "caution"),
)


def what_if(
    colonies: pd.DataFrame,
    inspections: pd.DataFrame | None,
    weather: pd.DataFrame | None,
    on: dt.date | str,
    change: str,
    *,
    events: pd.DataFrame | None = None,
    apiaries: pd.DataFrame | None = None,
    hives: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Compare every living colony's score as it is with its score after a change.

    Parameters
    ----------
    colonies, inspections, weather, events, apiaries, hives
        Tables of the data contract, as `score_colonies` takes them.
    on
        The evening on which the change is made, or from which it is waited.
    change
        A word of `CHANGES`, or ``wait-N``: N days (1 to 14) without a look, if the weather comes
        as forecast on that evening.
    evidence
        The numbers; the shipped ones by default.

    Returns
    -------
    One row a colony, columns `COLUMNS`: chances with ranges and the likely date now, the same with
    ``_after``, the difference in words and what to mind. After ``wait-N``, ``p_gone_after`` is the
    chance that it has swarmed by then, ``p_7d_after`` that of the 7 days that follow, if it has
    not. Where the brood looked sick a change is not tried: the ``_after`` columns are blank.

    Raises
    ------
    RecordsError
        Cells that can't be read.
    UsageError
        `on` is no date, or no such change is known.
    """
    word = read_change(change)
    evidence = evidence or load_evidence()
    before = score_colonies(
        colonies,
        inspections,
        weather,
        on,
        events=events,
        apiaries=apiaries,
        hives=hives,
        evidence=evidence,
    )
    day = pd.Timestamp(on).date()
    seen, done = (
        known_rows(t, n, day) for t, n in ((inspections, "inspections"), (events, "events"))
    )
    wait = _WAIT.fullmatch(word)
    if wait is not None:
        after_on = day + dt.timedelta(days=int(wait[1]))
        after_weather = _as_foreseen(weather, day, evidence)
    else:
        after_on, after_weather = day, weather
        done = _with_change(done, before["colony"], day, word)
    after = score_colonies(
        colonies,
        seen,
        after_weather,
        after_on,
        events=done,
        apiaries=apiaries,
        hives=hives,
        evidence=evidence,
    )
    doubt = brood_in_doubt(seen, day) if wait is None else {}
    return _compared(before, after, word, doubt=doubt, evidence=evidence)


def read_change(change: str) -> str:
    """Return the word of a change, whatever its case, with the hyphens it may lack.

    Raises
    ------
    UsageError
        No such change, or a wait that is not 1 to 14 days.
    """
    word = re.sub(r"[\s_-]+", "-", str(change).strip().lower())
    wait = _WAIT.fullmatch(word)
    if word in CHANGES or (wait is not None and 1 <= int(wait[1]) <= WAIT_MOST):
        return word
    if re.match(r"wait\b", word):
        message = f"{change!r}: write wait-1 to wait-{WAIT_MOST}, the days to wait without a look."
        raise UsageError(message)
    near = get_close_matches(word, CHANGES, n=3, cutoff=0.5)
    meant = f"Did you mean {' or '.join(near)}? " if near else ""
    message = (
        f"{change!r} is no change that the score can try. {meant}"
        f"It can try {', '.join(CHANGES)}, and wait-1 to wait-{WAIT_MOST}."
    )
    raise UsageError(message)


def brood_in_doubt(inspections: pd.DataFrame | None, on: dt.date) -> dict[str, dt.date]:
    """Return the colonies whose brood last looked unsure or suspect, with the day it was noted."""
    rows = known_rows(inspections, "inspections", on)
    rows = rows[rows["brood_health"].notna()]
    last = last_visits(rows)
    doubt = last[last["brood_health"].isin(["unsure", "suspect"])]
    return {str(c): d.date() for c, d in zip(doubt["colony"], doubt["date"], strict=True)}


def last_visits(inspections: pd.DataFrame) -> pd.DataFrame:
    """Return the last of some rows of inspections of each colony."""
    in_order = inspections.sort_values(["date", "visit"], kind="stable", na_position="first")
    return in_order.drop_duplicates("colony", keep="last")


def _with_change(events: pd.DataFrame, names: pd.Series, on: dt.date, event: str) -> pd.DataFrame:
    done = pd.DataFrame({"colony": names, "date": pd.Timestamp(on), "event": event})
    done = conform(done.assign(visit=_LAST_VISIT), TABLES["events"])
    return pd.concat([events, done], ignore_index=True)


def _as_foreseen(
    weather: pd.DataFrame | None, on: dt.date, evidence: Evidence
) -> pd.DataFrame | None:
    """Return the weather as if what is forecast on an evening had come true.

    The newest forecast of each yard and day counts; what was seen or forecast later does not.
    """
    if weather is None:
        return None
    rows = weather.reset_index(drop=True)
    for column in ("apiary", "kind", "fetched_at"):
        if column not in rows:
            rows[column] = None
    evening = pd.Timestamp(on)
    later = pd.to_datetime(rows["date"]) > evening
    kind = rows["kind"].astype(object).where(rows["kind"].notna(), "").astype(str)
    kind = kind.str.strip().str.lower()
    fetched = pd.to_datetime(rows["fetched_at"], utc=True, format="ISO8601").dt.tz_localize(None)
    oldest = evening - pd.Timedelta(days=evidence.value("weather.forecast_age_max_d"))
    fresh = fetched.isna() | fetched.between(oldest, evening + pd.Timedelta(days=2))
    foreseen = later & kind.isin(["", "forecast"]) & fresh
    by_fetching = fetched[foreseen].sort_values(kind="stable", na_position="first").index
    newest = rows.loc[by_fetching].drop_duplicates(["apiary", "date"], keep="last")
    kept = rows[~later | (kind == "normal")]
    return pd.concat([kept, newest.assign(kind="observed")], ignore_index=True)


def _compared(
    before: pd.DataFrame,
    after: pd.DataFrame,
    change: str,
    *,
    doubt: Mapping[str, dt.date],
    evidence: Evidence,
) -> pd.DataFrame:
    """Lay the two scores side by side."""
    then = after.set_index("colony").reindex(before["colony"]).reset_index()
    sick = before["colony"].isin(list(doubt))
    out = before.assign(change=change)
    for column in _COMPARED:
        out[f"{column}_after"] = then[column].mask(sick)
    wait = _WAIT.fullmatch(change)
    words = []
    for row in out.to_dict("records"):
        name = str(row["colony"])
        if name in doubt:
            words.append(_not_tried(doubt[name]))
        elif wait is not None:
            words.append(_waited(row, int(wait[1])))
        else:
            words.append(_changed(row, evidence.value("advice.probably_gone")))
    out["difference"] = pd.Series(words, dtype="str", index=out.index)
    out["caution"] = "" if wait is not None else _caution(change, evidence)
    out.loc[sick, "caution"] = "call the bee inspector or local authority"
    return out[list(COLUMNS)]


def _not_tried(noted_on: dt.date) -> str:
    return (
        f"not tried: on {noted_on} the brood did not look right, so no bees, comb, boxes or tools "
        "may move; close up and clean your tools"
    )


def _waited(row: Mapping[Hashable, object], days: int) -> str:
    day = pd.Timestamp(str(row["on"])).date() + dt.timedelta(days=days)
    gone, by_then = float(str(row["p_gone"])), float(str(row["p_gone_after"]))
    if gone >= 1:
        return "it has swarmed: waiting risks no prime swarm; keep its follow-up dates"
    week, low, high = (per_cent(float(str(row[f"p_7d{e}_after"]))) for e in ("", "_low", "_high"))
    return (
        f"by {day} it has swarmed with {per_cent(by_then)} (today {per_cent(gone)}); if it has "
        f"not, the 7 days after bring {week} ({low} to {high})"
    )


def _changed(row: Mapping[Hashable, object], probably_gone: float) -> str:
    gone = float(str(row["p_gone"]))
    if gone >= 1:
        return "it has swarmed: no prime swarm is left to prevent"
    parts = []
    for days in (7, 14):
        now, then = float(str(row[f"p_{days}d"])), float(str(row[f"p_{days}d_after"]))
        if per_cent(now) == per_cent(then):
            parts.append(f"hardly changes the chance for {days} days")
        elif then < now:
            parts.append(f"cuts the chance for {days} days by about {per_cent(1 - then / now)}")
        else:
            parts.append(
                f"raises the chance for {days} days from {per_cent(now)} to {per_cent(then)}"
            )
    if gone >= probably_gone:
        parts.append(f"but it has probably swarmed already ({per_cent(gone)}): check first")
    return ", ".join(parts)


def _caution(change: str, evidence: Evidence) -> str:
    care = f"{CARE}; {LIFT}"
    if change != "queen-cells-removed":
        return care
    missed = evidence["actions.cells_removed_missed"]
    anew = evidence.value("actions.cells_removed_anew")
    again = evidence["actions.look_again_after_removal"]
    return (
        f"this often fails and is no advice: a cell is missed in about {per_cent(missed.value)} "
        f"({per_cent(missed.low)} to {per_cent(missed.high)}), else new ones are raised in about "
        f"{per_cent(anew)}; look again in {again.low:.0f} to {again.high:.0f} days; unless the "
        f"queen was seen at that look leave one or two good cells and ask a mentor; {care}"
    )
