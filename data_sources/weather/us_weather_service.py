"""What will the weather be, by the US National Weather Service?

Its forecast comes as periods told in UTC; they are cut into days of the place's own clock. The
service names the zone. The maximum is that of the daytime period that begins on the day, the
minimum that of the night that ends on it, so a day whose warmest hour is at midnight is told too
cool. A day that the forecast doesn't cover from midnight to midnight, such as today, has no rain
and no wind. The United States only; a User-Agent with a contact is asked for.
"""

import re
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import requests_cache

from data_sources.session import ask
from data_sources.weather.fetched import Fetched, check_order, joined, rounded, within
from data_sources.weather.local_days import Span, days_of, extremes, ordered, total, zone_of
from data_sources.weather.shape import Shape, known_days, one_line
from data_sources.weather.table import weather_table
from data_sources.weather.units import converter

PROVIDER = "US National Weather Service"
URL = "https://api.weather.gov"
CREDIT = "Forecast by the US National Weather Service (https://www.weather.gov/), public domain"
_SHAPE = Shape(PROVIDER)
# a place's square of the forecast grid moves now and then
_SQUARE_KEPT = timedelta(days=1)
_DURATION = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,3})H)?(?:(\d{1,3})M)?)?")
_LONGEST = timedelta(days=10)
# its days and nights are 13 and 14 hours long; a shorter one has begun, and its extreme is that
# of what is left of it
_PERIOD_LEAST = timedelta(hours=9)
_HOUR = timedelta(hours=1)


def fetch_us_weather_service(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    first_day: date,
    last_day: date,
    today: date,  # noqa: ARG001 - of the common call
    base_url: str = URL,
) -> Fetched:
    """Fetch the forecast of one place, about seven days.

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
    base_url
        The service, or another that speaks the same.

    Returns
    -------
    The table of `data_sources.weather.table`, every row ``forecast``, without sunshine.

    Raises
    ------
    SourceUnavailable, SourceMalformed, SourceError
        No usable answer, and none kept; a place it doesn't know.
    """
    check_order(first_day, last_day, PROVIDER)
    place = ",".join(rounded(latitude, longitude, PROVIDER))
    square = ask(
        session,
        f"{base_url}/points/{place}",
        {},
        check=_square,
        provider=PROVIDER,
        expire_after=_SQUARE_KEPT,
    )
    path, zone = _square(square.body)

    def check(payload: object) -> None:
        read_us_weather_service(payload, zone=zone, fetched_at=square.fetched_at)

    answer = ask(session, f"{base_url}/gridpoints/{path}", {}, check=check, provider=PROVIDER)
    table = read_us_weather_service(answer.body, zone=zone, fetched_at=answer.fetched_at)
    return Fetched(
        table=within(table, first_day, last_day),
        notice=joined(square.notice, answer.notice),
        credit=CREDIT,
    )


def read_us_weather_service(payload: object, *, zone: str, fetched_at: datetime) -> pd.DataFrame:
    """Turn a forecast of one square of the grid into the common table, without any network.

    Parameters
    ----------
    payload
        The JSON of ``/gridpoints/...``.
    zone
        The place's time zone, from ``timeZone`` of ``/points/...``.
    fetched_at
        When the answer was given, with its zone.

    Returns
    -------
    The table of `data_sources.weather.table`, every row ``forecast``. Units are read from the
    answer. Days of which nothing is known whole are left out.

    Raises
    ------
    SourceMalformed, SourceError
        Another shape, an unknown unit or zone, amounts of one time told twice, a value that can't
        be weather.
    """
    where = zone_of(zone, PROVIDER)
    layers = _layers(payload)
    highs = _periods(layers, "maxTemperature", "temp_max_c")
    lows = _periods(layers, "minTemperature", "temp_min_c")
    rain = _whole(_spans(layers, "quantitativePrecipitation", "rain_mm"))
    wind = _hours(_whole(_spans(layers, "windSpeed", "wind_max_m_s")))
    days = days_of([*highs, *lows, *rain, *wind], where)
    values: dict[str, list[float | None]] = {
        "temp_max_c": _by_day(highs, days, where, at_end=False),
        "temp_min_c": _by_day(lows, days, where, at_end=True),
        "rain_mm": [total(rain, day, where) for day in days],
        "wind_max_m_s": [extremes(wind, day, where)[1] for day in days],
    }
    days, values = known_days(days, values)
    return weather_table(
        days,
        values,
        kind="forecast",
        provider=PROVIDER,
        fetched_at=fetched_at,
        where=lambda row: f"{PROVIDER}, {days[row]}",
    )


def _square(payload: object) -> tuple[str, str]:
    """Return where a place's forecast is and its zone; the service's own URL is not followed."""
    properties = _properties(payload)
    office, zone = _SHAPE.text(properties, "gridId"), _SHAPE.text(properties, "timeZone")
    x, y = (properties.get(name) for name in ("gridX", "gridY"))
    if not re.fullmatch(r"[A-Z]{3}", office) or not _is_count(x) or not _is_count(y):
        _SHAPE.refuse("sent a place without its square of the grid")
    zone_of(zone, PROVIDER)
    return f"{office}/{x},{y}", zone


def _properties(payload: object) -> Mapping[str, Any]:
    answer = _SHAPE.answer(payload)
    if "detail" in answer and "properties" not in answer:
        _SHAPE.refuse(f"refused: {one_line(answer['detail'])}")
    return _SHAPE.member(answer, "properties")


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 10_000


def _layers(payload: object) -> Mapping[str, Any]:
    properties = _properties(payload)
    if "maxTemperature" not in properties or "minTemperature" not in properties:
        _SHAPE.refuse("sent a forecast without temperatures")
    return properties


def _spans(layers: Mapping[str, Any], name: str, column: str) -> list[Span]:
    """Return a layer's values in our unit, nulls left out; none for a layer that isn't there."""
    if name not in layers:
        return []
    layer = _SHAPE.member(layers, name)
    cells = _SHAPE.array(layer, "values")
    if not cells:
        return []  # its unit may be null
    unit = layer.get("uom")
    named = unit.removeprefix("wmoUnit:") if isinstance(unit, str) else unit
    scale = converter(column, named, PROVIDER)
    spans = []
    for cell in cells:
        if not isinstance(cell, dict):
            _SHAPE.refuse(f"sent something else where a value of {name!r} should be")
        start, end = _time(cell.get("validTime"))
        value = _SHAPE.scaled(cell.get("value"), name, scale)
        if value is not None:
            spans.append(Span(start=start, end=end, low=value, high=value))
    return spans


def _time(text: object) -> tuple[datetime, datetime]:
    """Return start and end of a time written as start/duration."""
    begin, _, lasts = text.partition("/") if isinstance(text, str) else ("", "", "")
    found = _DURATION.fullmatch(lasts)
    if found is None:
        _SHAPE.refuse("sent something else where a time and its length should be")
    days, hours, minutes = (int(part or 0) for part in found.groups())
    length = timedelta(days=days, hours=hours, minutes=minutes)
    if not timedelta() < length <= _LONGEST:
        _SHAPE.refuse(f"sent a period of {length}")
    start = _SHAPE.instant(begin)
    return start, start + length


def _whole(spans: list[Span]) -> list[Span]:
    found = ordered(spans)
    if found is None:
        _SHAPE.refuse("sent two values for one time")
    return found


def _hours(spans: list[Span]) -> list[Span]:
    """Cut runs of one value into hours, so that each counts for its own day."""
    cut = []
    for span in spans:
        start = span.start
        while start < span.end:
            end = min(start + _HOUR, span.end)
            cut.append(Span(start=start, end=end, low=span.low, high=span.high))
            start = end
    return cut


def _periods(layers: Mapping[str, Any], name: str, column: str) -> list[Span]:
    return [s for s in _spans(layers, name, column) if s.end - s.start >= _PERIOD_LEAST]


def _by_day(
    periods: list[Span], days: list[date], zone: ZoneInfo, *, at_end: bool
) -> list[float | None]:
    """Return each day's value of the period that begins, or ends, on it."""
    told: dict[date, float] = {}
    for period in periods:
        day = (period.end if at_end else period.start).astimezone(zone).date()
        if day in told:
            _SHAPE.refuse(f"sent two extremes for {day}")
        told[day] = period.high
    return [told.get(day) for day in days]
