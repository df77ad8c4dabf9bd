"""How far apart did the members of an ensemble forecast lie?

An ensemble comes as two rows of table ``weather`` a day, its low and its high tenth, kept under
providers of their own. They are never a day's forecast: they say how sure the forecast is.
"""

from statistics import NormalDist

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather.arrays import Floats
from swarmwatch.weather.book import VALUES, Flags, Integers, WeatherBook, first_a_day

LOW, HIGH = " (low tenth)", " (high tenth)"
# definition: what lies between the tenths of a normal distribution, in standard deviations
_TENTHS_SD = 2 * NormalDist().inv_cdf(9 / 10)
_TEMP = 0  # column of `VALUES` in a book


def ensemble_rows(
    spread: pd.DataFrame,
    *,
    apiary: str,
    provider: str,
    fetched_at: pd.Timestamp,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Make the rows of table ``weather`` that keep an ensemble's spread.

    Parameters
    ----------
    spread
        (n_days,) index ``date``; for each value column its tenths, such as ``temp_max_c_low`` and
        ``temp_max_c_high``, and ``members``, how many there are.
    apiary, provider, fetched_at
        The yard, who forecast, and when the answer was given.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    Two rows a day, of kind forecast; days without both temperatures, or with fewer than
    ``weather.ensemble_members_min`` members, are left out.
    """
    least = (load_evidence() if evidence is None else evidence).value(
        "weather.ensemble_members_min"
    )
    spread = spread[spread["members"] >= least]
    parts = []
    for tenth, words in (("low", LOW), ("high", HIGH)):
        cells = {name: spread[f"{name}_{tenth}"].to_numpy(dtype=float) for name in VALUES}
        part = pd.DataFrame({"apiary": apiary, "date": spread.index, **cells})
        parts.append(part.assign(kind="forecast", provider=provider + words))
    rows = pd.concat(parts, ignore_index=True).assign(fetched_at=fetched_at)
    return rows.dropna(subset=list(VALUES[:2])).reset_index(drop=True)


def tenths(book: WeatherBook) -> Flags:
    """Return which rows (n_rows,) are a tenth of an ensemble, so no forecast of their own."""
    return _ends(book, LOW) | _ends(book, HIGH)


def ensemble_sd_c(book: WeatherBook, days: Integers) -> Floats:
    """Return the members' spread of the maximum on each day (n_days,) [C]; NaN where there is none.

    Parameters
    ----------
    book
        Rows that may be used on the evening asked for.
    days
        Days since 1970, in a row.
    """
    ends = np.full((2, len(days)), np.nan)
    for i, words in enumerate((LOW, HIGH)):
        rows = book.take(_ends(book, words))
        rows = first_a_day(rows, [-(rows.fetched // 2)])
        place = rows.day - days[0] if len(days) else rows.day
        inside = (place >= 0) & (place < len(days))
        ends[i, place[inside]] = rows.cells[inside, _TEMP]
    return np.asarray(np.maximum(ends[1] - ends[0], 0.0) / _TENTHS_SD)


def _ends(book: WeatherBook, words: str) -> Flags:
    return np.char.endswith(book.provider.astype(str), words)
