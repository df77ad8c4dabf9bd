"""Which row of a weather table speaks for this yard and this day?

A book holds a weather table once as arrays, so that a hundred yards can be looked up without
reading it a hundred times.
"""

import datetime as dt
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.tables import TABLES, conform, empty
from swarmwatch.weather.arrays import Floats

VALUES = ("temp_max_c", "temp_min_c", "rain_mm", "wind_max_m_s", "sunshine_h")
Integers: TypeAlias = NDArray[np.int64]
Flags: TypeAlias = NDArray[np.bool_]
Day: TypeAlias = dt.date | np.datetime64 | str

_TABLE = TABLES["weather"]
# a cell that is blank here is a day whose temperature isn't known, no fault: providers leave the
# newest days blank
_READ_AS = replace(
    _TABLE,
    columns=tuple(
        replace(c, required=False) if c.name.startswith("temp_") else c for c in _TABLE.columns
    ),
)
_NEVER = np.iinfo(np.int64).min


@dataclass(frozen=True, slots=True, eq=False)
class WeatherBook:
    """A weather table as arrays, one row each, in no order.

    `day` and `fetched_day` count days since 1970 (`fetched_day` in UTC; the least integer where
    blank), `fetched` counts microseconds. `cells` is (n_rows, 5): the columns of `VALUES`.
    """

    apiary: NDArray[np.object_]
    day: Integers
    kind: NDArray[np.object_]
    provider: NDArray[np.object_]
    fetched: Integers
    fetched_day: Integers
    cells: Floats

    @property
    def known(self) -> Integers:
        """(n_rows,) count of cells that are not blank."""
        return np.asarray((~np.isnan(self.cells)).sum(axis=1), dtype=np.int64)

    def take(self, rows: Flags | Integers) -> "WeatherBook":
        """Return the book of some rows only."""
        return WeatherBook(
            self.apiary[rows],
            self.day[rows],
            self.kind[rows],
            self.provider[rows],
            self.fetched[rows],
            self.fetched_day[rows],
            self.cells[rows],
        )


def read_weather(weather: "pd.DataFrame | WeatherBook | None") -> WeatherBook:
    """Return a weather table as a book; a book comes back as it is.

    Raises
    ------
    RecordsError
        A cell can't be read.
    """
    if isinstance(weather, WeatherBook):
        return weather
    frame = empty(_READ_AS) if weather is None else conform(weather, _READ_AS)
    fetched = frame["fetched_at"].dt.tz_localize(None).to_numpy(dtype="datetime64[us]")
    cells = np.column_stack([frame[c].to_numpy(dtype=float, na_value=np.nan) for c in VALUES])
    return WeatherBook(
        apiary=_words(frame["apiary"]),
        day=_days(frame["date"].to_numpy(dtype="datetime64[us]")),
        kind=_words(frame["kind"]),
        provider=_words(frame["provider"]),
        fetched=np.where(np.isnat(fetched), _NEVER, fetched.astype(np.int64)),
        fetched_day=_days(fetched),
        cells=cells,
    ).take(~np.isnan(cells).all(axis=1))


def by_apiary(weather: "pd.DataFrame | WeatherBook | None") -> dict[str, WeatherBook]:
    """Split a weather table by yard, once, for many calls of `daily_weather`.

    Returns
    -------
    For each yard that the table names its rows and those without a yard; under ``""`` the rows
    without a yard alone, which serve every other yard.
    """
    book = read_weather(weather)
    shared = book.apiary == ""
    names, inverse = np.unique(book.apiary.astype(str), return_inverse=True)
    order = np.argsort(inverse, kind="stable")
    bounds = np.searchsorted(inverse[order], np.arange(len(names) + 1))
    of_all = np.flatnonzero(shared)
    books = {"": book.take(of_all)}
    for i, name in enumerate(names):
        if name:
            own = order[bounds[i] : bounds[i + 1]]
            books[str(name)] = book.take(np.concatenate([own, of_all]))
    return books


def rows_of(book: WeatherBook, apiary: str) -> WeatherBook:
    """Return the rows of one yard and those without a yard."""
    mine = (book.apiary == apiary) | (book.apiary == "")
    return book if mine.all() else book.take(mine)


def day_number(date: Day) -> int:
    """Return a date as days since 1970."""
    return int(np.datetime64(pd.Timestamp(date).date().isoformat(), "D").astype(np.int64))


def days_of_year(days: Integers) -> Integers:
    """Return the day of the year, 1 to 366, of days since 1970."""
    date = days.astype("datetime64[D]")
    return np.asarray((date - date.astype("datetime64[Y]")).astype(np.int64) + 1)


def first_a_day(book: WeatherBook, ranks: list[NDArray[np.generic]]) -> WeatherBook:
    """Keep one row a day: the one that comes first by `ranks`, the weightiest rank first."""
    ties = [book.provider.astype(str), *book.cells.T]
    order = np.lexsort([*reversed([*ranks, *ties]), book.day])
    best = order[np.r_[True, np.diff(book.day[order]) != 0]] if len(order) else order
    return book.take(best)


def _words(column: pd.Series) -> NDArray[np.object_]:
    return column.fillna("").to_numpy(dtype=object)


def _days(instants: NDArray[np.datetime64]) -> Integers:
    days = instants.astype("datetime64[D]")
    return np.where(np.isnat(days), _NEVER, days.astype(np.int64))
