"""What was and will be the weather, by the open service Open-Meteo?

Its days are plain 24-hour sums and extremes of the place's own time zone; across a clock change
a day may be cut an hour off. Free for non-commercial use only.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, NoReturn

import pandas as pd
import requests_cache

from data_sources.errors import SourceError, SourceMalformed
from data_sources.session import Answer, ask
from data_sources.weather.table import weather_table
from data_sources.weather.units import converter

PROVIDER = "Open-Meteo"
FORECAST_URL = "https://api.open-meteo.com/v1/forecast"
ARCHIVE_URL = "https://archive-api.open-meteo.com/v1/archive"
# to be shown next to the data, with the link; CC BY 4.0
CREDIT = "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0"
_NAMES = {
    "temp_max_c": "temperature_2m_max",
    "temp_min_c": "temperature_2m_min",
    "rain_mm": "precipitation_sum",
    "wind_max_m_s": "wind_speed_10m_max",
    "sunshine_h": "sunshine_duration",
}
_ARCHIVE_KEPT = timedelta(days=7)
_OFFSET_MAX_S = 16 * 3600


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fetched:
    """The table, a line to show (blank when all is well), and the credit to show beside it."""

    table: pd.DataFrame
    notice: str
    credit: str = CREDIT


def fetch_open_meteo(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    past_days: int = 92,
    forecast_days: int = 14,
    base_url: str = FORECAST_URL,
) -> Fetched:
    """Fetch the last days and the forecast of one place.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`.
    latitude, longitude
        WGS 84 degrees; rounded to two decimals, about a kilometre, before they leave the machine.
    past_days
        0 to 92 days before today [d].
    forecast_days
        0 to 16 days from today on [d].
    base_url
        The service, or another that speaks the same.

    Returns
    -------
    The table of `data_sources.weather.table`: days before the answer's own day are ``observed``
    (a model's analysis), the others ``forecast``. When the service fails, its last good answer
    with a notice that says its age.

    Raises
    ------
    SourceUnavailable, SourceMalformed
        No usable answer, and none kept.
    """
    params = _place(latitude, longitude) | {
        "past_days": f"{past_days:d}",
        "forecast_days": f"{forecast_days:d}",
    }
    answer = ask(session, base_url, params, check=_check, provider=PROVIDER)
    return _fetched(answer)


def fetch_open_meteo_archive(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    first: date,
    last: date,
    base_url: str = ARCHIVE_URL,
) -> Fetched:
    """Fetch past days of one place from the archive; its newest days are some days late.

    Parameters
    ----------
    session, latitude, longitude, base_url
        As for `fetch_open_meteo`.
    first, last
        First and last day wanted.

    Returns
    -------
    The table of `data_sources.weather.table`, every day ``observed`` (a model's analysis).

    Raises
    ------
    SourceUnavailable, SourceMalformed
        No usable answer, and none kept.
    """
    if last < first:
        message = f"{PROVIDER}: the last day {last} is before the first {first}. Swap them."
        raise SourceError(message)
    params = _place(latitude, longitude) | {
        "start_date": first.isoformat(),
        "end_date": last.isoformat(),
    }
    answer = ask(
        session,
        base_url,
        params,
        check=_check,
        provider=PROVIDER,
        expire_after=_ARCHIVE_KEPT,
    )
    return _fetched(answer)


def read_open_meteo(payload: object, *, fetched_at: datetime) -> pd.DataFrame:
    """Turn an answer of the service into the common table, without any network.

    Parameters
    ----------
    payload
        The answer's JSON: an object with ``daily`` and ``daily_units``.
    fetched_at
        When the answer was given, with its zone. Days before that day, in the answer's own time
        zone, are observed, the others forecast.

    Returns
    -------
    The table of `data_sources.weather.table`. Units are read from the answer. Days on which
    nothing at all is known are left out.

    Raises
    ------
    SourceMalformed
        Another shape, an unknown unit, arrays of unequal length, a value that can't be weather.
    """
    if not isinstance(payload, dict):
        _refuse(f"sent a {type(payload).__name__} instead of one place's answer")
    if payload.get("error"):
        _refuse(f"refused: {str(payload.get('reason', 'no reason given'))[:200]}")
    daily, units = _object(payload, "daily"), _object(payload, "daily_units")
    days = _days(daily)
    values = {c: _numbers(daily, units, name, c, len(days)) for c, name in _NAMES.items()}
    known = [i for i in range(len(days)) if any(v[i] is not None for v in values.values())]
    today = (fetched_at.astimezone(UTC) + timedelta(seconds=_offset_s(payload))).date()
    return weather_table(
        [days[i] for i in known],
        {c: [v[i] for i in known] for c, v in values.items()},
        kind=["observed" if days[i] < today else "forecast" for i in known],
        provider=PROVIDER,
        fetched_at=fetched_at,
        where=lambda row: f"{PROVIDER}, {days[known[row]]}",
    )


def _check(payload: object) -> None:
    # the day doesn't matter to the shape
    read_open_meteo(payload, fetched_at=datetime(2000, 1, 1, tzinfo=UTC))


def _fetched(answer: Answer) -> Fetched:
    table = read_open_meteo(answer.body, fetched_at=answer.fetched_at)
    return Fetched(table=table, notice=answer.notice)


def _place(latitude: float, longitude: float) -> dict[str, str]:
    if not (math.isfinite(latitude) and -90 <= latitude <= 90):
        message = f"{PROVIDER}: latitude {latitude} is not within -90 to 90. Mend it."
        raise SourceError(message)
    if not (math.isfinite(longitude) and -180 <= longitude <= 180):
        message = f"{PROVIDER}: longitude {longitude} is not within -180 to 180. Mend it."
        raise SourceError(message)
    return {
        # + 0.0 turns -0.0 into 0.0: one place, one question
        "latitude": f"{round(latitude, 2) + 0.0:.2f}",
        "longitude": f"{round(longitude, 2) + 0.0:.2f}",
        "daily": ",".join(_NAMES.values()),
        "wind_speed_unit": "ms",
        "timezone": "auto",
    }


def _refuse(what: str) -> NoReturn:
    message = f"{PROVIDER} {what}. Try again later."
    raise SourceMalformed(message)


def _object(payload: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = payload.get(key)
    if not isinstance(value, dict):
        _refuse(f"sent an answer without {key!r}")
    return value


def _array(daily: Mapping[str, Any], name: str) -> list[Any]:
    value = daily.get(name)
    if not isinstance(value, list):
        _refuse(f"sent an answer without the series {name!r}")
    return value


def _days(daily: Mapping[str, Any]) -> list[date]:
    days = [_date(text) for text in _array(daily, "time")]
    if None in days:
        _refuse("sent something else where a date should be")
    return [day for day in days if day is not None]


def _date(text: object) -> date | None:
    try:
        return date.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None


def _numbers(
    daily: Mapping[str, Any], units: Mapping[str, Any], name: str, column: str, length: int
) -> list[float | None]:
    cells = _array(daily, name)
    if len(cells) != length:
        _refuse(f"sent {len(cells)} values of {name!r} for {length} days")
    factor, offset = converter(column, units.get(name), PROVIDER)
    numbers: list[float | None] = []
    for cell in cells:
        if cell is None:
            numbers.append(None)
        elif isinstance(cell, bool) or not isinstance(cell, int | float) or not _finite(cell):
            _refuse(f"sent {str(cell)[:40]!r} in {name!r} where a number should be")
        else:
            numbers.append((float(cell) - offset) * factor)
    return numbers


def _finite(cell: float) -> bool:
    try:
        return math.isfinite(cell)
    except OverflowError:  # a whole number beyond any float
        return False


def _offset_s(payload: Mapping[str, Any]) -> int:
    offset = payload.get("utc_offset_seconds")
    if isinstance(offset, bool) or not isinstance(offset, int) or abs(offset) > _OFFSET_MAX_S:
        _refuse("sent an answer without a sound 'utc_offset_seconds'")
    return offset
