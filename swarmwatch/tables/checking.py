"""Read a frame as its table promises, and gather every fault.

One path serves a CSV read as text, a spreadsheet and a frame made in Python: cells are read by
the kind of their column, blanks stay blank, and all faults come back together.
"""

from difflib import get_close_matches
from functools import cache
from operator import eq

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pandas.api.extensions import ExtensionArray

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.tables.cells import LARGEST_COUNT, blank_cells, is_as_read, read_cells
from swarmwatch.tables.model import Column, Table
from swarmwatch.tables.schemas import dtype_of, schema

_US_IN_DAY = 86_400_000_000
_LIMITS = {
    "low": "Write the number you saw, 0 for none, or leave it blank",
    "high": "Check the unit and the decimal point",
}


def empty(table: Table) -> pd.DataFrame:
    """Return a frame of `table` without rows, columns and dtypes as they must be."""
    return _empty(table).copy(deep=False)


@cache
def _empty(table: Table) -> pd.DataFrame:
    return pd.DataFrame({c.name: pd.Series([], dtype=dtype_of(c)) for c in table.columns})


def conform(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Return `frame` with every column of `table`, in order and typed.

    Missing optional columns come back blank, columns that the table does not name are left out,
    the index is dropped. Dates may be dates, datetime64 or ISO text.

    Raises
    ------
    RecordsError
        With every faulty cell. Rows count as a spreadsheet would: the first row is row 2.
    """
    conformed, problems = check(frame, table)
    if problems:
        raise RecordsError(problems)
    return conformed


def check(
    frame: pd.DataFrame, table: Table, *, name: str = ""
) -> tuple[pd.DataFrame, list[Problem]]:
    """Read `frame` as `table`; return what could be read and every problem, in file order.

    Parameters
    ----------
    frame
        Cells as text, or typed. The index is not read.
    table
        The table it should be.
    name
        What to call it in messages, such as the file's name; the table's name if blank.

    Returns
    -------
    A conformed frame whose unreadable cells are blank, and the problems.
    """
    name = name or table.name
    frame = frame.reset_index(drop=True)
    if _is_conformed(frame, table):
        return frame, []
    problems = []
    if not frame.columns.is_unique:
        problems = _named_twice(frame, table, name)
        frame = frame.loc[:, ~frame.columns.duplicated()]
    columns: dict[str, ExtensionArray] = {}
    for column in table.columns:
        there = column.name in frame.columns
        if there and not frame[column.name].isna().all():
            columns[column.name], faults = read_cells(frame[column.name], column)
            problems += [
                Problem(table=name, row=f.place + 2, column=column.name, what=f.what, mend=f.mend)
                for f in faults
            ]
        else:
            if column.required and not there:
                problems.append(_no_column(column, frame, name))
            columns[column.name] = blank_cells(column, len(frame))
    conformed = pd.DataFrame(columns, index=frame.index)
    problems.extend(_against_schema(conformed, table, name, problems))
    order = {c: i for i, c in enumerate(table.names)}
    problems.sort(key=lambda p: (p.row, order.get(p.column, -1)))
    return conformed, problems


def _named_twice(frame: pd.DataFrame, table: Table, name: str) -> list[Problem]:
    twice = set(frame.columns[frame.columns.duplicated()])
    return [
        Problem(
            table=name,
            row=0,
            column=column.name,
            what="two columns have this name",
            mend="Keep one of them, or rename the other.",
        )
        for column in table.columns
        if column.name in twice
    ]


def _no_column(column: Column, frame: pd.DataFrame, name: str) -> Problem:
    near = get_close_matches(column.name, [str(c) for c in frame.columns], n=1, cutoff=0.7)
    mend = f"Rename the column {near[0]!r}" if near else f"Add it: {column.meaning.lower()}"
    return Problem(
        table=name, row=0, column=column.name, what="this column is required", mend=f"{mend}."
    )


def _is_conformed(frame: pd.DataFrame, table: Table) -> bool:
    """Tell quickly whether every cell stands as it would be read, within its limits.

    A frame from the records comes by here at every sum made of it, so nothing is read again. Where
    a limit or a required cell is broken, asking the schema which takes milliseconds a column.
    """
    return (
        tuple(frame.columns) == table.names
        and all(d == dtype_of(c) for d, c in zip(frame.dtypes, table.columns, strict=True))
        and (frame.empty or all(_stands(frame[c.name].array, c) for c in table.columns))
    )


def _stands(cells: ExtensionArray, column: Column) -> bool:
    blank = np.asarray(cells.isna())
    if column.required and blank.any():
        return False
    if column.kind == "instant" or blank.all():
        return True
    if column.kind == "date":
        days = np.asarray(cells)[~blank].astype(np.int64)
        return not (days % _US_IN_DAY).any()
    if column.kind in {"number", "count"}:
        return _within_limits(cells[~blank].to_numpy(dtype=np.float64), column)
    # a table holds the same few words over and over
    words = pd.unique(cells.to_numpy(dtype=object))
    return _are_read({v for v in words if isinstance(v, str)}, column)


def _within_limits(values: NDArray[np.float64], column: Column) -> bool:
    most = LARGEST_COUNT if column.kind == "count" else np.finfo(np.float64).max
    least, high = values.min(), values.max()
    return bool(
        max(-least, high) <= most
        and (column.low is None or least >= column.low)
        and (column.high is None or high <= column.high)
    )


def _are_read(texts: set[str], column: Column) -> bool:
    """Tell whether the texts of a column are such as reading leaves them."""
    if column.kind == "word":
        return texts <= set(column.words)
    if column.kind == "month-day":
        return all(is_as_read(t, column) for t in texts)
    return "" not in texts and all(map(eq, texts, map(str.strip, texts)))


def _against_schema(
    conformed: pd.DataFrame, table: Table, name: str, known: list[Problem]
) -> list[Problem]:
    if _is_conformed(conformed, table):
        return []
    from pandera.errors import SchemaErrors  # slow to load, and few tables have a broken limit

    try:
        schema(table).validate(conformed, lazy=True)
    except SchemaErrors as error:
        cases = error.failure_cases
    else:
        return []
    named = {(p.row, p.column) for p in known} | {(0, p.column) for p in known if p.row == 0}
    problems = []
    for case in cases.itertuples():
        row = 0 if case.index is None or pd.isna(case.index) else int(case.index) + 2
        if (row, case.column) in named or (0, case.column) in named:
            continue
        column = table.column(str(case.column))
        problems.append(_of_case(str(case.check), case.failure_case, column, row, name))
    return problems


def _of_case(check_name: str, value: object, column: Column, row: int, name: str) -> Problem:
    if check_name == "not_nullable":
        what, mend = "this cell is required and blank", f"{column.meaning}: write it in."
    elif check_name in _LIMITS:
        limit = column.low if check_name == "low" else column.high
        side = "below" if check_name == "low" else "above"
        what = f"'{float(str(value)):.12g}' is {side} {limit:g}"
        mend = f"{_LIMITS[check_name]}."
    else:
        what, mend = f"{value!r} does not fit ({check_name})", f"{column.meaning}."
    return Problem(table=name, row=row, column=column.name, what=what, mend=mend)
