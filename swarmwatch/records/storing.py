"""Write frames into the store: what is new, what corrects a stored row, what is the same."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
import sqlalchemy as sa
from numpy.typing import NDArray

from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.records import schema
from swarmwatch.records.reading_back import frame_of
from swarmwatch.tables import TABLES, Table, check
from swarmwatch.tables.keys import as_text, fill_visits, key_frame, repeated_keys

Flags = NDArray[np.bool_]

# so many names are looked up one by one; more are read with their whole table
_FEW = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """What was done to one table, in rows; `blanked` counts stored cells that are blank now."""

    new: int = 0
    corrected: int = 0
    unchanged: int = 0
    blanked: int = 0

    def __add__(self, other: "Stored") -> "Stored":
        return Stored(
            new=self.new + other.new,
            corrected=self.corrected + other.corrected,
            unchanged=self.unchanged + other.unchanged,
            blanked=self.blanked + other.blanked,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """Rows of one table beside the stored ones they meet; -1 in `place` where there is none."""

    rows: pd.DataFrame
    keys: pd.DataFrame
    before: pd.DataFrame
    place: NDArray[np.intp]
    differs: Flags
    given: tuple[str, ...]


def store_tables(
    connection: sa.Connection,
    frames: Mapping[str, pd.DataFrame],
    *,
    at: datetime,
    by: str,
    undoable: bool = True,
) -> dict[str, Stored]:
    """Write tables, parents first, inside the transaction of `connection`.

    `at` and `by` together name the action; unless it is `undoable`, the keys of new rows are not
    kept.

    Returns
    -------
    What was done, by table, in the order of the contract.

    Raises
    ------
    RecordsError
        With every cell of every table that can't be read and every key that stands twice.
    """
    unknown = [name for name in frames if name not in schema.inputs]
    if unknown:
        message = f"{', '.join(unknown)}: no such table. There are {', '.join(schema.inputs)}."
        raise UsageError(message)
    ready = {name: frames[name] for name in schema.inputs if name in frames}
    conformed = _conformed(ready)
    done = {}
    for name, frame in ready.items():
        change = _compare(connection, TABLES[name], conformed[name], frame.columns)
        _keep_earlier(connection, name, change, at=at, by=by)
        if undoable:
            _keep_added(connection, name, change, at=at, by=by)
        _write(connection, TABLES[name], change)
        _keep_notes(connection, TABLES[name], change, frame, at=at, by=by)
        done[name] = _count(change)
    log = [
        {
            "at": at,
            "by": by,
            "table": n,
            "new": s.new,
            "corrected": s.corrected,
            "unchanged": s.unchanged,
        }
        for n, s in done.items()
        if s.new or s.corrected
    ]
    if log:
        connection.execute(schema.imports.insert(), log)
    return done


def _conformed(frames: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    problems = []
    conformed = {}
    for name, frame in frames.items():
        read, faults = check(frame, TABLES[name])
        conformed[name] = fill_visits(read, TABLES[name])
        problems += faults or repeated_keys(conformed[name], TABLES[name])
    if problems:
        raise RecordsError(problems)
    return conformed


def _compare(
    connection: sa.Connection, table: Table, rows: pd.DataFrame, columns: Iterable[object]
) -> _Change:
    keys = key_frame(rows, table)
    first = ~keys.duplicated().to_numpy()
    # a note of one colony is not held against the notes of all
    names = rows[table.key[0]]
    few = names.notna().all() and names.nunique() <= _FEW
    before = frame_of(connection, table.name, named=names.unique().tolist() if few else None)
    stored = pd.MultiIndex.from_frame(key_frame(before, table))
    place = stored.get_indexer(pd.MultiIndex.from_frame(keys[first])).astype(np.intp)
    named = set(map(str, columns))
    given = tuple(n for n in table.names if n in named and n not in table.key)
    met = before.iloc[np.maximum(place, 0)] if len(before) else rows[first]
    differs: Flags = np.zeros(len(place), dtype=bool)
    for name in given:
        differs |= _unlike(rows.loc[first, name], met[name])
    return _Change(
        rows=rows[first],
        keys=keys[first],
        before=before,
        place=place,
        differs=differs & (place >= 0),
        given=given,
    )


def _unlike(ours: pd.Series, theirs: pd.Series) -> Flags:
    ours, theirs = ours.reset_index(drop=True), theirs.reset_index(drop=True)
    same = (ours == theirs).astype("boolean").fillna(value=False).to_numpy(dtype=bool)
    both_blank = ours.isna().to_numpy() & theirs.isna().to_numpy()
    unlike: Flags = ~(same | both_blank)
    return unlike


def _count(change: _Change) -> Stored:
    new = change.place < 0
    corrected = change.rows[change.differs]
    earlier = change.before.iloc[change.place[change.differs]]
    blanked = sum(
        int((corrected[n].isna().to_numpy() & earlier[n].notna().to_numpy()).sum())
        for n in change.given
    )
    return Stored(
        new=int(new.sum()),
        corrected=int(change.differs.sum()),
        unchanged=int((~new & ~change.differs).sum()),
        blanked=blanked,
    )


def _keep_earlier(
    connection: sa.Connection, name: str, change: _Change, *, at: datetime, by: str
) -> None:
    earlier = change.before.iloc[change.place[change.differs]]
    if earlier.empty:
        return
    text = pd.DataFrame({n: as_text(earlier[n]) for n in earlier.columns})
    keys = change.keys[change.differs].itertuples(index=False, name=None)
    connection.execute(
        schema.corrections.insert(),
        [
            {
                "table": name,
                "key": json_text(list(key)),
                "earlier": json_text(row),
                "at": at,
                "by": by,
            }
            for key, row in zip(keys, text.to_dict(orient="records"), strict=True)
        ],
    )


def _keep_added(
    connection: sa.Connection, name: str, change: _Change, *, at: datetime, by: str
) -> None:
    keys = change.keys[change.place < 0].itertuples(index=False, name=None)
    added = [
        {"table": name, "key": json_text(list(key)), "column": None, "at": at, "by": by}
        for key in keys
    ]
    if added:
        connection.execute(schema.additions.insert(), added)


def _write(connection: sa.Connection, table: Table, change: _Change) -> None:
    target = schema.inputs[table.name]
    new = change.rows[change.place < 0]
    if not new.empty:
        connection.execute(target.insert(), _bound(new, table.names))
    corrected = change.rows[change.differs]
    if corrected.empty:
        return
    values = _bound(corrected, change.given)
    bound = [
        key | {f"to_{n}": v for n, v in row.items()}
        for key, row in zip(key_cells(corrected, table), values, strict=True)
    ]
    setting = {n: sa.bindparam(f"to_{n}", type_=target.c[n].type) for n in change.given}
    connection.execute(target.update().where(*key_is(table)).values(setting), bound)


def key_is(table: Table) -> list[sa.ColumnElement[bool]]:
    """Return the conditions that find the row whose key `key_cells` gave."""
    target = schema.inputs[table.name]
    # bound under another name than the column's: an update may not bind one twice
    return [
        sa.func.coalesce(target.c[n], sa.literal_column("''")) == sa.bindparam(f"key_{n}")
        if target.c[n].nullable
        else target.c[n] == sa.bindparam(f"key_{n}")
        for n in table.key
    ]


def key_cells(frame: pd.DataFrame, table: Table) -> list[dict[str, object]]:
    """Return each row's key as `key_is` binds it; a blank part is ''."""
    return [
        {f"key_{n}": "" if v is None else v for n, v in row.items()}
        for row in _bound(frame, table.key)
    ]


def _bound(frame: pd.DataFrame, names: Iterable[str]) -> list[dict[str, object]]:
    columns = {}
    for name in names:
        cells = frame[name]
        if isinstance(cells.dtype, np.dtype) and cells.dtype.kind == "M":
            values = [None if pd.isna(t) else t.date() for t in cells]
        elif isinstance(cells.dtype, pd.DatetimeTZDtype):
            values = [None if pd.isna(t) else t.to_pydatetime() for t in cells]
        else:
            values = cells.astype(object).where(cells.notna(), None).tolist()
        columns[name] = values
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _keep_notes(
    connection: sa.Connection,
    table: Table,
    change: _Change,
    frame: pd.DataFrame,
    *,
    at: datetime,
    by: str,
) -> None:
    extra = [str(c) for c in frame.columns if str(c) not in table.names]
    if not extra:
        return
    notes = schema.extra_notes
    query = sa.select(notes.c.key, notes.c.column, notes.c.value).where(notes.c.table == table.name)
    stored = {(key, column): value for key, column, value in connection.execute(query)}
    keys = [json_text(list(k)) for k in change.keys.itertuples(index=False, name=None)]
    frame = frame.reset_index(drop=True).loc[change.rows.index]
    new, changed = [], []
    for column in extra:
        for key, value in zip(keys, as_text(frame[column]), strict=True):
            found = stored.get((key, column))
            if found is None and value:
                new.append({"table": table.name, "key": key, "column": column, "value": value})
            elif found is not None and value != found:
                changed.append((key, column, found, value))
    if new:
        connection.execute(notes.insert(), new)
        added = [
            {**{n: row[n] for n in ("table", "key", "column")}, "at": at, "by": by} for row in new
        ]
        connection.execute(schema.additions.insert(), added)
    for key, column, found, value in changed:
        spot = (notes.c.table == table.name, notes.c.key == key, notes.c.column == column)
        connection.execute(notes.update().where(*spot).values(value=value))
        earlier = json_text({column: found})
        connection.execute(
            schema.corrections.insert().values(
                table=table.name, key=key, earlier=earlier, at=at, by=by
            )
        )


def json_text(value: object) -> str:
    """Return a key or a row's cells as the history keeps them."""
    return json.dumps(value, ensure_ascii=False)
