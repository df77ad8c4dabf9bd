"""What can go wrong, in the keeper's words.

SwarmwatchError
    RecordsError       cells of a table that can't be read or don't fit together
    EvidenceError      an evidence file that breaks its own rules
    PlanInfeasible     no box plan can meet what was asked
    StoreError         the records file or database can't be opened, read or written
    UsageError         a command or function asked for something that isn't there

Faults of weather and land services are `data_sources.errors.SourceUnavailable`: that package is
usable alone and knows nothing of this one. The command line turns either into plain lines.
"""

from collections.abc import Iterable
from dataclasses import dataclass


class SwarmwatchError(Exception):
    """Base of every error that a keeper can mend."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One faulty cell: where it stands, what is wrong and how to mend it.

    `row` counts as the spreadsheet does (the header is row 1); 0 means the table as a whole.
    `column` is "" when the fault is of the row or the table.
    """

    table: str
    row: int
    column: str
    what: str
    mend: str

    def __str__(self) -> str:
        place = self.table
        if self.row:
            place += f" row {self.row}"
        if self.column:
            place += f", {self.column}"
        return f"{place}: {self.what}. {self.mend}"


class RecordsError(SwarmwatchError, ValueError):
    """Cells of a table that can't be used; carries every problem found, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))


class EvidenceError(SwarmwatchError):
    """An evidence entry is missing, malformed or outside its own range."""


class PlanInfeasible(SwarmwatchError):  # noqa: N818 - the design fixes the name
    """No set of sites meets the count, spacing, permission and keep-out that were asked for."""


class StoreError(SwarmwatchError):
    """The records can't be opened, read or written."""


class UsageError(SwarmwatchError, ValueError):
    """Something was asked for that isn't there or doesn't go together."""
