"""Read a SQL table back as the frame it came from."""

from collections.abc import Sequence

import pandas as pd
import sqlalchemy as sa

from swarmwatch.records import schema
from swarmwatch.tables import TABLES, Table, empty
from swarmwatch.tables.schemas import dtype_of


def frame_of(
    connection: sa.Connection, name: str, *, named: Sequence[str] | None = None
) -> pd.DataFrame:
    """Return one table of the contract, conformed, in the order of its key.

    `named` are values of the first column of the key: the rows of these alone are read.
    """
    table, source = TABLES[name], schema.metadata.tables[name]
    query = sa.select(source)
    if named is not None:
        query = query.where(source.c[table.key[0]].in_(named))
    rows = connection.execute(query).all()
    if not rows:
        return empty(table)
    frame = pd.DataFrame(
        {
            # made as object first: each dtype then reads None as blank in its own way
            column.name: pd.Series(list(values), dtype=object).astype(dtype_of(column))
            for column, values in zip(table.columns, zip(*rows, strict=True), strict=True)
        }
    )
    return in_order(frame, table)


def in_order(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Sort rows by the key of their table, blanks last."""
    if len(frame) < 2:
        return frame.reset_index(drop=True)
    return frame.sort_values(list(table.key), kind="stable").reset_index(drop=True)
