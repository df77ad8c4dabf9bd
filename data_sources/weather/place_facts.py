"""How high does a place lie, in which time zone, and may its coordinates have been swapped?"""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import requests_cache

from data_sources.errors import SourceMalformed
from data_sources.session import ask
from data_sources.weather.fetched import rounded
from data_sources.weather.open_meteo import FORECAST_URL, PROVIDER

_KEPT = timedelta(days=365)  # neither hill nor zone moves
_HEIGHT_M = (-500.0, 9_000.0)
_DEGREES_AN_HOUR = 15.0
# a zone may lie so far from its sun, and no farther [h]: the widest on Earth is about 3.5
_OFF_MOST_H = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceFacts:
    """Height of the ground [m] and name of the time zone; None where the service has none."""

    elevation_m: float | None
    time_zone: str | None


def place_facts(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    base_url: str = FORECAST_URL,
) -> PlaceFacts:
    """Ask how high a place lies and which time zone it keeps; asked once a year.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`.
    latitude, longitude
        WGS 84 degrees; rounded to two decimals before they leave the machine, so the height is
        that of the neighbourhood.
    base_url
        The service, or another that speaks the same.

    Raises
    ------
    SourceUnavailable, SourceMalformed, SourceError
        No usable answer, and none kept.
    """
    here, there = rounded(latitude, longitude, PROVIDER)
    params = {
        "latitude": here,
        "longitude": there,
        "daily": "temperature_2m_max",
        "forecast_days": "1",
        "timezone": "auto",
    }
    answer = ask(session, base_url, params, check=_read, provider=PROVIDER, expire_after=_KEPT)
    return _read(answer.body)


def look_swapped(latitude: float, longitude: float, *, utc_offset_h: float) -> bool:
    """Say whether a keeper whose clock is so far from UTC may have swapped the coordinates.

    As they stand the sun of the place is hours from the clock; swapped it fits.

    Examples
    --------
    >>> look_swapped(-122.7, 45.5, utc_offset_h=-8)
    True
    >>> look_swapped(45.5, -122.7, utc_offset_h=-8)
    False
    """

    def fits(degrees_east: float) -> bool:
        off = abs(degrees_east / _DEGREES_AN_HOUR - utc_offset_h) % 24
        return min(off, 24 - off) <= _OFF_MOST_H

    may_be = abs(longitude) <= 90
    return may_be and not fits(longitude) and fits(latitude)


def _read(payload: Any) -> PlaceFacts:  # noqa: ANN401 - JSON is anything
    if not isinstance(payload, dict) or payload.get("error"):
        message = f"{PROVIDER} sent no answer for one place. Try again later."
        raise SourceMalformed(message)
    height: Any = payload.get("elevation")
    zone = payload.get("timezone")
    return PlaceFacts(
        elevation_m=float(height) if _is_height(height) else None,
        time_zone=zone if isinstance(zone, str) and _is_zone(zone) else None,
    )


def _is_height(height: Any) -> bool:  # noqa: ANN401 - JSON is anything
    number = isinstance(height, int | float) and not isinstance(height, bool)
    return number and _HEIGHT_M[0] <= height <= _HEIGHT_M[1]


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True
