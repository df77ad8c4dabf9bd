"""Which weather stations near a place have told of the years that are wanted?

The search runs over the two lists of GHCN-Daily on this machine, so no place leaves it.
"""

import math
import re
from datetime import date
from typing import NamedTuple

import pandas as pd

from data_sources.weather.shape import Shape

PROVIDER = "GHCN-Daily"
ELEMENTS = ("TMAX", "TMIN", "PRCP")
_SHAPE = Shape(PROVIDER)
_NEEDED = frozenset(("TMAX", "TMIN"))
_EARTH_KM = 6371.0088  # mean radius of WGS 84
_KM_A_DEGREE = 2 * math.pi * _EARTH_KM / 360
_ID = 11
_UNKNOWN_M = -999.0
# id, latitude, longitude, then elevation or element with its first and last year
_PLACE = r"[A-Z0-9_-]{11} [ 0-9.-]{8} [ 0-9.-]{9} "
_STATION = re.compile(_PLACE + r"[ 0-9.-]{6}")
_INVENTORY = re.compile(_PLACE + r"[A-Z0-9]{4} [0-9]{4} [0-9]{4}")
_FOR_EVER = date.max.year


class _Station(NamedTuple):
    station: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float
    distance_km: float


def find_stations(
    stations: object,
    inventory: object,
    *,
    latitude: float,
    longitude: float,
    first_year: int,
    last_year: int,
    within_km: float = 100.0,
) -> pd.DataFrame:
    """Find stations by distance and by how many of the wanted years they have told of.

    Parameters
    ----------
    stations, inventory
        The texts of ``ghcnd-stations.txt`` and ``ghcnd-inventory.txt``.
    latitude, longitude
        Of the place, WGS 84 degrees.
    first_year, last_year
        First and last year wanted.
    within_km
        Farther stations are left out [km].

    Returns
    -------
    (n_stations,) ``station``, ``name``, ``latitude``, ``longitude``, ``elevation_m`` (blank for
    unknown), ``distance_km`` (great circle) and ``covered``, the share [0..1] of the wanted years
    and of `ELEMENTS` that the inventory has. Stations without both temperatures are left out.
    Best first: by distance over share covered, so that a station at 20 km that has half of the
    years stands as far as one at 40 km that has them all. The inventory tells first and last year
    only, so gaps between them don't show. A station that told in the list's last two years is
    taken to go on.

    Raises
    ------
    SourceMalformed
        A list of another shape.
    """
    near = _near(station_lines(stations), latitude, longitude, within_km)
    spans, newest = _spans(inventory_lines(inventory), frozenset(near))
    rows = []
    for name, station in near.items():
        told = spans.get(name, {})
        if told.keys() >= _NEEDED:
            shares = [
                _share(*told[e], newest, first_year, last_year) if e in told else 0.0
                for e in ELEMENTS
            ]
            if min(shares[:2]) > 0:
                rows.append((*station, sum(shares) / len(ELEMENTS)))
    rows.sort(key=lambda row: (row[5] / row[6], row[0]))
    return pd.DataFrame(rows, columns=[*_Station._fields, "covered"])


def station_lines(text: object) -> list[str]:
    """Return the lines of ``ghcnd-stations.txt``.

    Raises
    ------
    SourceMalformed
        It is no such list.
    """
    return _lines(text, _STATION)


def inventory_lines(text: object) -> list[str]:
    """Return the lines of ``ghcnd-inventory.txt``.

    Raises
    ------
    SourceMalformed
        It is no such list.
    """
    return _lines(text, _INVENTORY)


LIST_CHECKS = {"stations": station_lines, "inventory": inventory_lines}


def _lines(text: object, shape: re.Pattern[str]) -> list[str]:
    lines = text.splitlines() if isinstance(text, str) else []
    if not lines or not all(map(shape.match, lines)):
        _SHAPE.refuse("sent something that is no list of stations")
    return lines


def _near(
    lines: list[str], latitude: float, longitude: float, within_km: float
) -> dict[str, _Station]:
    """Return the stations within a distance, by their id."""
    # a whole degree more than needed: the far corner is cut off below
    degrees = within_km / _KM_A_DEGREE + 1
    near = {}
    for line in lines:
        north = _number(line[12:20])
        if abs(north - latitude) > degrees:
            continue
        east = _number(line[21:30])
        away = _distance_km(latitude, longitude, north, east)
        if away <= within_km:
            height = _number(line[31:37])
            near[line[:_ID]] = _Station(
                station=line[:_ID],
                name=line[41:71].strip(),
                latitude=north,
                longitude=east,
                elevation_m=height if height > _UNKNOWN_M else math.nan,
                distance_km=away,
            )
    return near


def _spans(
    lines: list[str], wanted: frozenset[str]
) -> tuple[dict[str, dict[str, tuple[int, int]]], int]:
    """Return first and last year by station and element, and the list's newest year."""
    spans: dict[str, dict[str, tuple[int, int]]] = {}
    for line in lines:
        if line[:_ID] in wanted and line[31:35] in ELEMENTS:
            spans.setdefault(line[:_ID], {})[line[31:35]] = (int(line[36:40]), int(line[41:45]))
    return spans, int(max(line[41:45] for line in lines))


def _share(first: int, last: int, newest: int, first_year: int, last_year: int) -> float:
    until = last if last < newest - 1 else _FOR_EVER
    had = min(until, last_year) - max(first, first_year) + 1
    return max(had, 0) / (last_year - first_year + 1)


def _distance_km(latitude: float, longitude: float, north: float, east: float) -> float:
    """Return the great-circle distance by the haversine [km]."""
    a, b = math.radians(latitude), math.radians(north)
    turn = math.radians(east - longitude)
    half = math.sin((b - a) / 2) ** 2 + math.cos(a) * math.cos(b) * math.sin(turn / 2) ** 2
    return 2 * _EARTH_KM * math.asin(math.sqrt(min(max(half, 0.0), 1.0)))


def _number(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        _SHAPE.refuse(
            f"sent {text.strip()[:20]!r} in its list of stations where a number should be"
        )
    return number
