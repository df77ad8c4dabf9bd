"""What was done to the records, and how is it taken back?

All rows written at one moment by one command are one action. Taking one back is an action itself:
what it removes is kept with the corrections, and it can be taken back in turn.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pandas as pd
import sqlalchemy as sa

from swarmwatch.errors import UsageError
from swarmwatch.records import schema
from swarmwatch.records.reading_back import frame_of
from swarmwatch.records.store import Records
from swarmwatch.records.storing import json_text, key_cells, key_is, store_tables
from swarmwatch.tables import TABLES
from swarmwatch.tables.keys import as_text, key_frame

_UNDO = "undo of "
Key = tuple[str, str]  # table, and the key's parts as JSON


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing that was done: its number, when, by what, and the rows of each table it touched.

    `tables` holds (table, new, corrected); `undone_at` is None while it stands. `undoable` says
    whether all that it added is known.
    """

    number: int
    at: datetime
    by: str
    tables: tuple[tuple[str, int, int], ...]
    undone_at: datetime | None
    undoable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """What taking an action back did, in rows over all tables."""

    action: Action
    removed: int
    put_back: int


def actions(records: Records) -> list[Action]:
    """Return every action, the newest first."""
    with records.reading() as connection:
        return _actions(connection)


def undo(records: Records, *, at: datetime, number: int | None = None) -> Undone:
    """Take one action back, in one transaction.

    Parameters
    ----------
    records
        The store.
    at
        The moment, with its zone.
    number
        The action's number; None takes the newest that stands, was not an undo itself and is
        no fetched weather.

    Raises
    ------
    UsageError
        There is no such action, it is undone already, a later action changed one of its rows or
        rests on it, or it is from before additions were kept. Nothing was changed.
    """
    with records.writing() as connection:
        found = _actions(connection)
        action = _chosen(found, number)
        added, earlier = _additions(connection, action), _earlier(connection, action)
        _refuse_if_changed_since(connection, action, found, {*added, *earlier})
        by = f"{_UNDO}{action.number} ({action.by})"
        put_back = _put_back(connection, earlier, added, at=at, by=by)
        try:
            removed = _remove(connection, added, at=at, by=by)
        except sa.exc.IntegrityError as error:
            message = (
                f"Action {action.number} ({action.by}) added rows that later ones rest on. "
                "Take those back first: `swarmwatch log` shows their numbers."
            )
            raise UsageError(message) from error
        _mark(connection, action, at)
    return Undone(action=action, removed=removed, put_back=put_back)


def _actions(connection: sa.Connection) -> list[Action]:
    imports, undone = schema.imports, schema.undone
    query = sa.select(imports, undone.c.at.label("undone_at")).select_from(
        imports.outerjoin(undone, undone.c["import"] == imports.c["import"])
    )
    groups: dict[tuple[datetime, str], list[Any]] = {}
    for row in connection.execute(query.order_by(imports.c["import"])).mappings():
        groups.setdefault((row["at"], row["by"]), []).append(row)
    additions = schema.additions
    kept = sa.select(additions.c.at, additions.c.by, sa.func.count()).where(
        additions.c.column.is_(None)
    )
    known = {
        (when, by): count
        for when, by, count in connection.execute(kept.group_by(additions.c.at, additions.c.by))
    }
    found = [
        Action(
            number=rows[0]["import"],
            at=at,
            by=by,
            tables=tuple((r["table"], r["new"], r["corrected"]) for r in rows),
            undone_at=rows[0]["undone_at"],
            undoable=known.get((at, by), 0) >= sum(r["new"] for r in rows),
        )
        for (at, by), rows in groups.items()
    ]
    return found[::-1]


def _chosen(found: Sequence[Action], number: int | None) -> Action:
    if number is None:
        standing = [
            a for a in found if a.undone_at is None and a.undoable and not a.by.startswith(_UNDO)
        ]
        if not standing:
            message = "There is nothing to take back. `swarmwatch log` shows what was done."
            raise UsageError(message)
        return standing[0]
    for action in found:
        if action.number == number:
            _refuse_if_gone(action)
            return action
    message = f"There is no action {number}. `swarmwatch log` shows their numbers."
    raise UsageError(message)


def _refuse_if_gone(action: Action) -> None:
    if action.undone_at is not None:
        message = f"Action {action.number} ({action.by}) was taken back already."
        raise UsageError(message)
    if not action.undoable:
        message = (
            f"Action {action.number} ({action.by}): which rows it added was not kept, so it can't "
            "be taken back. Put a copy from before it back with `swarmwatch restore`."
        )
        raise UsageError(message)


def _of(action: Action, table: sa.Table) -> sa.ColumnElement[bool]:
    return sa.and_(table.c.at == action.at, table.c.by == action.by)


def _additions(connection: sa.Connection, action: Action) -> dict[Key, list[str | None]]:
    """Return what was added: None for the row itself, and the names of its extra notes."""
    table = schema.additions
    query = sa.select(table.c.table, table.c.key, table.c.column).where(_of(action, table))
    added: dict[Key, list[str | None]] = {}
    for name, key, column in connection.execute(query):
        added.setdefault((name, key), []).append(column)
    return added


def _earlier(connection: sa.Connection, action: Action) -> dict[Key, dict[str, str]]:
    """Return the values of before: where a row was corrected twice, those before the first."""
    table = schema.corrections
    query = sa.select(table.c.table, table.c.key, table.c.earlier).where(_of(action, table))
    earlier: dict[Key, dict[str, str]] = {}
    for name, key, text in connection.execute(query.order_by(table.c.correction)):
        known = earlier.setdefault((name, key), {})
        known |= {
            column: value for column, value in json.loads(text).items() if column not in known
        }
    return earlier


def _refuse_if_changed_since(
    connection: sa.Connection, action: Action, found: Sequence[Action], touched: set[Key]
) -> None:
    later = {
        (a.at, a.by): a.number
        for a in found
        if a.at > action.at and a.undone_at is None and not a.by.startswith(_UNDO)
    }
    for table in (schema.corrections, schema.additions):
        query = sa.select(table.c.table, table.c.key, table.c.at, table.c.by)
        for name, key, at, by in connection.execute(query.where(table.c.at > action.at)):
            if (name, key) in touched and (at, by) in later:
                words = ", ".join(part for part in json.loads(key) if part)
                message = (
                    f"Action {action.number} ({action.by}) can't be taken back: {by} changed "
                    f"{words} in {name} since. Take that back first: `swarmwatch undo "
                    f"{later[at, by]}`."
                )
                raise UsageError(message)


def _put_back(
    connection: sa.Connection,
    earlier: dict[Key, dict[str, str]],
    added: dict[Key, list[str | None]],
    *,
    at: datetime,
    by: str,
) -> int:
    """Write the values of before over what stands now."""
    rows: dict[str, list[dict[str, str]]] = {}
    notes: dict[tuple[str, str, str], str] = {}
    for (name, key), values in earlier.items():
        if None in added.get((name, key), []):
            continue  # a row that was added goes whole
        whole = {c: v for c, v in values.items() if c in TABLES[name].names}
        if whole:
            rows.setdefault(name, []).append(whole)
        notes |= {(name, key, c): values[c] for c in values.keys() - whole.keys()}
    frames = {name: pd.DataFrame(cells, dtype="str") for name, cells in rows.items()}
    done = store_tables(connection, frames, at=at, by=by)
    for spot, value in notes.items():
        _put_note_back(connection, spot, value, at=at, by=by)
    return sum(d.new + d.corrected for d in done.values())


def _put_note_back(
    connection: sa.Connection, spot: tuple[str, str, str], value: str, *, at: datetime, by: str
) -> None:
    notes = schema.extra_notes
    name, key, column = spot
    here = sa.and_(notes.c.table == name, notes.c.key == key, notes.c.column == column)
    stands = connection.execute(sa.select(notes.c.value).where(here)).scalar()
    if stands is None:
        cells = {"table": name, "key": key, "column": column}
        connection.execute(notes.insert().values(**cells, value=value))
        connection.execute(schema.additions.insert().values(**cells, at=at, by=by))
    else:
        connection.execute(notes.update().where(here).values(value=value))
        _keep(connection, name, [key], [{column: stands}], at=at, by=by)


def _remove(
    connection: sa.Connection, added: dict[Key, list[str | None]], *, at: datetime, by: str
) -> int:
    """Delete rows that were added, children first; what they held is kept with the corrections."""
    removed = 0
    for name in reversed(schema.inputs):
        keys = {key for (table, key), columns in added.items() if table == name and None in columns}
        if not keys:
            continue
        table = TABLES[name]
        frame = frame_of(connection, name)
        texts = [
            json_text(list(k)) for k in key_frame(frame, table).itertuples(index=False, name=None)
        ]
        gone = frame[[t in keys for t in texts]]
        if gone.empty:
            continue
        cells = pd.DataFrame({c: as_text(gone[c]) for c in gone.columns}).to_dict("records")
        _keep(connection, name, [t for t in texts if t in keys], cells, at=at, by=by)
        target = schema.inputs[name]
        connection.execute(target.delete().where(*key_is(table)), key_cells(gone, table))
        removed += len(gone)
        counts = {"new": 0, "corrected": len(gone), "unchanged": 0}
        connection.execute(schema.imports.insert().values(at=at, by=by, table=name, **counts))
    _remove_notes(connection, added, at=at, by=by)
    return removed


def _remove_notes(
    connection: sa.Connection, added: dict[Key, list[str | None]], *, at: datetime, by: str
) -> None:
    notes = schema.extra_notes
    for (name, key), columns in added.items():
        here = sa.and_(notes.c.table == name, notes.c.key == key)
        # with a row all its notes go, whoever added them
        if None not in columns:
            here = sa.and_(here, notes.c.column.in_(columns))
        found = connection.execute(sa.select(notes.c.column, notes.c.value).where(here)).all()
        if found:
            _keep(connection, name, [key], [dict(found)], at=at, by=by)
            connection.execute(notes.delete().where(here))


def _keep(
    connection: sa.Connection,
    name: str,
    keys: Sequence[str],
    cells: Sequence[dict[Any, str]],
    *,
    at: datetime,
    by: str,
) -> None:
    connection.execute(
        schema.corrections.insert(),
        [
            {"table": name, "key": key, "earlier": json_text(row)} | {"at": at, "by": by}
            for key, row in zip(keys, cells, strict=True)
        ],
    )


def _mark(connection: sa.Connection, action: Action, at: datetime) -> None:
    imports, undone = schema.imports, schema.undone
    numbers = sa.select(imports.c["import"]).where(_of(action, imports))
    rows = [{"import": n, "at": at} for n in connection.execute(numbers).scalars()]
    connection.execute(undone.insert(), rows)
    if action.by.startswith(_UNDO):
        # what it had taken back stands again
        connection.execute(undone.delete().where(undone.c.at == action.at))
