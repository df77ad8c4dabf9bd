"""Read the cells of one column by its kind, and say what is wrong with those that can't be."""

import datetime as dt
import re
from collections.abc import Callable, Iterable
from difflib import get_close_matches
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pandas.api.extensions import ExtensionArray

from swarmwatch.tables.model import YES_NO, Column
from swarmwatch.tables.schemas import dtype_of

# beyond this a float holds no whole number exactly, and no count is near it
LARGEST_COUNT = 2**53

Objects = NDArray[np.object_]
# what could be read of the cells, blank elsewhere
Cells = Objects | NDArray[np.float64] | pd.DatetimeIndex

_YES_NO = {"y": "yes", "n": "no", "true": "yes", "false": "no", "1": "yes", "0": "no"}
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_YEAR_FIRST = re.compile(r"\d{4}")
_DAY_FIRST = re.compile(r"\s*(\d{1,2})[/.\-](\d{1,2})(?:[/.\-]\d{2,4})?\s*")
_A_KIND = {
    "text": ("text", ""),
    "number": ("a number", "Write a number with a decimal point, such as 7.5, or leave it blank"),
    "count": ("a whole number", "Write a whole number or leave it blank"),
    "date": ("a date", "Write year-month-day, such as 2026-05-14"),
    "instant": ("a time", "Write an ISO time, such as 2026-05-14T18:00:00+00:00"),
    "month-day": ("a day of the year", "Write month-day, such as 05-25"),
}


class Fault(NamedTuple):
    """A cell that can't be read: its place in the column, from 0, what is wrong, how to mend it."""

    place: int
    what: str
    mend: str


def read_cells(cells: pd.Series, column: Column) -> tuple[ExtensionArray, list[Fault]]:
    """Read the cells of a column.

    Parameters
    ----------
    cells
        Text, typed, or of several kinds together.
    column
        What they should be.

    Returns
    -------
    The cells in the column's dtype, blank where they can't be read, and what is wrong with those.
    """
    if column.kind in {"number", "count"} and isinstance(cells.dtype, np.dtype):
        numbers = cells.to_numpy()
        # true and false pass for 1 and 0 below, and an infinity is a fault
        if numbers.dtype.kind in "iuf" and _plain(numbers, column):
            return _typed(numbers, column), []
    if column.kind in {"date", "instant"} and pd.api.types.is_datetime64_any_dtype(cells.dtype):
        return _typed(_moments(pd.DatetimeIndex(cells), column), column), []
    values, place = _distinct(cells)
    read = _READERS[column.kind](values, column)
    bad = np.append(~pd.isna(values) & pd.isna(read), False)  # a blank, place -1, is no fault
    faults = [
        Fault(int(i), *_explain(values[place[i]], column)) for i in np.flatnonzero(bad[place])
    ]
    return _typed(read, column).take(place, allow_fill=True), faults


def blank_cells(column: Column, size: int) -> ExtensionArray:
    """Return so many blank cells of a column."""
    return _no_cells(column).take(np.full(size, -1), allow_fill=True)


@cache
def _no_cells(column: Column) -> ExtensionArray:
    return _typed(np.empty(0, dtype=object), column)


def is_as_read(text: str, column: Column) -> bool:
    """Tell whether a text of a column is such as reading leaves it."""
    return bool(_READERS[column.kind](np.array([text], dtype=object), column)[0] == text)


def _typed(read: Cells | NDArray[Any], column: Column) -> ExtensionArray:
    return pd.Series(read, dtype=dtype_of(column)).array


def _plain(values: NDArray[Any], column: Column) -> bool:
    """Tell whether numbers are as a column holds them: finite or blank, and whole if counted."""
    known = values[~np.isnan(values)]
    if column.kind == "number":
        return bool(np.isfinite(known).all())
    return bool((known % 1 == 0).all() and (np.abs(known) <= LARGEST_COUNT).all())


def _moments(cells: pd.DatetimeIndex, column: Column) -> pd.DatetimeIndex:
    if column.kind == "date":
        return cells.tz_localize(None).normalize()
    return pd.to_datetime(cells, utc=True)


def _distinct(cells: pd.Series) -> tuple[Objects, NDArray[np.intp]]:
    """Return each text of a column once, and the place of every cell among them; -1 is blank.

    A table holds the same few words over and over: they need reading only once. Cells that are
    not all text come back as they are, since 1, 1.0 and True would pass for the same.
    """
    if pd.api.types.infer_dtype(cells, skipna=True) != "string":
        return _without_blanks(cells.to_numpy(dtype=object)), np.arange(len(cells))
    place, words = pd.factorize(cells)
    return _without_blanks(np.asarray(words, dtype=object)), place


def _without_blanks(cells: Objects) -> Objects:
    """Strip texts; what is blank then, and what is no value at all, becomes None."""
    out = _objects((v.strip() or None) if isinstance(v, str) else v for v in cells)
    out[pd.isna(out)] = None
    return out


def _each(cells: Objects, read: Callable[[Any], object]) -> Objects:
    """Return what is read of each cell; what is blank stays so."""
    return _objects(None if v is None else read(v) for v in cells)


def _objects(values: Iterable[object]) -> Objects:
    # no array of lists: a cell may hold anything
    return np.fromiter(values, dtype=object)


def _explain(value: object, column: Column) -> tuple[str, str]:
    if column.kind == "word":
        near = get_close_matches(str(value).lower(), column.words, n=1, cutoff=0.6)
        hint = f"Did you mean {near[0]}? " if near else ""
        return f"{value!r} is not a word of this column", f"{hint}Write {_one_of(column.words)}."
    kind, mend = _A_KIND[column.kind]
    if column.kind == "date" and (parts := _DAY_FIRST.fullmatch(str(value))):
        two_ways = int(parts[1]) <= 12 and int(parts[2]) <= 12
        what = "may be read two ways, day first or month first"
        if not two_ways:
            what = "is not written year-month-day"
        return f"{value!r} {what}", f"{mend}."
    return f"{value!r} is not {kind}", f"{mend}."


def _one_of(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}, or leave it blank" if most else last


def _as_name(value: object) -> str:
    """Write a cell as text: a spreadsheet turns a colony called 7 into 7.0."""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def _texts(cells: Objects, _column: Column) -> Objects:
    return _each(cells, _as_name)


def _words(cells: Objects, column: Column) -> Objects:
    meant = _YES_NO if column.words == YES_NO else {}

    def read(cell: object) -> str | None:
        said = _as_name(cell).lower().replace(" ", "-").replace("_", "-")
        said = meant.get(said, said)
        return said if said in column.words else None

    return _each(cells, read)


def _numbers(cells: Objects, _column: Column) -> NDArray[np.float64]:
    read = np.asarray(pd.to_numeric(cells, errors="coerce"), dtype=np.float64)
    return np.where(np.isfinite(read), read, np.nan)


def _counts(cells: Objects, column: Column) -> NDArray[np.float64]:
    read = _numbers(cells, column)
    return np.where((read % 1 == 0) & (np.abs(read) <= LARGEST_COUNT), read, np.nan)


def _days(cells: Objects, _column: Column) -> pd.DatetimeIndex:
    def read(cell: object) -> str | None:
        # a moment is of its day, as in a column that holds moments only
        day = cell.date() if isinstance(cell, dt.datetime) else cell
        return str(day)[:10] if _ISO_DAY.fullmatch(str(day)) else None

    return _dates(_each(cells, read), "%Y-%m-%d")


def _instants(cells: Objects, _column: Column) -> pd.DatetimeIndex:
    def read(cell: object) -> str | None:
        # pandas takes -1 for a year
        return str(cell) if _YEAR_FIRST.match(str(cell)) else None

    return _dates(_each(cells, read), "ISO8601", utc=True)


def _month_days(cells: Objects, _column: Column) -> Objects:
    # of a year that has a 29 February
    days = _dates(_each(cells, "2000-{}".format), "%Y-%m-%d")
    return np.asarray(days.strftime("%m-%d"), dtype=object)


def _dates(cells: Objects, written: str, *, utc: bool = False) -> pd.DatetimeIndex:
    texts = pd.Index(cells, dtype=object)
    return pd.to_datetime(texts, format=written, errors="coerce", utc=utc)


_READERS: dict[str, Callable[[Objects, Column], Cells]] = {
    "text": _texts,
    "word": _words,
    "number": _numbers,
    "count": _counts,
    "date": _days,
    "instant": _instants,
    "month-day": _month_days,
}
