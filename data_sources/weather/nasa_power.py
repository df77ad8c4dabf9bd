"""What was the weather anywhere since 1981, by NASA's POWER project?

A model's analysis on squares of half a degree: no local frost, and the newest days are missing.
Its days run by local solar time, about the longitude over 15 hours from UTC and without summer
time, so they are off the civil day by an hour in most places, and by three at the most.
"""

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pandas as pd
import requests_cache

from data_sources.errors import SourceUnavailable
from data_sources.session import ask
from data_sources.weather.fetched import Fetched, check_order, rounded, within
from data_sources.weather.shape import Shape, known_days, one_line
from data_sources.weather.table import weather_table
from data_sources.weather.units import converter

PROVIDER = "NASA POWER"
URL = "https://power.larc.nasa.gov/api/temporal/daily/point"
CREDIT = (
    "Weather data from the POWER Project of NASA's Langley Research Center "
    "(https://power.larc.nasa.gov/)"
)
_NAMES = {
    "temp_max_c": "T2M_MAX",
    "temp_min_c": "T2M_MIN",
    "rain_mm": "PRECTOTCORR",
    "wind_max_m_s": "WS10M_MAX",
}
_SHAPE = Shape(PROVIDER)
_KEPT = timedelta(days=7)


def fetch_nasa_power(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    first_day: date,
    last_day: date,
    today: date,
    base_url: str = URL,
) -> Fetched:
    """Fetch past days of one place; the newest are some days late.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`.
    latitude, longitude
        WGS 84 degrees; rounded to two decimals, about a kilometre, before they leave the machine.
    first_day, last_day
        First and last day wanted.
    today
        The day it is at the place: days from it on are not asked for.
    base_url
        The service, or another that speaks the same.

    Returns
    -------
    The table of `data_sources.weather.table`, every day ``observed`` (a model's analysis), without
    sunshine.

    Raises
    ------
    SourceUnavailable, SourceMalformed, SourceError
        No usable answer, and none kept; only days to come were asked for.
    """
    check_order(first_day, last_day, PROVIDER)
    last = min(last_day, today - timedelta(days=1))
    if last < first_day:
        message = f"{PROVIDER} knows no days to come. Ask for days before {today}."
        raise SourceUnavailable(message)
    here, there = rounded(latitude, longitude, PROVIDER)
    params = {
        "parameters": ",".join(_NAMES.values()),
        "community": "AG",
        "latitude": here,
        "longitude": there,
        "start": f"{first_day:%Y%m%d}",
        "end": f"{last:%Y%m%d}",
        "format": "JSON",
        "time-standard": "LST",
    }
    answer = ask(session, base_url, params, check=_check, provider=PROVIDER, expire_after=_KEPT)
    table = read_nasa_power(answer.body, fetched_at=answer.fetched_at)
    return Fetched(table=within(table, first_day, last), notice=answer.notice, credit=CREDIT)


def read_nasa_power(payload: object, *, fetched_at: datetime) -> pd.DataFrame:
    """Turn an answer of the service into the common table, without any network.

    Parameters
    ----------
    payload
        The answer's JSON: a feature with ``properties.parameter``, ``header`` and ``parameters``.
    fetched_at
        When the answer was given, with its zone.

    Returns
    -------
    The table of `data_sources.weather.table`, every day ``observed``. Units, and the value that
    stands for missing, are read from the answer. Days on which nothing is known are left out.

    Raises
    ------
    SourceMalformed
        Another shape, an unknown unit, days that are not of local solar time, a value that can't
        be weather.
    """
    answer = _SHAPE.answer(payload)
    if "properties" not in answer and (said := answer.get("detail") or answer.get("messages")):
        _SHAPE.refuse(f"refused: {one_line(said)}")
    header = _SHAPE.member(answer, "header")
    missing = _SHAPE.number(header.get("fill_value"), "fill_value")
    if missing is None:
        _SHAPE.refuse("sent an answer without its 'fill_value'")
    if header.get("time_standard") != "LST":
        _SHAPE.refuse(f"sent days by {one_line(header.get('time_standard'))} and not by LST")
    told = {c: _series(answer, name, c, missing) for c, name in _NAMES.items()}
    days = sorted(set().union(*told.values()))
    days, values = known_days(days, {c: [v.get(d) for d in days] for c, v in told.items()})
    return weather_table(
        days,
        values,
        kind="observed",
        provider=PROVIDER,
        fetched_at=fetched_at,
        where=lambda row: f"{PROVIDER}, {days[row]}",
    )


def _check(payload: object) -> None:
    # the day doesn't matter to the shape
    read_nasa_power(payload, fetched_at=datetime(2000, 1, 1, tzinfo=UTC))


def _series(
    answer: Mapping[str, Any], name: str, column: str, missing: float
) -> dict[date, float | None]:
    """Return the days of one parameter in our unit, None where it is missing."""
    cells = _SHAPE.member(_SHAPE.member(_SHAPE.member(answer, "properties"), "parameter"), name)
    unit = _SHAPE.member(_SHAPE.member(answer, "parameters"), name).get("units")
    scale = converter(column, unit, PROVIDER)
    return {
        _SHAPE.day(text, "%Y%m%d"): (None if cell == missing else _SHAPE.scaled(cell, name, scale))
        for text, cell in cells.items()
    }
