"""How far apart are the forecasts of one model started many times, by Open-Meteo's ensemble?

Days as in `data_sources.weather.open_meteo`: plain 24-hour sums and extremes of the place's own
time zone. Free for non-commercial use only. The members are of one model: they are nearer to each
other than to the truth, and a spread that is used as an error should be judged against what came.
"""

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pandas as pd
import requests_cache

from data_sources.session import ask
from data_sources.weather.fetched import Fetched, check_order, rounded, within
from data_sources.weather.open_meteo import CREDIT
from data_sources.weather.shape import Shape, known_days
from data_sources.weather.table import BOUNDS, weather_table

PROVIDER = "Open-Meteo ensemble"
URL = "https://ensemble-api.open-meteo.com/v1/ensemble"
MODEL = "ecmwf_ifs025"  # 51 members, 15 days, the whole world
_NAMES = {
    "temp_max_c": "temperature_2m_max",
    "temp_min_c": "temperature_2m_min",
    "rain_mm": "precipitation_sum",
    "wind_max_m_s": "wind_speed_10m_max",
}
_NEEDED = ("temp_max_c", "temp_min_c")
_SHAPE = Shape(PROVIDER)
_KEPT = timedelta(hours=6)  # the model is run four times a day
_MEMBERS_MOST = 200


def fetch_open_meteo_ensemble(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    first_day: date,
    last_day: date,
    today: date,  # noqa: ARG001 - of the common call
    model: str = MODEL,
    base_url: str = URL,
) -> Fetched:
    """Fetch the members of one place's forecast.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`.
    latitude, longitude
        WGS 84 degrees; rounded to two decimals, about a kilometre, before they leave the machine.
    first_day, last_day
        First and last day wanted; the service refuses days beyond the model's reach, 15 from
        today for the one that is asked by default.
    today
        Not used: every row is forecast.
    model
        One of the service's ensembles.
    base_url
        The service, or another that speaks the same.

    Returns
    -------
    The long table of `read_open_meteo_ensemble`.

    Raises
    ------
    SourceUnavailable, SourceMalformed, SourceError
        No usable answer, and none kept.
    """
    check_order(first_day, last_day, PROVIDER)
    here, there = rounded(latitude, longitude, PROVIDER)
    params = {
        "latitude": here,
        "longitude": there,
        "daily": ",".join(_NAMES.values()),
        "models": model,
        "wind_speed_unit": "ms",
        "timezone": "auto",
        "start_date": first_day.isoformat(),
        "end_date": last_day.isoformat(),
    }
    answer = ask(session, base_url, params, check=_check, provider=PROVIDER, expire_after=_KEPT)
    table = read_open_meteo_ensemble(answer.body, fetched_at=answer.fetched_at)
    return Fetched(table=within(table, first_day, last_day), notice=answer.notice, credit=CREDIT)


def read_open_meteo_ensemble(payload: object, *, fetched_at: datetime) -> pd.DataFrame:
    """Turn an answer of the service into one table of all members, without any network.

    Parameters
    ----------
    payload
        The answer's JSON: an object with ``daily`` and ``daily_units``, one series a member.
    fetched_at
        When the answer was given, with its zone.

    Returns
    -------
    (n_members x n_days,) the columns of `data_sources.weather.table` and then ``member``: 0 the
    undisturbed run, 1 and up the others. The rows of one member are a whole common table; every
    row is ``forecast``. Units are read from the answer.

    Raises
    ------
    SourceMalformed
        Another shape, an unknown unit, series of unequal length, members that differ by variable,
        a value that can't be weather.
    """
    answer = _SHAPE.answer(payload)
    daily, units = _SHAPE.member(answer, "daily"), _SHAPE.member(answer, "daily_units")
    days = [_SHAPE.day(text) for text in _SHAPE.array(daily, "time")]
    tables = [_member_table(daily, units, days, member, fetched_at) for member in _members(daily)]
    return pd.concat(tables, ignore_index=True)


def spread_by_day(table: pd.DataFrame, *, low: float = 0.1, high: float = 0.9) -> pd.DataFrame:
    """Say how far the members lie apart, day by day.

    Parameters
    ----------
    table
        From `read_open_meteo_ensemble`.
    low, high
        Shares of the members [0..1].

    Returns
    -------
    (n_days,) index ``date``; for every value column its ``..._low``, ``..._mid`` (the median) and
    ``..._high`` among the members that tell it, and ``members``, how many tell the maximum.
    """
    by_day = table.groupby("date")
    shares = {"low": low, "mid": 0.5, "high": high}
    spread = {
        f"{column}_{name}": by_day[column].quantile(share)
        for column in BOUNDS
        for name, share in shares.items()
    }
    return pd.DataFrame(spread).assign(members=by_day["temp_max_c"].count())


def _check(payload: object) -> None:
    # the day doesn't matter to the shape
    read_open_meteo_ensemble(payload, fetched_at=datetime(2000, 1, 1, tzinfo=UTC))


def _members(daily: Mapping[str, Any]) -> list[int]:
    """Return the numbers of the members; each has both temperatures."""
    found = []
    for column in _NEEDED:
        name = re.compile(re.escape(_NAMES[column]) + r"(?:_member(\d{1,3}))?")
        matches = [m for key in daily if (m := name.fullmatch(key))]
        found.append(sorted(int(m.group(1) or 0) for m in matches))
    if found[0] != found[1] or not 0 < len(found[0]) <= _MEMBERS_MOST:
        _SHAPE.refuse("sent an answer without whole members")
    if len(set(found[0])) < len(found[0]):
        _SHAPE.refuse("sent a member twice")
    return found[0]


def _member_table(
    daily: Mapping[str, Any],
    units: Mapping[str, Any],
    days: list[date],
    member: int,
    fetched_at: datetime,
) -> pd.DataFrame:
    suffix = f"_member{member:02d}" if member else ""
    values = {
        column: _SHAPE.series(daily, units, name + suffix, column=column, length=len(days))
        for column, name in _NAMES.items()
        if column in _NEEDED or name + suffix in daily
    }
    known, values = known_days(days, values)
    table = weather_table(
        known,
        values,
        kind="forecast",
        provider=PROVIDER,
        fetched_at=fetched_at,
        where=lambda row: f"{PROVIDER}, member {member}, {known[row]}",
    )
    return table.assign(member=member)
