"""Which looks and events does a score rest on? Tables turned into arrays on one line of days."""

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.tables import TABLES, conform, empty

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

# a colony with one of these is no longer there: no score row
ENDS = ("died", "united", "absconded")


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """The conformed tables that a score reads: only rows known on the evening `on`."""

    on: dt.date
    colonies: pd.DataFrame
    inspections: pd.DataFrame
    events: pd.DataFrame
    apiaries: pd.DataFrame
    hives: pd.DataFrame

    def of(self, names: pd.Index) -> "Records":
        """Return the records of some colonies; `colonies` in the order of `names`."""
        chosen = self.colonies.set_index("colony").loc[names].reset_index()
        return Records(
            on=self.on,
            colonies=chosen[list(self.colonies.columns)],
            inspections=self.inspections[self.inspections["colony"].isin(names)],
            events=self.events[self.events["colony"].isin(names)],
            apiaries=self.apiaries,
            hives=self.hives,
        )


class Cutter:
    """Cut records into blocks of colonies, at a cost that grows only with the block."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._rows = {
            name: _rows_by_colony(getattr(records, name), records.colonies)
            for name in ("inspections", "events")
        }
        self._dates = {
            name: getattr(records, name)["date"].to_numpy(dtype="datetime64[D]")
            for name in self._rows
        }

    @property
    def colonies(self) -> pd.DataFrame:
        """The table of all colonies, whose rows are asked for."""
        return self._records.colonies

    def days_of(
        self, table: str, colonies: Integers, start: dt.date, *, words: tuple[str, ...] = ()
    ) -> tuple[Integers, Integers]:
        """Return place in `colonies` and day of each note from `start` on; `words` picks events."""
        order, begins = self._rows[table]
        frame = getattr(self._records, table)
        rows = _spans(order, begins, colonies)
        whose = np.repeat(np.arange(len(colonies)), begins[colonies + 1] - begins[colonies])
        day = (self._dates[table][rows] - np.datetime64(start)).astype(np.int64)
        use = day >= 0
        if words:
            use &= frame["event"].take(rows).isin(words).to_numpy(dtype=bool)
        return whose[use], day[use]

    def of(self, colonies: Integers) -> Records:
        """Return the records of the colonies in these rows; notes by colony, then by time."""
        whole = self._records
        cut = {n: getattr(whole, n).take(_spans(*r, colonies)) for n, r in self._rows.items()}
        return replace(
            whole,
            colonies=whole.colonies.take(colonies).reset_index(drop=True),
            **{n: frame.reset_index(drop=True) for n, frame in cut.items()},
        )


def _rows_by_colony(frame: pd.DataFrame, colonies: pd.DataFrame) -> tuple[Integers, Integers]:
    """Return the rows of `frame` in order of colony, and where each colony's rows begin."""
    colony = colony_rows(frame, colonies)
    order = np.argsort(colony, kind="stable")
    return order, np.searchsorted(colony[order], np.arange(len(colonies) + 1))


def _spans(order: Integers, begins: Integers, colonies: Integers) -> Integers:
    """Return the rows that belong to some colonies, colony by colony."""
    lengths = begins[colonies + 1] - begins[colonies]
    before = np.cumsum(lengths) - lengths
    within = np.arange(lengths.sum()) - np.repeat(before, lengths)
    return np.asarray(order[np.repeat(begins[colonies], lengths) + within], dtype=np.int64)


def read_records(
    colonies: pd.DataFrame,
    inspections: pd.DataFrame | None,
    *,
    on: dt.date,
    events: pd.DataFrame | None = None,
    apiaries: pd.DataFrame | None = None,
    hives: pd.DataFrame | None = None,
) -> Records:
    """Conform the tables and keep what was known on the evening `on` of colonies still alive.

    Raises
    ------
    RecordsError
        Cells that can't be read, with row and column.
    """
    asked = {
        "colonies": colonies,
        "inspections": inspections,
        "events": events,
        "apiaries": apiaries,
        "hives": hives,
    }
    tables = {name: _conformed(frame, name) for name, frame in asked.items()}
    evening = pd.Timestamp(on)
    kept = tables["colonies"].drop_duplicates("colony", keep="last")
    known = {
        name: tables[name].loc[
            (tables[name]["date"] <= evening) & (colony_rows(tables[name], kept) >= 0)
        ]
        for name in ("inspections", "events")
    }
    ended = known["events"].loc[known["events"]["event"].isin(ENDS), "colony"]
    alive = kept[~kept["colony"].isin(ended)].reset_index(drop=True)
    return Records(
        on=on,
        colonies=alive,
        inspections=_in_order(known["inspections"], alive),
        events=_in_order(known["events"], alive),
        apiaries=tables["apiaries"],
        hives=tables["hives"],
    )


def _conformed(frame: pd.DataFrame | None, name: str) -> pd.DataFrame:
    table = TABLES[name]
    return empty(table) if frame is None else conform(frame, table)


def known_rows(frame: pd.DataFrame | None, name: str, on: dt.date) -> pd.DataFrame:
    """Return the rows of a dated table that are known on an evening, conformed."""
    rows = _conformed(frame, name)
    return rows[rows["date"] <= pd.Timestamp(on)].reset_index(drop=True)


def _in_order(frame: pd.DataFrame, alive: pd.DataFrame) -> pd.DataFrame:
    """Keep living colonies' rows by day and visit; the same visit twice keeps file order."""
    mine = frame[colony_rows(frame, alive) >= 0]
    return mine.sort_values(["date", "visit"], kind="stable", na_position="first").reset_index(
        drop=True
    )


def colony_rows(frame: pd.DataFrame, colonies: pd.DataFrame) -> Integers:
    """Return the row in `colonies` of each row of `frame`, (n_rows,)."""
    if frame.empty:
        return np.empty(0, dtype=np.int64)
    rows = pd.Index(colonies["colony"]).get_indexer(pd.Index(frame["colony"]))
    return np.asarray(rows, dtype=np.int64)


def day_index(frame: pd.DataFrame, column: str, start: dt.date) -> Integers:
    """Return each row's date as days since `start`; the blank gives the least integer."""
    days = frame[column].to_numpy(dtype="datetime64[D]")
    since = (days - np.datetime64(start)).astype(np.int64)
    return np.where(np.isnat(days), np.iinfo(np.int64).min, since)


def yes(frame: pd.DataFrame, column: str) -> Floats:
    """Return a yes or no column as 1, 0 and NaN for not looked, (n_rows,)."""
    return equals(frame, column, "yes")


def equals(frame: pd.DataFrame, column: str, word: str) -> Floats:
    """Return 1 where a column holds `word`, 0 where another, NaN where blank, (n_rows,)."""
    cells = frame[column]
    return np.where(cells.isna(), np.nan, (cells == word).to_numpy(dtype=float))


def numbers(frame: pd.DataFrame, column: str) -> Floats:
    """Return a number column, NaN where blank, (n_rows,)."""
    return frame[column].to_numpy(dtype=np.float64, na_value=np.nan)


def last_dates(frame: pd.DataFrame, colonies: pd.DataFrame) -> pd.Series:
    """Return the last date in `frame` of each colony, in the order of `colonies`; NaT for none."""
    rows = colony_rows(frame, colonies)
    days = frame["date"].to_numpy(dtype="datetime64[us]")[rows >= 0]
    last = np.full(len(colonies), np.datetime64("NaT", "us"))
    # as integers the blank is the least of all
    np.maximum.at(last.view(np.int64), rows[rows >= 0], days.view(np.int64))
    return pd.Series(last, name="date")


def latest_by_day(
    colony: Integers, day: Integers, *, colonies: int, days: int, which: Flags | None = None
) -> Integers:
    """Return the row of the last note up to each day, (n_colonies, n_days); -1 before the first.

    Rows must be in order of time; `which` picks the rows that count. Notes before day 0 count as
    of day 0, those after the last day are left out.
    """
    latest = np.full((colonies, days), -1, dtype=np.int64)
    rows = np.arange(len(colony))
    use = day < days
    if which is not None:
        use &= which
    np.maximum.at(latest, (colony[use], np.maximum(day[use], 0)), rows[use])
    return np.maximum.accumulate(latest, axis=1)
