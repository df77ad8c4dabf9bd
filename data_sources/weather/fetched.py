"""What does a fetch of weather hand back, and what does every fetch check before it asks?"""

import math
from dataclasses import dataclass
from datetime import date

import pandas as pd

from data_sources.errors import SourceError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fetched:
    """The table, a line to show (blank when all is well), and the credit to show beside it."""

    table: pd.DataFrame
    notice: str
    credit: str


def rounded(latitude: float, longitude: float, provider: str) -> tuple[str, str]:
    """Write a place for a question to a service: two decimals, about a kilometre.

    Raises
    ------
    SourceError
        A place that is not on the globe.

    Examples
    --------
    >>> rounded(51.49876, -0.00123, "Invented")
    ('51.50', '0.00')
    """
    for name, value, most in (("latitude", latitude, 90), ("longitude", longitude, 180)):
        if not (math.isfinite(value) and -most <= value <= most):
            message = f"{provider}: {name} {value} is not within -{most} to {most}. Mend it."
            raise SourceError(message)
    # + 0.0 turns -0.0 into 0.0: one place, one question
    return f"{round(latitude, 2) + 0.0:.2f}", f"{round(longitude, 2) + 0.0:.2f}"


def check_order(first_day: date, last_day: date, provider: str) -> None:
    """Refuse days that are the wrong way round.

    Raises
    ------
    SourceError
        The last day is before the first.
    """
    if last_day < first_day:
        message = f"{provider}: the last day {last_day} is before the first {first_day}. Swap them."
        raise SourceError(message)


def within(table: pd.DataFrame, first_day: date, last_day: date) -> pd.DataFrame:
    """Return the rows of a weather table from the first to the last day."""
    wanted = table["date"].between(pd.Timestamp(first_day), pd.Timestamp(last_day))
    return table[wanted].reset_index(drop=True)


def joined(*notices: str) -> str:
    """Join lines to show, each once, without the blank ones."""
    return " ".join(dict.fromkeys(n for n in notices if n))
