"""Say what names a row, and find rows that have the same name."""

from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd

from swarmwatch.errors import Problem
from swarmwatch.tables.model import Table
from swarmwatch.tables.schemas import TEXT


def fill_visits(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Fill the visits that are blank with 1, 2, ... in row order within a day.

    Parameters
    ----------
    frame
        A conformed frame; returned as it is where its table counts no visits.
    table
        Its table.

    Returns
    -------
    The frame with every visit filled. A number that a row of the same day already has is left
    to that row.
    """
    if "visit" not in table.key or frame.empty or frame["visit"].notna().all():
        return frame
    day = [name for name in table.key if name != "visit"]
    groups = frame.groupby(day, dropna=False, sort=False)["visit"]
    visits = frame["visit"].where(frame["visit"].notna(), groups.cumcount() + 1)
    mixed = groups.transform("count").gt(0) & frame["visit"].isna()
    for rows in groups.groups.values() if mixed.any() else ():
        blank = [i for i in rows if mixed.loc[i]]
        taken = set(frame["visit"].loc[rows].dropna())
        free = (n for n in range(1, 2 * len(rows) + 1) if n not in taken)
        for i in blank:
            visits.loc[i] = next(free)
    return frame.assign(visit=visits.astype("Int64"))


def key_frame(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Return the key of each row as text, (n_rows, n_parts); a blank part is ''."""
    return pd.DataFrame({name: as_text(frame[name]) for name in table.key}, index=frame.index)


def as_text(cells: pd.Series) -> pd.Series:
    """Write cells as a CSV file would: ISO dates, 14 and not 14.0, '' for blank."""
    write: Callable[[Any], str] = str
    if isinstance(cells.dtype, pd.StringDtype):
        return cells.astype(TEXT).fillna("")
    if isinstance(cells.dtype, pd.DatetimeTZDtype):
        write = _instant
    elif pd.api.types.is_datetime64_dtype(cells.dtype):
        write = _day
    elif pd.api.types.is_float_dtype(cells.dtype):
        write = _number
    blanks = cells.isna().to_numpy()
    # a plain loop: most tables are small, and a step over a Series costs more than their rows
    written = ["" if blank else write(v) for v, blank in zip(cells, blanks, strict=True)]
    return pd.Series(written, index=cells.index, dtype=TEXT)


def cell_as_text(cell: object) -> str:
    """Write one cell of a table as `as_text` writes those of a column."""
    if cell is None or pd.isna(cell):  # type: ignore[call-overload] # a cell is a scalar
        return ""
    if isinstance(cell, pd.Timestamp):
        return _day(cell) if cell.tz is None else _instant(cell)
    return _number(cell) if isinstance(cell, float) else str(cell)


def _instant(moment: pd.Timestamp) -> str:
    return moment.isoformat()


def _day(moment: pd.Timestamp) -> str:
    return moment.date().isoformat()


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) and abs(value) < 1e15 else repr(float(value))


def repeated_keys(
    frame: pd.DataFrame, table: Table, *, name: str = "", rows: Sequence[int] | None = None
) -> list[Problem]:
    """Find rows that share a key and differ in their values.

    Parameters
    ----------
    frame
        A conformed frame with visits filled.
    table
        Its table.
    name
        What to call it in messages.
    rows
        Each row's number in the file, for the message; counted from 2 if None.

    Returns
    -------
    One problem for each of the rows that contradict one another, by row.
    """
    distinct = frame[~frame.duplicated()]
    keys = key_frame(distinct, table)
    keys = keys[keys.duplicated(keep=False)]
    problems = []
    by_key: dict[tuple[str, ...], list[int]] = {}
    for i, *parts in keys.itertuples(name=None):
        by_key.setdefault(tuple(parts), []).append(i)
    for key, places in by_key.items():
        words = ", ".join(part for part in key if part)
        for i in places:
            others = [rows[j] if rows else j + 2 for j in places if j != i]
            problems.append(
                Problem(
                    table=name or table.name,
                    row=i + 2,
                    column=table.key[0],
                    what=f"'{words}' stands in row {', '.join(map(str, others))}, too, "
                    "with other values",
                    mend="Keep one of them, or put them into one.",
                )
            )
    return sorted(problems, key=lambda p: p.row)
