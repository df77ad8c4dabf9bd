"""How does a score read on the page, how sure is it, and where do its numbers come from?"""

import datetime as dt
from collections.abc import Hashable, Mapping
from dataclasses import dataclass

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.evidence.model import Entry
from swarmwatch.swarming.score import DRAWS
from swarmwatch.wording import per_cent

Row = Mapping[Hashable, object]
# below this a chance that stands beside the main one is left out
_WORTH_A_WORD = 0.05
_HALF = 0.5
# the numbers that a score rests on first, with what each is in words
LEADING = {
    "season.yearly_chance_inspected": "Usual share of inspected colonies that swarm in a year",
    "preparation.crowding_effect": "What crowding does to the start of swarm cells",
    "preparation.odds_queen_second_year": "Odds with a queen in her second year",
    "cells.abandon_larva": "Swarm cells with larvae that are given up, a day",
    "departure.hazard_sealed": "Chance a day to leave once cells are sealed, in good weather",
    "seeing.find_larva_cells": "Chance that a look finds cells with larvae",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A chance with its range, in words and as numbers in 0..1 [-]."""

    label: str
    text: str
    span: str
    p: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """One number a score rests on: its words, value, range, grade and source."""

    key: str
    label: str
    value: str
    grade: str
    source: str


def is_blank(cell: object) -> bool:
    """Say whether a cell of a table is blank."""
    return cell is None or bool(pd.isna(cell))  # type: ignore[call-overload] # a cell is a scalar


def plain_day(day: object) -> str:
    """Return a date as ``Fri 5 June 2026``, "" for a blank."""
    if is_blank(day):
        return ""
    stamp = pd.Timestamp(str(day))
    return f"{stamp:%a} {stamp.day} {stamp:%B %Y}"


def chances_of(row: Row) -> tuple[Chance, ...]:
    """Return the chances of the next 7 and 14 days; none once the prime swarm has left."""
    if float(str(row["p_gone"])) >= 1:
        return ()
    return tuple(_chance(row, days) for days in (7, 14))


def _chance(row: Row, days: int) -> Chance:
    p, low, high = (float(str(row[f"p_{days}d{end}"])) for end in ("", "_low", "_high"))
    return Chance(
        label=f"next {days} days{', if it is still there' if probably_gone(row) else ''}",
        text=per_cent(p),
        span=f"{per_cent(low)} to {per_cent(high)}",
        p=p,
        low=low,
        high=high,
    )


def probably_gone(row: Row) -> bool:
    """Say whether the prime swarm has left, more likely than not."""
    return float(str(row["p_gone"])) >= _HALF


def besides_of(row: Row) -> tuple[str, ...]:
    """Return what stands beside the chance: gone already, an afterswarm."""
    gone, after = float(str(row["p_gone"])), float(str(row["p_after_7d"]))
    said = []
    if gone >= 1:
        said.append("The prime swarm has left.")
    elif gone >= _WORTH_A_WORD:
        said.append(
            f"{'Probably' if gone >= _HALF else 'Perhaps'} swarmed already: {per_cent(gone)}."
        )
    if after >= _WORTH_A_WORD:
        said.append(f"Afterswarm within 7 days: {per_cent(after)}.")
    return tuple(said)


def reasons_of(row: Row) -> tuple[str, ...]:
    """Return the reasons of a score, one by one."""
    text = "" if is_blank(row["because"]) else str(row["because"])
    return tuple(p.strip() for p in text.split("; ") if p.strip())


def sure_of(row: Row) -> tuple[str, ...]:
    """Return how sure a score is and what it rests on."""
    inspected = row["inspected_on"]
    if is_blank(inspected):
        looked = "No inspection noted: the chance is the usual one of the season, its range wide."
    else:
        age = int(float(str(row["inspection_age_d"])))
        ago = {0: "that same day", 1: "a day before"}.get(age, f"{age} days before")
        looked = f"Last inspection used: {plain_day(inspected)}, {ago}."
    return (
        (
            f"The range is where eight in ten of {DRAWS} tries lie; each takes other values for "
            "every uncertain number, and another course of the weather."
        ),
        looked,
        f"Weather used: {row['weather_kind']}.",
    )


def by_when(day: object, on: dt.date) -> str:
    """Return the last day for something, counted from the evening spoken of."""
    if is_blank(day):
        return ""
    date = pd.Timestamp(str(day)).date()
    left = (date - on).days
    near = {0: "this evening", 1: "tomorrow"}.get(left, f"in {left} days")
    return f"{plain_day(date)} ({f'{-left} days ago' if left < 0 else near})"


def sources_of(evidence: Evidence) -> tuple[Sourced, ...]:
    """Return the numbers that every score rests on first."""
    return tuple(_sourced(evidence[key], label) for key, label in LEADING.items())


def _sourced(entry: Entry, label: str) -> Sourced:
    span = "" if entry.low == entry.high else f" ({entry.low:g} to {entry.high:g})"
    unit = "" if entry.unit == "1" else f" {entry.unit}"
    return Sourced(
        key=entry.key,
        label=label,
        value=f"{entry.value:g}{span}{unit}",
        grade=entry.grade,
        source="" if entry.source == "none" else entry.source,
    )
