"""With time for only so many colonies this week, which ones?

A visit is worth the swarms that it can foresee: those expected to leave within 7 days, times the
chance that the look finds what announces them. The chosen ones are those worth most, so that no
other choice of as many colonies foresees more.
"""

import datetime as dt
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.swarming.notes import known_rows
from swarmwatch.swarming.situation import FollowUp
from swarmwatch.swarming.what_if import brood_in_doubt, last_visits
from swarmwatch.wording import per_cent

COLUMNS = (
    *("rank", "colony", "apiary", "on", "chosen"),
    *("swarms_7d", "foreseen_7d", "due_on", "because"),
)
_WEEK = dt.timedelta(days=7)
_CELLS = tuple(f"queen_cells_{s}" for s in ("egg", "larva", "capped", "emerged"))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What orders the visits beside the scores; each by colony, with the day it was noted."""

    sick: Mapping[str, dt.date]
    cells: Mapping[str, dt.date]
    swarmed: Mapping[str, dt.date]
    evidence: Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class _Visit:
    """What one visit is worth and why."""

    foreseen: float
    due: dt.date | None
    because: str


def order_of_visits(
    scores: pd.DataFrame,
    visits: int,
    *,
    inspections: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Order colonies by the swarms that a look now could foresee, and choose the first ones.

    Parameters
    ----------
    scores
        Table ``scores`` of one evening.
    visits
        How many colonies there is time for, at least 1.
    inspections, events
        The tables that the scores rest on; later rows are not used.
    evidence
        The numbers; the shipped ones by default.

    Returns
    -------
    One row a colony, columns `COLUMNS`, in the order of visits: `chosen` yes or no; `swarms_7d` the
    swarms expected to leave within 7 days, (1 - p_gone) p_7d + p_after_7d; `foreseen_7d` those that
    a look finds announced. A prime swarm counts whole where cells were seen lately, else times
    ``seeing.find_larva_cells``, an afterswarm times ``seeing.find_sealed_cells``. After a recorded
    swarm only the look at which one cell is left foresees any, and its days are `due_on`. Colonies
    whose brood looks sick come last: a look there foresees none, since nothing may be moved.

    Raises
    ------
    UsageError
        `visits` is no whole number above 0.
    """
    if isinstance(visits, bool) or not isinstance(visits, int) or visits < 1:
        message = f"visits = {visits!r}: write a whole number, 1 or more."
        raise UsageError(message)
    if scores.empty:
        return pd.DataFrame(columns=list(COLUMNS))
    day = pd.Timestamp(scores["on"].iloc[0]).date()
    evidence = evidence or load_evidence()
    known = _Known(
        sick=brood_in_doubt(inspections, day),
        cells=_cells_seen(inspections, day, evidence.value("advice.look_most")),
        swarmed=_swarmed(events, day),
        evidence=evidence,
    )
    worth = [_visit(row, known) for row in scores.to_dict("records")]
    out = pd.DataFrame(
        {
            "colony": scores["colony"].to_numpy(),
            "apiary": scores["apiary"].to_numpy(),
            "on": pd.Timestamp(day),
            "swarms_7d": [_leaving(row) for row in scores.to_dict("records")],
            "foreseen_7d": [v.foreseen for v in worth],
            "due_on": pd.to_datetime(pd.Series([v.due for v in worth], dtype=object)),
            "because": [v.because for v in worth],
            "last": [str(c) in known.sick for c in scores["colony"]],
        }
    )
    out["less"] = -out["foreseen_7d"]
    out = out.sort_values(["last", "less", "due_on", "colony"], kind="stable", ignore_index=True)
    out["rank"] = out.index + 1
    out["chosen"] = ["yes" if rank <= visits else "no" for rank in out["rank"]]
    return out[list(COLUMNS)]


def _leaving(row: Mapping[Hashable, object]) -> float:
    return _prime(row) + float(str(row["p_after_7d"]))


def _prime(row: Mapping[Hashable, object]) -> float:
    return (1 - float(str(row["p_gone"]))) * float(str(row["p_7d"]))


def _visit(row: Mapping[Hashable, object], known: _Known) -> _Visit:
    name = str(row["colony"])
    if name in known.sick:
        text = (
            f"last: on {known.sick[name]} the brood did not look right; move nothing and call the "
            "bee inspector or local authority first"
        )
        return _Visit(foreseen=0.0, due=None, because=text)
    if float(str(row["p_gone"])) >= 1 and name in known.swarmed:
        return _follow_up(row, known.swarmed[name], known.evidence)
    return _look(row, known)


def _look(row: Mapping[Hashable, object], known: _Known) -> _Visit:
    name, prime = str(row["colony"]), _prime(row)
    after, gone = float(str(row["p_after_7d"])), float(str(row["p_gone"]))
    find = 1.0 if name in known.cells else known.evidence.value("seeing.find_larva_cells")
    parts = [f"prime swarm within 7 days {per_cent(prime)}"]
    if name in known.cells:
        parts.insert(0, f"queen cells seen on {known.cells[name]}")
    if gone >= known.evidence.value("advice.probably_gone"):
        parts = [f"probably swarmed already ({per_cent(gone)}): a look tells"]
    if after >= known.evidence.value("advice.line_look_soon"):
        parts.append(f"afterswarm within 7 days {per_cent(after)}")
    foreseen = find * prime + known.evidence.value("seeing.find_sealed_cells") * after
    return _Visit(foreseen=foreseen, due=None, because=", ".join(parts))


def _follow_up(row: Mapping[Hashable, object], swarmed_on: dt.date, evidence: Evidence) -> _Visit:
    """Value the visit after a recorded swarm: only leaving one cell, in its days, forestalls."""
    due = FollowUp.after(swarmed_on, evidence.group("afterswarm"))
    on, look = pd.Timestamp(str(row["on"])).date(), pd.Timestamp(str(row["look_by"]))
    look_by = None if pd.isna(look) else look.date()
    after = float(str(row["p_after_7d"]))
    if look_by == due.thin_until and due.thin_from <= on + _WEEK:
        text = (
            f"swarmed on {swarmed_on}: open it once between {due.thin_from} and {due.thin_until} "
            f"to leave one good cell, or two; afterswarm within 7 days {per_cent(after)}"
        )
        find = evidence.value("seeing.find_sealed_cells")
        return _Visit(foreseen=find * after, due=due.thin_until, because=text)
    if on < due.eggs_from:
        text = (
            f"swarmed on {swarmed_on}: keep it closed, look for eggs between {due.eggs_from} and "
            f"{due.eggs_until}"
        )
    else:
        text = f"swarmed on {swarmed_on}: look for eggs of the new queen; none: ask a mentor"
    return _Visit(foreseen=0.0, due=look_by, because=text)


def _cells_seen(inspections: pd.DataFrame | None, on: dt.date, days: float) -> dict[str, dt.date]:
    """Return the colonies whose last look, not older than so many days, found queen cells."""
    last = last_visits(known_rows(inspections, "inspections", on))
    cells = (last[list(_CELLS)] > 0).fillna(value=False).any(axis=1)
    cells |= last["oldest_queen_cell"].notna()
    fresh = last["date"] >= pd.Timestamp(on) - pd.Timedelta(days=days)
    return _dated(last[cells & fresh])


def _swarmed(events: pd.DataFrame | None, on: dt.date) -> dict[str, dt.date]:
    rows = known_rows(events, "events", on)
    return _dated(rows[rows["event"] == "swarmed"].sort_values("date", kind="stable"))


def _dated(rows: pd.DataFrame) -> dict[str, dt.date]:
    pairs: Iterable[tuple[object, pd.Timestamp]] = zip(rows["colony"], rows["date"], strict=True)
    return {str(colony): date.date() for colony, date in pairs}
