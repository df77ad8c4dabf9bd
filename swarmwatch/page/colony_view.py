"""One colony: its score, its chance by day, what was seen and done, and what a change would do."""

import datetime as dt
from collections.abc import Hashable, Mapping
from dataclasses import dataclass

import pandas as pd

from swarmwatch.page import score_words
from swarmwatch.page.chart import Chart, chart_of
from swarmwatch.page.event_words import BY_WORD, all_fields, event_group
from swarmwatch.page.field_words import Group
from swarmwatch.page.today_view import ColonyCard, card_of
from swarmwatch.tables.keys import cell_as_text
from swarmwatch.wording import one_line, per_cent

# entries of the diary that are shown at first
_ENTRIES = 15
# the changes on buttons, in words; any other goes by the command line
CHANGES = {
    "room-added": "Give one more box",
    "split": "Split it",
    "queen-cells-removed": "Take out all queen cells",
    "wait-3": "Wait 3 days",
    "wait-7": "Wait 7 days",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the diary; its form opens at the address `form` with the colony and `key`."""

    day: str
    title: str
    told: tuple[tuple[str, str], ...]
    form: str
    key: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What a change would do, before and after in words."""

    title: str
    rows: tuple[tuple[str, str, str], ...]
    difference: str
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ColonyView:
    """The whole page of a colony; `card` is None where it gets no score any more."""

    name: str
    on: str
    facts: tuple[tuple[str, str], ...]
    card: ColonyCard | None
    chart: Chart | None
    missing: int
    entries: tuple[Entry, ...]
    more: int
    sick: str


def colony_view(
    frames: Mapping[str, pd.DataFrame],
    name: str,
    *,
    score: Mapping[Hashable, object] | None,
    points: pd.DataFrame,
    missing: int,
    groups: tuple[Group, ...],
    sick: Mapping[str, dt.date],
    on: dt.date,
    whole: bool = False,
) -> ColonyView:
    """Lay out the page of one colony.

    Parameters
    ----------
    frames
        The input tables.
    name
        The colony as it is stored.
    score
        Its row of ``scores``; None for a colony that is no more.
    points, missing
        Its chance by evening, and how many evenings are still being worked out.
    groups
        The fields of its inspections, for their words.
    sick
        The colonies whose brood last looked unsure or suspect, with the day.
    on
        The evening spoken of.
    whole
        Show the whole diary and not its last entries only.
    """
    looks = frames["inspections"][frames["inspections"]["colony"] == name]
    deeds = frames["events"][frames["events"]["colony"] == name]
    most = None if whole else _ENTRIES
    row = frames["colonies"][frames["colonies"]["colony"] == name].iloc[0]
    return ColonyView(
        name=name,
        on=score_words.plain_day(on),
        facts=_facts(row),
        card=None if score is None else card_of(score, on),
        chart=chart_of(
            points,
            looks=[d.date() for d in looks["date"]],
            deeds=[(d.date(), str(e)) for d, e in zip(deeds["date"], deeds["event"], strict=True)],
        ),
        missing=missing,
        entries=tuple(_entries(_newest(looks, most), _newest(deeds, most), groups)[:most]),
        more=0 if most is None else max(0, len(looks) + len(deeds) - most),
        sick=score_words.plain_day(sick[name]) if name in sick else "",
    )


def _facts(row: "pd.Series[str]") -> tuple[tuple[str, str], ...]:
    words = {
        "apiary": "Yard",
        "hive_type": "Hive",
        "queen_year": "Queen emerged in",
        "queen_clipped": "Queen clipped",
        "note": "Note",
    }
    text = {n: cell_as_text(row[n]) for n in words}
    return tuple((label, one_line(text[n])) for n, label in words.items() if text[n])


def _newest(rows: pd.DataFrame, most: int | None) -> pd.DataFrame:
    return rows.sort_values("date", kind="stable")[-most if most else 0 :]


def _texts(rows: pd.DataFrame) -> list[dict[str, str]]:
    return [{str(n): cell_as_text(v) for n, v in row.items()} for row in rows.to_dict("records")]


def _entries(looks: pd.DataFrame, deeds: pd.DataFrame, groups: tuple[Group, ...]) -> list[Entry]:
    found = [(d, 0, e) for d, e in zip(looks["date"], _look_entries(looks, groups), strict=True)]
    found += [(d, 1, e) for d, e in zip(deeds["date"], _deed_entries(deeds), strict=True)]
    # an event dated as an inspection happened after it
    return [e for _, _, e in sorted(found, key=lambda f: (f[0], f[1]), reverse=True)]


def _look_entries(looks: pd.DataFrame, groups: tuple[Group, ...]) -> list[Entry]:
    fields = [f for g in groups for f in g.fields]
    out = []
    for row in _texts(looks):
        told = [
            (f.label, dict(f.choices).get(row[f.name], row[f.name])) for f in fields if row[f.name]
        ]
        second = "" if row["visit"] == "1" else f", visit {row['visit']}"
        out.append(
            Entry(
                day=score_words.plain_day(row["date"]),
                title=f"Inspection{second}",
                told=tuple((label, one_line(v)) for label, v in told),
                form="/inspect",
                key={n: row[n] for n in ("date", "visit")},
            )
        )
    return out


def _deed_entries(deeds: pd.DataFrame) -> list[Entry]:
    out = []
    for row in _texts(deeds):
        asked = {f.name: f for f in event_group(row["event"]).fields}
        # what a form does not ask for of this event may stand in an imported table
        fields = {f.name: f for f in all_fields()} | asked
        told = [
            (f.label, one_line(dict(f.choices).get(row[n], row[n])))
            for n, f in fields.items()
            if row[n]
        ]
        second = "" if row["visit"] == "1" else f", number {row['visit']}"
        out.append(
            Entry(
                day=score_words.plain_day(row["date"]),
                title=f"{BY_WORD[row['event']].name}{second}",
                told=tuple(told),
                form="/event",
                key={n: row[n] for n in ("event", "date", "visit")},
            )
        )
    return out


def tried(compared: pd.DataFrame, change: str) -> Tried | None:
    """Return what a change would do to the one colony of a `what_if` table; None without a row."""
    if compared.empty:
        return None
    row = compared.to_dict("records")[0]
    rows: tuple[tuple[str, str, str], ...] = ()
    if not pd.isna(row["p_gone_after"]):
        rows = tuple(
            (f"next {d} days", _ranged(row, f"p_{d}d", ""), _ranged(row, f"p_{d}d", "_after"))
            for d in (7, 14)
        )
    title = CHANGES.get(change, f"Wait {change.removeprefix('wait-')} days")
    return Tried(
        title=title,
        rows=rows,
        difference=_sentence(row["difference"]),
        caution=_sentence(row["caution"]),
    )


def _sentence(cell: object) -> str:
    text = "" if score_words.is_blank(cell) else one_line(cell)
    return f"{text[:1].upper()}{text[1:].rstrip('.')}." if text else ""


def _ranged(row: Mapping[Hashable, object], name: str, end: str) -> str:
    parts = (f"{name}{part}{end}" for part in ("", "_low", "_high"))
    p, low, high = (per_cent(float(str(row[part]))) for part in parts)
    return f"{p} ({low} to {high})"
