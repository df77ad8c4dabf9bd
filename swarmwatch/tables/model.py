"""Say what a table is, and what a column is."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "word", "number", "count", "date", "instant", "month-day"]
YES_NO = ("yes", "no")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: how its cells are read and what they may hold.

    `low` and `high` are hard limits; `least` and `most` bound the plausible: a value below `least`,
    or of `most` and above, is asked about on a terminal and refused without one. None of them is a
    trade number: they catch slips of the pen. A blank cell always means not looked or not known.
    """

    name: str
    kind: Kind
    meaning: str
    required: bool = False
    words: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    least: float | None = None
    most: float | None = None
    refers_to: str = ""

    @property
    def dtype(self) -> str:
        """The pandas dtype of the column in a conformed frame."""
        return {"number": "Float64", "count": "Int64", "date": "datetime64[us]"}.get(
            self.kind, "datetime64[us, UTC]" if self.kind == "instant" else "str"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: its columns in their order, and the columns that name a row."""

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The column names in their order."""
        return tuple(c.name for c in self.columns)

    def column(self, name: str) -> Column:
        """Return one column by name."""
        return next(c for c in self.columns if c.name == name)


def text(name: str, meaning: str, *, required: bool = False, refers_to: str = "") -> Column:
    """Make a column of free text or of a name; `refers_to` is the table that must hold the name."""
    return Column(name=name, kind="text", meaning=meaning, required=required, refers_to=refers_to)


def word(name: str, words: tuple[str, ...], meaning: str, *, required: bool = False) -> Column:
    """Make a column that holds one of a few words."""
    return Column(name=name, kind="word", meaning=meaning, required=required, words=words)


def yes_no(name: str, meaning: str) -> Column:
    """Make a column of yes or no."""
    return word(name, YES_NO, meaning)


def day(name: str, meaning: str, *, required: bool = False) -> Column:
    """Make a column of ISO dates."""
    return Column(name=name, kind="date", meaning=meaning, required=required)


def number(
    name: str,
    meaning: str,
    *,
    required: bool = False,
    low: float | None = 0.0,
    high: float | None = None,
    least: float | None = None,
    most: float | None = None,
) -> Column:
    """Make a column of decimal numbers; not negative unless `low` says otherwise."""
    return Column(
        name=name,
        kind="number",
        meaning=meaning,
        required=required,
        low=low,
        high=high,
        least=least,
        most=most,
    )


def count(
    name: str,
    meaning: str,
    *,
    required: bool = False,
    low: float = 0.0,
    least: float | None = None,
    most: float | None = None,
) -> Column:
    """Make a column of whole numbers, not negative; ``14.0`` is read as 14."""
    return Column(
        name=name, kind="count", meaning=meaning, required=required, low=low, least=least, most=most
    )
