"""Check what was read against itself and the store, then write all of it or nothing."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np
import pandas as pd

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.evidence import load_evidence
from swarmwatch.hives import hive_types
from swarmwatch.records.store import Records, Stored
from swarmwatch.records.storing import store_tables
from swarmwatch.records.table_read import TableRead
from swarmwatch.tables import INPUTS, TABLES, check, empty
from swarmwatch.tables.keys import fill_visits, repeated_keys
from swarmwatch.tables.references import unknown_names
from swarmwatch.tables.rules import Surroundings, doubts, faults

# a good row may name one that is refused, and another row name it in turn
_ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Tables that were read, and what is wrong or unlikely in them, in file order."""

    reads: tuple[TableRead, ...]
    frames: tuple[pd.DataFrame, ...]
    faults: tuple[Problem, ...]
    doubts: tuple[Problem, ...]


def check_reads(
    reads: Sequence[TableRead], stored: Mapping[str, pd.DataFrame], *, today: date
) -> Checked:
    """Check every cell of every table, and every row against the others and the stored ones.

    Parameters
    ----------
    reads
        What was read.
    stored
        The tables of the store, conformed; none where there is no store yet.
    today
        The keeper's local day.

    Returns
    -------
    The conformed tables and every problem, rows numbered as in the files.
    """
    typed = [check(r.frame, TABLES[r.table], name=r.source) for r in reads]
    frames = [
        fill_visits(frame, TABLES[r.table]) for r, (frame, _) in zip(reads, typed, strict=True)
    ]
    whole = {table.name: _together(table.name, reads, frames, stored) for table in INPUTS}
    hives, hive_faults = _hives(whole["hives"], reads, frames)
    around = Surroundings(
        today=today,
        colonies=whole["colonies"].drop_duplicates("colony", keep="last"),
        hives=hives,
        yards=whole["apiaries"][["latitude", "longitude"]].dropna().to_numpy(dtype=np.float64),
    )
    known = {
        name: set(whole[name][TABLES[name].key[0]].dropna())
        for name in ("apiaries", "colonies", "boxes", "sites")
    } | {"hives": set(hives.index)}
    found: list[Problem] = []
    unlikely: list[Problem] = []
    for i, (read, frame) in enumerate(zip(reads, frames, strict=True)):
        table = TABLES[read.table]
        mine = [
            *typed[i][1],
            *repeated_keys(frame, table, name=read.source, rows=read.rows),
            *unknown_names(frame, table, known, name=read.source),
            *faults(frame, table, around, name=read.source),
            *hive_faults.get(i, ()),
        ]
        found += [*read.problems, *_in_file(mine, read)]
        unlikely += _in_file(doubts(frame, table, around, name=read.source), read)
    return Checked(
        reads=tuple(reads), frames=tuple(frames), faults=tuple(found), doubts=tuple(unlikely)
    )


def remarks(checked: Checked) -> list[str]:
    """Say what was read otherwise than written: encodings, columns, words in other letters."""
    said = []
    for read, frame in zip(checked.reads, checked.frames, strict=True):
        said += list(read.remarks)
        for column in TABLES[read.table].columns:
            if not column.words or column.name not in read.frame.columns:
                continue
            written = read.frame[column.name].str.strip()
            other = written.notna() & frame[column.name].notna() & (written != frame[column.name])
            pairs = Counter(zip(written[other], frame.loc[other, column.name], strict=True))
            said += [
                f"{read.source}, {column.name}: read '{was}' as {now}"
                + (f", {cells} cells." if cells > 1 else ".")
                for (was, now), cells in sorted(pairs.items())
            ]
    return said


def without_refused(
    checked: Checked, stored: Mapping[str, pd.DataFrame], *, today: date, accept_unlikely: bool
) -> tuple[Checked, tuple[Problem, ...]]:
    """Leave out every row with a problem, and then those that name a row left out.

    Returns
    -------
    The tables that are left, without problems, and the problems of the rows that were left out.
    A table whose header is at fault is left out whole.
    """
    refused: list[Problem] = []
    for _ in range(_ROUNDS):
        bad = [*checked.faults, *(() if accept_unlikely else checked.doubts)]
        if not bad:
            break
        refused += bad
        checked = check_reads([_good(r, bad) for r in checked.reads], stored, today=today)
    order = {read.source: i for i, read in enumerate(checked.reads)}
    refused.sort(key=lambda p: (order[p.table], p.row))
    return checked, tuple(dict.fromkeys(refused))


def store_checked(
    records: Records, checked: Checked, *, at: datetime, by: str, keep: bool = True
) -> dict[str, Stored]:
    """Write every table in one transaction, parents first.

    Parameters
    ----------
    records
        The store.
    checked
        Tables without faults.
    at
        The moment, with its zone.
    by
        Who or what brings them.
    keep
        False tries it and writes nothing.

    Returns
    -------
    What was done to each table.
    """
    done: dict[str, Stored] = {}
    order = {table.name: i for i, table in enumerate(INPUTS)}
    pairs = sorted(
        zip(checked.reads, checked.frames, strict=True), key=lambda pair: order[pair[0].table]
    )
    with records.writing() as connection:
        for read, frame in pairs:
            given = [n for n in frame.columns if n in read.frame.columns or n == "visit"]
            bring = pd.concat([frame[given], read.frame[list(read.extra)]], axis="columns")
            part = store_tables(connection, {read.table: bring}, at=at, by=by)[read.table]
            done[read.table] = done.get(read.table, Stored()) + part
        if not keep:
            connection.rollback()
    return done


def refuse_faults(checked: Checked, *, accept_unlikely: bool) -> None:
    """Raise every problem at once, in file order, if there is one.

    Raises
    ------
    RecordsError
        With the faults, and the doubts unless they are accepted.
    """
    found = [*checked.faults, *(() if accept_unlikely else map(as_refusal, checked.doubts))]
    if found:
        order = {read.source: i for i, read in enumerate(checked.reads)}
        raise RecordsError(sorted(found, key=lambda p: (order[p.table], p.row)))


def as_refusal(doubt: Problem) -> Problem:
    """Return a doubt as a refusal that says how to keep the value all the same."""
    return replace(doubt, mend=f"{doubt.mend} If it is right, say --accept-unlikely.")


def _together(
    name: str,
    reads: Sequence[TableRead],
    frames: Sequence[pd.DataFrame],
    stored: Mapping[str, pd.DataFrame],
) -> pd.DataFrame:
    parts = [frame for r, frame in zip(reads, frames, strict=True) if r.table == name]
    parts = [p for p in (stored.get(name, empty(TABLES[name])), *parts) if len(p)]
    return pd.concat(parts, ignore_index=True) if parts else empty(TABLES[name])


def _hives(
    own: pd.DataFrame, reads: Sequence[TableRead], frames: Sequence[pd.DataFrame]
) -> tuple[pd.DataFrame, dict[int, list[Problem]]]:
    """Return every hive type, and the problems of own ones by the place of their table."""
    evidence = load_evidence()
    problems: dict[int, list[Problem]] = {}
    for i, (read, frame) in enumerate(zip(reads, frames, strict=True)):
        if read.table == "hives":
            try:
                hive_types(evidence, frame[frame["hive_type"].notna()])
            except RecordsError as error:
                problems[i] = [replace(p, table=read.source) for p in error.problems]
    named = own[own["hive_type"].notna()].drop_duplicates("hive_type", keep="last")
    try:
        return hive_types(evidence, named), problems
    except RecordsError:
        # the names count all the same: their own rows are refused, others may name them
        return hive_types(evidence).reindex(
            [*hive_types(evidence).index, *named["hive_type"]]
        ), problems


def _in_file(problems: Sequence[Problem], read: TableRead) -> list[Problem]:
    """Renumber rows as the file does, blank lines counted, and put them in order."""
    order = {c: i for i, c in enumerate(TABLES[read.table].names)}
    moved = [replace(p, row=read.rows[p.row - 2]) if p.row >= 2 else p for p in problems]
    return sorted(dict.fromkeys(moved), key=lambda p: (p.row, order.get(p.column, -1)))


def _good(read: TableRead, bad: Sequence[Problem]) -> TableRead:
    rows = {p.row for p in bad if p.table == read.source}
    if rows & {0, 1}:
        return replace(read, frame=empty(TABLES[read.table]).astype("str"), rows=(), problems=())
    keep = [row not in rows for row in read.rows]
    kept = tuple(row for row in read.rows if row not in rows)
    return replace(read, frame=read.frame[keep].reset_index(drop=True), rows=kept, problems=())
