"""Read a SQL table back as the frame it came from."""

import pandas as pd
import sqlalchemy as sa

from swarmwatch.records import schema
from swarmwatch.tables import TABLES, Table
from swarmwatch.tables.schemas import dtype_of


def frame_of(connection: sa.Connection, name: str) -> pd.DataFrame:
    """Return one table of the contract, conformed, in the order of its key."""
    table = TABLES[name]
    rows = connection.execute(sa.select(schema.metadata.tables[name])).all()
    cells = list(zip(*rows, strict=True)) if rows else [()] * len(table.columns)
    frame = pd.DataFrame(
        {
            # made as object first: each dtype then reads None as blank in its own way
            column.name: pd.Series(list(values), dtype=object).astype(dtype_of(column))
            for column, values in zip(table.columns, cells, strict=True)
        }
    )
    return in_order(frame, table)


def in_order(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Sort rows by the key of their table, blanks last."""
    return frame.sort_values(list(table.key), kind="stable").reset_index(drop=True)
