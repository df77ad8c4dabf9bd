"""Make the pandera schema that a conformed frame of each table satisfies."""

from functools import cache

import pandera.pandas as pa

from swarmwatch.tables.model import Column, Table


@cache
def schema(table: Table) -> pa.DataFrameSchema:
    """Return the schema of a conformed frame: dtypes, hard limits, words, required cells."""
    return pa.DataFrameSchema(
        {c.name: _column(c) for c in table.columns}, name=table.name, strict=True, ordered=True
    )


def _column(column: Column) -> pa.Column:
    checks = []
    if column.low is not None:
        checks.append(pa.Check.ge(column.low, error="low"))
    if column.high is not None:
        checks.append(pa.Check.le(column.high, error="high"))
    if column.words:
        checks.append(pa.Check.isin(column.words, error="words"))
    return pa.Column(column.dtype, checks=checks, nullable=not column.required, coerce=False)
