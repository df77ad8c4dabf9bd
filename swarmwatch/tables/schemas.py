"""Make the pandera schema that a conformed frame of each table satisfies."""

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from pandas.api.extensions import ExtensionDtype

from swarmwatch.tables.model import Column, Table

if TYPE_CHECKING:
    # slow to load, and asked for only where a limit is broken
    import pandera.pandas as pa


# Python's own text: where pyarrow is there pandas would keep it in Arrow, which is slower for
# tables as small as these
TEXT = pd.StringDtype("python", na_value=np.nan)


def dtype_of(column: Column) -> ExtensionDtype | np.dtype[Any]:
    """Return the dtype of a column in a conformed frame."""
    return _dtype(column.dtype)


@cache
def _dtype(name: str) -> ExtensionDtype | np.dtype[Any]:
    if name == "str":
        return TEXT
    return pd.api.types.pandas_dtype(name)


@cache
def schema(table: Table) -> "pa.DataFrameSchema":
    """Return the schema of a conformed frame: dtypes, hard limits, words, required cells."""
    import pandera.pandas as pa

    return pa.DataFrameSchema(
        {c.name: _column(c) for c in table.columns}, name=table.name, strict=True, ordered=True
    )


def _column(column: Column) -> "pa.Column":
    import pandera.pandas as pa

    checks = []
    if column.low is not None:
        checks.append(pa.Check.ge(column.low, error="low"))
    if column.high is not None:
        checks.append(pa.Check.le(column.high, error="high"))
    if column.words:
        checks.append(pa.Check.isin(column.words, error="words"))
    return pa.Column(dtype_of(column), checks=checks, nullable=not column.required, coerce=False)
