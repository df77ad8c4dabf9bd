"""What was and will be the weather, by the open service Open-Meteo?

Its days are plain 24-hour sums and extremes of the place's own time zone; across a clock change
a day may be cut an hour off. Free for non-commercial use only.
"""

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pandas as pd
import requests_cache

from data_sources.session import Answer, ask
from data_sources.weather.fetched import Fetched, check_order, rounded
from data_sources.weather.shape import Shape, known_days
from data_sources.weather.table import weather_table

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
_SHAPE = Shape(PROVIDER)


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
    check_order(first, last, PROVIDER)
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
    answer = _SHAPE.answer(payload)
    daily, units = _SHAPE.member(answer, "daily"), _SHAPE.member(answer, "daily_units")
    days = [_SHAPE.day(text) for text in _SHAPE.array(daily, "time")]
    days, values = known_days(
        days,
        {
            c: _SHAPE.series(daily, units, name, column=c, length=len(days))
            for c, name in _NAMES.items()
        },
    )
    today = (fetched_at.astimezone(UTC) + timedelta(seconds=_offset_s(answer))).date()
    return weather_table(
        days,
        values,
        kind=["observed" if day < today else "forecast" for day in days],
        provider=PROVIDER,
        fetched_at=fetched_at,
        where=lambda row: f"{PROVIDER}, {days[row]}",
    )


def _check(payload: object) -> None:
    # the day doesn't matter to the shape
    read_open_meteo(payload, fetched_at=datetime(2000, 1, 1, tzinfo=UTC))


def _fetched(answer: Answer) -> Fetched:
    table = read_open_meteo(answer.body, fetched_at=answer.fetched_at)
    return Fetched(table=table, notice=answer.notice, credit=CREDIT)


def _place(latitude: float, longitude: float) -> dict[str, str]:
    latitude_text, longitude_text = rounded(latitude, longitude, PROVIDER)
    return {
        "latitude": latitude_text,
        "longitude": longitude_text,
        "daily": ",".join(_NAMES.values()),
        "wind_speed_unit": "ms",
        "timezone": "auto",
    }


def _offset_s(payload: Mapping[str, Any]) -> int:
    offset = payload.get("utc_offset_seconds")
    if isinstance(offset, bool) or not isinstance(offset, int) or abs(offset) > _OFFSET_MAX_S:
        _SHAPE.refuse("sent an answer without a sound 'utc_offset_seconds'")
    return offset
