"""Take down one row of any table, whole or in part, and tell when somebody changed it meanwhile."""

import hashlib
import json
from collections.abc import Callable, Mapping
from datetime import date

import pandas as pd
import sqlalchemy as sa

from swarmwatch.records import schema
from swarmwatch.records.table_read import TableRead
from swarmwatch.tables import TABLES
from swarmwatch.tables.keys import as_text

_FROM_TEXT: dict[str, Callable[[str], object]] = {"date": date.fromisoformat, "count": int}


def noted_cells(connection: sa.Connection, table: str, key: Mapping[str, str]) -> dict[str, str]:
    """Return what is noted under a key, as text by column; blanks are left out.

    Parameters
    ----------
    connection
        Of the records.
    table
        The table's name.
    key
        The key's columns as text, dates in ISO form; none of them blank.
    """
    source = schema.inputs[table]
    kinds = {c.name: c.kind for c in TABLES[table].columns}
    same = [
        source.c[name] == _FROM_TEXT.get(kinds[name], str)(key[name]) for name in TABLES[table].key
    ]
    row = connection.execute(sa.select(source).where(*same)).mappings().first()
    return {} if row is None else {n: _text(v) for n, v in row.items() if v is not None}


def _text(value: object) -> str:
    if isinstance(value, float):
        return str(as_text(pd.Series([value])).iloc[0])
    return value.isoformat() if isinstance(value, date) else str(value)


def state_of(cells: Mapping[str, str]) -> str:
    """Return a short fingerprint of a row as noted, "" where nothing is noted."""
    if not cells:
        return ""
    text = json.dumps(sorted(cells.items()), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


def one_note(table: str, key: Mapping[str, str], cells: Mapping[str, str]) -> TableRead:
    """Make a table of one row, to be checked and stored like a file's.

    Parameters
    ----------
    table
        Its name.
    key
        The key's columns as text.
    cells
        What was seen, as text by column: a blank says "not looked", over what was noted, too. A
        column that is not named keeps what was noted.
    """
    values = {**{n: (v.strip() or None) for n, v in cells.items()}, **key}
    frame = pd.DataFrame({n: [v] for n, v in values.items()}, dtype="str")
    return TableRead(table=table, source=TABLES[table].name, frame=frame, rows=(0,))
