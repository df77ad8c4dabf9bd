"""What does every weather adapter hand back, and what does it refuse?"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime

import numpy as np
import pandas as pd

from data_sources.errors import SourceMalformed

# column: lowest and highest value that can be weather; outside it is a slip or a broken sensor
BOUNDS = {
    "temp_max_c": (-60.0, 60.0),
    "temp_min_c": (-60.0, 60.0),
    "rain_mm": (0.0, 500.0),
    "wind_max_m_s": (0.0, 75.0),
    "sunshine_h": (0.0, 24.0),
}
COLUMNS = ("date", *BOUNDS, "kind", "provider", "fetched_at")
KINDS = ("observed", "forecast", "normal")
_SHOWN = 20
_SLIP = "Check the unit and the decimal point, or leave it blank"


def weather_table(
    days: Sequence[date],
    values: Mapping[str, Sequence[float | None]],
    *,
    kind: str | Sequence[str],
    provider: str,
    fetched_at: datetime | None,
    where: Callable[[int], str],
) -> pd.DataFrame:
    """Build the common table and refuse what can't be weather.

    Parameters
    ----------
    days
        (n_days,) the place's local days.
    values
        For some columns of `BOUNDS` (n_days,) values in the column's unit; None or NaN is blank.
    kind
        observed, forecast or normal, for all days or for each.
    provider
        Who measured or forecast it.
    fetched_at
        When the answer was given; None for a file.
    where
        Names the place of row i in messages.

    Returns
    -------
    (n_days,) frame of `COLUMNS`: dates datetime64, values float64 with NaN for blank,
    `fetched_at` in UTC.

    Raises
    ------
    SourceMalformed
        Naming every value outside its bounds, every day whose maximum is below its minimum, every
        day that comes twice.
    """
    frame = pd.DataFrame({"date": pd.to_datetime(pd.Series(list(days), dtype=object))})
    frame["date"] = frame["date"].astype("datetime64[us]")
    for column in BOUNDS:
        given = values.get(column)
        cells = (
            [np.nan] * len(days) if given is None else [math.nan if v is None else v for v in given]
        )
        frame[column] = np.asarray(cells, dtype=np.float64)
    frame["kind"] = pd.Series(
        [kind] * len(days) if isinstance(kind, str) else list(kind), dtype="str"
    )
    frame["provider"] = pd.Series([provider] * len(days), dtype="str")
    stamp = pd.Timestamp(fetched_at).tz_convert("UTC") if fetched_at is not None else pd.NaT
    frame["fetched_at"] = pd.Series([stamp] * len(days), dtype="datetime64[us, UTC]")
    faults = _faults(frame, where)
    if faults:
        raise SourceMalformed(listed(faults))
    return frame


def listed(faults: Iterable[str]) -> str:
    """Join faults, one a line; of very many the first ones and how many more."""
    lines = list(faults)
    more = len(lines) - _SHOWN
    return "\n".join([*lines[:_SHOWN], f"and {more} more"] if more > 0 else lines)


def _faults(frame: pd.DataFrame, where: Callable[[int], str]) -> list[str]:
    faults: list[tuple[int, str]] = []
    for column, (low, high) in BOUNDS.items():
        cells = frame[column].to_numpy()
        bad = ~np.isnan(cells) & ~((cells >= low) & (cells <= high))
        faults += [
            (int(i), f"{column} {cells[i]:g} is outside {low:g} to {high:g}. {_SLIP}")
            for i in np.flatnonzero(bad)
        ]
    crossed = (frame["temp_max_c"] < frame["temp_min_c"]).to_numpy()
    faults += [
        (int(i), "temp_max_c is below temp_min_c. Check which column is which")
        for i in np.flatnonzero(crossed)
    ]
    twice = frame["date"].duplicated().to_numpy()
    faults += [(int(i), "this day comes twice. Keep one of the two") for i in np.flatnonzero(twice)]
    return [f"{where(i)}: {what}." for i, what in sorted(faults)]
