"""Hold one sheet of cells as text, before anybody knows which table it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from swarmwatch.errors import Problem, RecordsError


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault of the sheet itself, in row `row` as the spreadsheet counts."""

    row: int
    what: str
    mend: str
    column: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """One sheet: a header and rows of equal width, cells as text, '' where blank.

    `rows` holds each row's number as the spreadsheet counts, the header being 1.
    """

    name: str
    header: Sequence[str]
    cells: Sequence[Sequence[str]]
    rows: Sequence[int]
    faults: Sequence[Fault] = ()
    said: Sequence[str] = ()
    decimal_comma: bool = False

    def problems(self, source: str) -> list[Problem]:
        """Return the faults as problems of the file `source`."""
        return [
            Problem(table=source, row=f.row, column=f.column, what=f.what, mend=f.mend)
            for f in self.faults
        ]

    def remarks(self, source: str) -> list[str]:
        """Return what was read otherwise than written, as lines about the file `source`."""
        return [f"{source}: {text}" for text in self.said]


def make_grid(
    name: str,
    lines: Sequence[Sequence[str]],
    *,
    faults: Sequence[Fault] = (),
    said: Sequence[str] = (),
    decimal_comma: bool = False,
) -> Grid:
    """Make a grid of lines of cells: the first that isn't blank is the header.

    Blank lines are left out, short ones filled; a line with more cells than the header is a fault.
    """
    numbered = [(i, line) for i, line in enumerate(lines, 1) if any(c.strip() for c in line)]
    if not numbered:
        blank = Fault(
            row=0, what="the file holds no header", mend="Write the columns' names first."
        )
        return Grid(name=name, header=(), cells=(), rows=(), faults=(*faults, blank), said=said)
    (_, header), *body = numbered
    width = max((i + 1 for i, h in enumerate(header) if h.strip()), default=0)
    found = list(faults)
    for row, line in body:
        if any(c.strip() for c in line[max(width, len(header)) :]):
            found.append(
                Fault(
                    row=row,
                    what=f"this row has {len(line)} cells and the header {len(header)}",
                    mend='Put a text that holds the separator into quotes: "so, and so".',
                )
            )
    width = max(width, len(header))
    cells = [[*line[:width], *[""] * (width - len(line))] for _, line in body]
    return Grid(
        name=name,
        header=list(header),
        cells=cells,
        rows=[row for row, _ in body],
        faults=found,
        said=said,
        decimal_comma=decimal_comma,
    )


def refusal(path: Path, what: str, mend: str) -> RecordsError:
    """Return the error of a file that can't be read at all; `mend` lacks its full stop."""
    return RecordsError([Problem(table=path.name, row=0, column="", what=what, mend=f"{mend}.")])


def text_of(cell: object) -> str:
    """Return a value as the text that a CSV file would hold, '' where there is none."""
    if cell is None or cell != cell:  # noqa: PLR0124 - of all values only not-a-number differs from itself
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat()
    if isinstance(cell, date | time):
        return cell.isoformat()
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return str(cell)
