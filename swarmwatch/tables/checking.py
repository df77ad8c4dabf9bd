"""Read every cell of a frame as its table promises, and gather every fault.

One path serves a CSV read as text, a spreadsheet and a frame made in Python: cells are read by
the kind of their column, blanks stay blank, and all faults come back together.
"""

import re
from collections.abc import Callable, Iterable
from difflib import get_close_matches
from functools import cache
from operator import eq
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.tables.model import YES_NO, Column, Table
from swarmwatch.tables.schemas import dtype_of, schema

_YES_NO = {"y": "yes", "n": "no", "true": "yes", "false": "no", "1": "yes", "0": "no"}
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_DAY_FIRST = re.compile(r"\s*(\d{1,2})[/.\-](\d{1,2})(?:[/.\-]\d{2,4})?\s*")
_LARGEST_COUNT = 2**53
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
    problems = _named_twice(frame, table, name)
    frame = frame.loc[:, ~frame.columns.duplicated()]
    columns: dict[str, pd.Series] = {}
    for column in table.columns:
        there = column.name in frame.columns
        if there and frame[column.name].notna().any():
            columns[column.name] = _read(frame[column.name], column, name, problems)
        else:
            if column.required and not there:
                problems.append(_no_column(column, frame, name))
            columns[column.name] = pd.Series(None, index=frame.index, dtype=dtype_of(column))
    conformed = pd.DataFrame(columns, columns=list(table.names))
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


def _read(cells: pd.Series, column: Column, name: str, problems: list[Problem]) -> pd.Series:
    readers: dict[str, Callable[[pd.Series, Column], tuple[pd.Series, pd.Series, str]]] = {
        "text": _read_text,
        "word": _read_word,
        "number": _read_number,
        "count": _read_count,
        "date": _read_day,
        "instant": _read_instant,
        "month-day": _read_month_day,
    }
    if column.kind in {"number", "count"} and isinstance(cells.dtype, np.dtype):
        values = cells.to_numpy()
        # true and false pass for 1 and 0 below, and an infinity is a fault
        if values.dtype.kind in "iuf" and _plain(values, column):
            return pd.Series(values, dtype=dtype_of(column))
    cells, place = _distinct(cells)
    cells = _blank_to_none(cells)
    read, bad, mend = readers[column.kind](cells, column)
    faulty = np.append(bad.to_numpy(dtype=bool), False)  # a blank, place -1, is no fault
    for i in np.flatnonzero(faulty[place]):
        what, how = _explain(cells.iloc[place[i]], column, mend)
        problems.append(
            Problem(table=name, row=int(i) + 2, column=column.name, what=what, mend=how)
        )
    typed = read.astype(dtype_of(column)).array
    return pd.Series(typed.take(place, allow_fill=True))


def _plain(values: NDArray[Any], column: Column) -> bool:
    """Tell whether numbers are as a column holds them: finite or blank, and whole if counted."""
    known = values[~np.isnan(values)]
    if column.kind == "number":
        return bool(np.isfinite(known).all())
    return bool((known % 1 == 0).all() and (np.abs(known) <= _LARGEST_COUNT).all())


def _distinct(cells: pd.Series) -> tuple[pd.Series, NDArray[np.intp]]:
    """Return each text of a column once, and the place of every cell among them; -1 is blank.

    A table holds the same few words over and over: they need reading only once. Cells that are
    not all text come back as they are, since 1, 1.0 and True would pass for the same.
    """
    if pd.api.types.infer_dtype(cells, skipna=True) != "string":
        return cells, np.arange(len(cells))
    place, words = pd.factorize(cells)
    return pd.Series(words, dtype=cells.dtype), place


def _blank_to_none(cells: pd.Series) -> pd.Series:
    if isinstance(cells.dtype, pd.StringDtype) or cells.dtype == object:
        if pd.api.types.infer_dtype(cells) == "string":
            plain = [v.strip() or None for v in cells.to_numpy(dtype=object)]
            return pd.Series(plain, dtype=cells.dtype)
        stripped = cells.map(lambda v: v.strip() if isinstance(v, str) else v, na_action="ignore")
        return stripped.mask(stripped.map(lambda v: isinstance(v, str) and not v).astype(bool))
    return cells


def _explain(value: object, column: Column, mend: str) -> tuple[str, str]:
    if column.kind == "word":
        near = get_close_matches(str(value).lower(), column.words, n=1, cutoff=0.6)
        hint = f"Did you mean {near[0]}? " if near else ""
        return f"{value!r} is not a word of this column", f"{hint}Write {_one_of(column.words)}."
    if column.kind == "date" and (parts := _DAY_FIRST.fullmatch(str(value))):
        two_ways = int(parts[1]) <= 12 and int(parts[2]) <= 12
        what = "may be read two ways, day first or month first"
        if not two_ways:
            what = "is not written year-month-day"
        return f"{value!r} {what}", f"{mend}."
    return f"{value!r} is not {_ARTICLE[column.kind]}", f"{mend}."


_ARTICLE = {
    "text": "text",
    "number": "a number",
    "count": "a whole number",
    "date": "a date",
    "instant": "a time",
    "month-day": "a day of the year",
}


def _one_of(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}, or leave it blank" if most else last


def _read_text(cells: pd.Series, column: Column) -> tuple[pd.Series, pd.Series, str]:  # noqa: ARG001
    known = cells.notna()
    if isinstance(cells.dtype, pd.StringDtype):
        return cells, ~known & False, ""
    read = pd.Series([None] * len(cells), dtype=object)
    read[known] = [_as_name(v) for v in cells[known]]
    return read, ~known & False, ""


def _as_name(value: object) -> str:
    """Write a cell as text: a spreadsheet turns a colony called 7 into 7.0."""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def _read_word(cells: pd.Series, column: Column) -> tuple[pd.Series, pd.Series, str]:
    known = cells.notna()
    read = pd.Series([None] * len(cells), dtype=object)
    read[known] = [_as_name(v).lower().replace(" ", "-").replace("_", "-") for v in cells[known]]
    if column.words == YES_NO:
        read = read.map(lambda v: _YES_NO.get(v, v), na_action="ignore")
    bad = known & ~read.isin(column.words)
    return read.mask(bad), bad, ""


def _read_number(cells: pd.Series, column: Column) -> tuple[pd.Series, pd.Series, str]:  # noqa: ARG001
    read = pd.to_numeric(cells, errors="coerce").astype("Float64")
    finite = pd.Series(np.isfinite(read.to_numpy(dtype=np.float64, na_value=np.nan)))
    bad = cells.notna() & ~finite
    return (
        read.mask(~finite),
        bad,
        "Write a number with a decimal point, such as 7.5, or leave it blank",
    )


def _read_count(cells: pd.Series, column: Column) -> tuple[pd.Series, pd.Series, str]:
    read, bad, _ = _read_number(cells, column)
    # beyond this a float holds no whole number exactly, and no count is near it
    broken = ((read % 1 != 0) | (read.abs() > _LARGEST_COUNT)).fillna(value=False).astype(bool)
    return read.mask(broken).astype("Int64"), bad | broken, "Write a whole number or leave it blank"


def _read_day(cells: pd.Series, column: Column) -> tuple[pd.Series, pd.Series, str]:  # noqa: ARG001
    mend = "Write year-month-day, such as 2026-05-14"
    if pd.api.types.is_datetime64_any_dtype(cells.dtype):
        plain = cells.dt.tz_localize(None) if cells.dt.tz is not None else cells
        return plain.dt.normalize(), cells.notna() & False, mend
    known = cells.notna()
    looks = cells.astype("str").str.fullmatch(_ISO_DAY).fillna(value=False).astype(bool) & known
    read = pd.to_datetime(
        cells.where(looks).astype("str").str[:10], format="%Y-%m-%d", errors="coerce"
    )
    return read, known & read.isna(), mend


def _read_instant(cells: pd.Series, column: Column) -> tuple[pd.Series, pd.Series, str]:  # noqa: ARG001
    if not pd.api.types.is_datetime64_any_dtype(cells.dtype):
        cells = cells.map(str, na_action="ignore").astype("str")
    read = pd.to_datetime(cells, errors="coerce", utc=True, format="ISO8601")
    return read, cells.notna() & read.isna(), "Write an ISO time, such as 2026-05-14T18:00:00+00:00"


def _read_month_day(cells: pd.Series, column: Column) -> tuple[pd.Series, pd.Series, str]:  # noqa: ARG001
    known = cells.notna()
    read = pd.to_datetime("2000-" + cells.astype("str"), format="%Y-%m-%d", errors="coerce")
    return (
        read.dt.strftime("%m-%d").mask(read.isna()),
        known & read.isna(),
        "Write month-day, such as 05-25",
    )


def _is_conformed(frame: pd.DataFrame, table: Table) -> bool:
    """Tell quickly whether every cell stands as it would be read, within its limits.

    A frame from the records comes by here at every sum made of it, so nothing is read again. Where
    a limit or a required cell is broken, asking the schema which takes milliseconds a column.
    """
    return (
        tuple(frame.columns) == table.names
        and all(d == dtype_of(c) for d, c in zip(frame.dtypes, table.columns, strict=True))
        and all(_stands(frame[c.name], c) for c in table.columns)
    )


def _stands(cells: pd.Series, column: Column) -> bool:
    if column.required and cells.isna().any():
        return False
    if column.kind == "date":
        days = cells.to_numpy()[cells.notna().to_numpy()].astype(np.int64)
        return not (days % _US_IN_DAY).any()
    if column.kind in {"number", "count"}:
        values = cells.array[~cells.isna().to_numpy()].to_numpy(dtype=np.float64)
        return _within_limits(values, column)
    if column.kind == "instant":
        return True
    # a table holds the same few words over and over
    words = pd.unique(cells.to_numpy(dtype=object))
    return _are_read({v for v in words if isinstance(v, str)}, column)


def _within_limits(values: NDArray[np.float64], column: Column) -> bool:
    most = _LARGEST_COUNT if column.kind == "count" else np.finfo(np.float64).max
    return bool(
        (np.abs(values) <= most).all()
        and (column.low is None or (values >= column.low).all())
        and (column.high is None or (values <= column.high).all())
    )


def _are_read(texts: set[str], column: Column) -> bool:
    """Tell whether the texts of a column are such as reading leaves them."""
    if column.kind == "word":
        return texts <= set(column.words)
    if column.kind == "month-day" and texts:
        read, _, _ = _read_month_day(pd.Series(list(texts), dtype=dtype_of(column)), column)
        return set(read) == texts
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
