"""Make a table of text out of a sheet of cells: its columns by name, its texts as meant."""

import re
from dataclasses import dataclass
from difflib import get_close_matches

import pandas as pd

from swarmwatch.errors import Problem
from swarmwatch.records.cells import Grid
from swarmwatch.tables import TABLES


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRead:
    """One table of one file, its cells as text.

    `rows` holds each row's number in the file, the header being 1. `remarks` say what was read
    otherwise than written, and what was left out.
    """

    table: str
    source: str
    frame: pd.DataFrame
    rows: tuple[int, ...]
    remarks: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def extra(self) -> tuple[str, ...]:
        """The columns that the table does not name."""
        return tuple(str(c) for c in self.frame.columns if c not in TABLES[self.table].names)


def as_table(grid: Grid, table: str, source: str) -> TableRead:
    """Make the table `table` of the cells of one sheet.

    Parameters
    ----------
    grid
        The sheet.
    table
        The table it is.
    source
        What to call it in messages.

    Returns
    -------
    The table; its faults are those of the sheet and its header, no cell is read yet.
    """
    header = [_column_name(h) for h in grid.header]
    problems = [*grid.problems(source), *_header_problems(grid, header, source)]
    remarks = list(grid.remarks(source))
    keep = [i for i, h in enumerate(header) if h and h not in header[:i]]
    columns = {header[i]: [row[i] or None for row in grid.cells] for i in keep}
    frame = pd.DataFrame(columns, dtype="str", index=range(len(grid.cells)))
    if grid.decimal_comma:
        frame = _with_points(frame, table)
    frame = _without_quotes(frame, table)
    remarks += _about_columns(list(frame.columns), table, source)
    return TableRead(
        table=table,
        source=source,
        frame=frame,
        rows=tuple(grid.rows),
        remarks=tuple(remarks),
        problems=tuple(problems),
    )


def _column_name(cell: str) -> str:
    return re.sub(r"[\s-]+", "_", cell.strip().lower())


def _with_points(frame: pd.DataFrame, table: str) -> pd.DataFrame:
    numbers = [
        c.name
        for c in TABLES[table].columns
        if c.kind in {"number", "count"} and c.name in frame.columns
    ]
    pattern = re.compile(r"^(\s*[-+]?\d+),(\d+\s*)$")
    return frame.assign(**{n: frame[n].str.replace(pattern, r"\1.\2", regex=True) for n in numbers})


def _without_quotes(frame: pd.DataFrame, table: str) -> pd.DataFrame:
    """Take off the quote that keeps a spreadsheet from running a text as a formula."""
    typed = {c.name for c in TABLES[table].columns if c.kind != "text"}
    texts = [n for n in frame.columns if n not in typed]
    return frame.assign(
        **{n: frame[n].str.replace(r"^'(?=[=+\-@'])", "", regex=True) for n in texts}
    )


def _about_columns(columns: list[str], table: str, source: str) -> list[str]:
    absent = [n for n in TABLES[table].names if n not in columns]
    remarks = []
    for name in columns:
        if name in TABLES[table].names:
            continue
        near = get_close_matches(name, absent, n=1, cutoff=0.8)
        if near:
            remarks.append(
                f"WARNING {source}: column {name!r} looks like {near[0]}, but is not used as it: "
                f"it is kept as an extra note. If you meant {near[0]}, rename it and import again."
            )
        else:
            remarks.append(f"{source}: column {name!r} is not known and is kept as an extra note.")
    return remarks


def _header_problems(grid: Grid, header: list[str], source: str) -> list[Problem]:
    twice = [
        Problem(
            table=source,
            row=1,
            column=name,
            what="this column stands there twice",
            mend="Rename or take away one of the two.",
        )
        for name in dict.fromkeys(h for h in header if h and header.count(h) > 1)
    ]
    unnamed = [
        Problem(
            table=source,
            row=1,
            column="",
            what=f"column {i + 1} has cells and no name",
            mend="Write the column's name into the first row, or take it away.",
        )
        for i, h in enumerate(header)
        if not h and any(row[i] for row in grid.cells)
    ]
    return twice + unnamed
