"""What will the weather be, anywhere, by MET Norway's location forecast?

Its steps are told in UTC, hourly for about two and a half days, then six-hourly; they are cut into
days of the place's own clock. A six-hourly stretch that runs over midnight counts for the day that
holds its middle, so far days may be cut up to three hours off. A day that isn't covered from
midnight to midnight, such as today, is blank, and so is the wind of a six-hourly day: four readings
may miss its greatest. CC BY 4.0; a User-Agent with a contact is demanded, no more than 20 requests
a second of all users together.
"""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

import pandas as pd
import requests_cache

from data_sources.session import ask
from data_sources.weather.fetched import Fetched, check_order, rounded, within
from data_sources.weather.local_days import (
    Span,
    days_of,
    extremes,
    ordered,
    total,
    zone_by_longitude,
    zone_of,
)
from data_sources.weather.shape import Shape, known_days
from data_sources.weather.table import weather_table
from data_sources.weather.units import converter

PROVIDER = "MET Norway"
# the longer form: only it has the extremes of six-hourly steps
URL = "https://api.met.no/weatherapi/locationforecast/2.0/complete"
CREDIT = "Forecast by MET Norway (https://www.met.no/), CC BY 4.0"
_SHAPE = Shape(PROVIDER)
_STEPS = {"next_1_hours": timedelta(hours=1), "next_6_hours": timedelta(hours=6)}


def fetch_met_norway(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    first_day: date,
    last_day: date,
    today: date,  # noqa: ARG001 - of the common call
    zone: str | None = None,
    elevation_m: float | None = None,
    base_url: str = URL,
) -> Fetched:
    """Fetch the forecast of one place, nine or ten days.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`, with a contact in its User-Agent.
    latitude, longitude
        WGS 84 degrees; rounded to two decimals, about a kilometre, before they leave the machine.
    first_day, last_day
        First and last day wanted; what the service doesn't tell of is left out.
    today
        Not used: every row is forecast.
    zone
        The place's time zone, such as ``Europe/Oslo``. None takes the whole hours that the sun
        keeps at the longitude: off the civil day by an hour in most places, by three at the most.
    elevation_m
        Of the place [m]; outside the Nordic lands the service's own terrain is coarse.
    base_url
        The service, or another that speaks the same.

    Returns
    -------
    The table of `data_sources.weather.table`, every row ``forecast``, without sunshine.

    Raises
    ------
    SourceUnavailable, SourceMalformed, SourceError
        No usable answer, and none kept; a zone or place that isn't.
    """
    check_order(first_day, last_day, PROVIDER)
    here, there = rounded(latitude, longitude, PROVIDER)
    params = {"lat": here, "lon": there}
    if elevation_m is not None:
        params["altitude"] = f"{elevation_m:.0f}"
    clock = zone if zone is not None else zone_by_longitude(longitude)
    zone_of(clock, PROVIDER)

    def check(payload: object) -> None:
        # the day doesn't matter to the shape
        read_met_norway(payload, zone=clock, fetched_at=datetime.fromisoformat("2000-01-01T00Z"))

    answer = ask(session, base_url, params, check=check, provider=PROVIDER)
    table = read_met_norway(answer.body, zone=clock, fetched_at=answer.fetched_at)
    return Fetched(table=within(table, first_day, last_day), notice=answer.notice, credit=CREDIT)


def read_met_norway(payload: object, *, zone: str, fetched_at: datetime) -> pd.DataFrame:
    """Turn an answer of the service into the common table, without any network.

    Parameters
    ----------
    payload
        The answer's JSON, ``compact`` or ``complete``; the former has no extremes of its
        six-hourly steps, so their days have no temperatures.
    zone
        The place's time zone by its IANA name.
    fetched_at
        When the answer was given, with its zone.

    Returns
    -------
    The table of `data_sources.weather.table`, every row ``forecast``. Units are read from the
    answer. Days of which nothing is known whole are left out.

    Raises
    ------
    SourceMalformed, SourceError
        Another shape, an unknown unit or zone, one time told twice, a value that can't be weather.
    """
    where = zone_of(zone, PROVIDER)
    properties = _SHAPE.member(_SHAPE.answer(payload), "properties")
    units = _SHAPE.member(_SHAPE.member(properties, "meta"), "units")
    series = _SHAPE.array(properties, "timeseries")
    steps = [step for cell in series if (step := _step(cell)) is not None]
    warmth = _ordered(_warmth(steps, units))
    rain = _ordered(_of_step(steps, "precipitation_amount", "rain_mm", units))
    wind = _ordered(_of_hour(steps, "wind_speed", "wind_max_m_s", units))
    days = days_of([*warmth, *rain, *wind], where)
    days, values = known_days(
        days,
        {
            "temp_min_c": [extremes(warmth, day, where)[0] for day in days],
            "temp_max_c": [extremes(warmth, day, where)[1] for day in days],
            "rain_mm": [total(rain, day, where) for day in days],
            "wind_max_m_s": [extremes(wind, day, where)[1] for day in days],
        },
    )
    return weather_table(
        days,
        values,
        kind="forecast",
        provider=PROVIDER,
        fetched_at=fetched_at,
        where=lambda row: f"{PROVIDER}, {days[row]}",
    )


class _Step:
    """One step: from when to when, what holds at its start, what holds over it."""

    def __init__(
        self, start: datetime, lasts: timedelta, now: Mapping[str, Any], over: Mapping[str, Any]
    ) -> None:
        self.start, self.end = start, start + lasts
        self.hourly = lasts == _STEPS["next_1_hours"]
        self.now, self.over = now, over

    def span(self, low: float, high: float) -> Span:
        return Span(start=self.start, end=self.end, low=low, high=high)


def _step(cell: object) -> _Step | None:
    """Return a step, hourly where the service tells of the next hour; None for the last reading."""
    if not isinstance(cell, dict):
        _SHAPE.refuse("sent something else where a step should be")
    start = _SHAPE.instant(cell.get("time"))
    data = _SHAPE.member(cell, "data")
    now = _SHAPE.member(_SHAPE.member(data, "instant"), "details")
    for name, lasts in _STEPS.items():
        if name in data:
            over = _SHAPE.member(data, name).get("details", {})
            if not isinstance(over, dict):
                _SHAPE.refuse(f"sent {name!r} without its details")
            return _Step(start, lasts, now, over)
    return None


def _ordered(spans: list[Span]) -> list[Span]:
    found = ordered(spans)
    if found is None:
        _SHAPE.refuse("sent two values for one time")
    return found


def _warmth(steps: list[_Step], units: Mapping[str, Any]) -> list[Span]:
    """Return the least and greatest temperature of each step that tells them."""
    spans = _of_hour(steps, "air_temperature", "temp_max_c", units)
    for step in steps:
        if not step.hourly:
            low = _value(step.over, "air_temperature_min", "temp_min_c", units)
            high = _value(step.over, "air_temperature_max", "temp_max_c", units)
            if low is not None and high is not None:
                spans.append(step.span(low, high))
    return spans


def _of_hour(steps: list[_Step], name: str, column: str, units: Mapping[str, Any]) -> list[Span]:
    """Return the readings of the hourly steps."""
    told = [(s, _value(s.now, name, column, units)) for s in steps if s.hourly]
    return [s.span(value, value) for s, value in told if value is not None]


def _of_step(steps: list[_Step], name: str, column: str, units: Mapping[str, Any]) -> list[Span]:
    """Return the amounts of all steps."""
    told = [(s, _value(s.over, name, column, units)) for s in steps]
    return [s.span(value, value) for s, value in told if value is not None]


def _value(
    details: Mapping[str, Any], name: str, column: str, units: Mapping[str, Any]
) -> float | None:
    if name not in details:
        return None
    return _SHAPE.scaled(details[name], name, converter(column, units.get(name), PROVIDER))
