"""What did the weather station nearest by write down, by NOAA's GHCN-Daily?

Observed days. A day is the observer's own: one who reads at seven in the morning books the maximum
and the rain of the day before under the day of reading, so a maximum may stand a day late. Values
that failed any of NOAA's checks are left out. Free; some stations outside the United States are
for non-commercial use only.
"""

import csv
import io
from calendar import monthrange
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TypeAlias

import pandas as pd
import requests_cache

from data_sources.errors import SourceError, SourceUnavailable
from data_sources.session import Answer, ask
from data_sources.weather.fetched import Fetched, check_order, joined, rounded, within
from data_sources.weather.ghcn_stations import LIST_CHECKS, PROVIDER, find_stations
from data_sources.weather.shape import Shape, known_days
from data_sources.weather.table import weather_table

URL = "https://www.ncei.noaa.gov/pub/data/ghcn/daily"
CREDIT = (
    "Station records of GHCN-Daily, NOAA National Centers for Environmental Information "
    "(https://www.ncei.noaa.gov/)"
)
# element: our column and the factor that makes its unit ours; the files don't tell units, NOAA's
# readme does: tenths of a degree, of a millimetre and of m/s, and minutes. WSF2, the fastest two
# minutes, is the nearest to a greatest mean wind; AWND is the day's mean, WSFG a gust
_ELEMENTS = {
    "TMAX": ("temp_max_c", 1 / 10),
    "TMIN": ("temp_min_c", 1 / 10),
    "PRCP": ("rain_mm", 1 / 10),
    "WSF2": ("wind_max_m_s", 1 / 10),
    "TSUN": ("sunshine_h", 1 / 60),
}
_SHAPE = Shape(PROVIDER)
_MISSING = "-9999"
_FIELDS = 8  # of a row of the CSV without a header
_LINE = 269  # characters; its last three may be blanks that were cut off
_OLD = timedelta(days=10)
_LISTS_KEPT = timedelta(days=90)
_RECORD_KEPT = timedelta(days=1)
_TRIES = 3
_ENOUGH = 0.9  # share of the wanted days that ends the search
# station, day, element, value as written, measurement flag, quality flag
_Cell: TypeAlias = tuple[str, date, str, str, str, str]


def fetch_ghcn_daily(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    first_day: date,
    last_day: date,
    today: date,
    base_url: str = URL,
) -> Fetched:
    """Fetch past days of the station that has most of them, of the best three near a place.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`.
    latitude, longitude
        WGS 84 degrees; they don't leave the machine.
    first_day, last_day
        First and last day wanted.
    today
        The day it is at the place: days from it on are not to be had.
    base_url
        The folder with the lists and the stations' files.

    Returns
    -------
    The table of `data_sources.weather.table` from one station, every row ``observed``; its credit
    names the station and how far it is. A notice warns of a station whose newest day is more than
    ten days old: it may have ended, or moved to another name.

    Raises
    ------
    SourceUnavailable, SourceMalformed, SourceError
        No usable answer, and none kept; no station with any of the days within 100 km.
    """
    check_order(first_day, last_day, PROVIDER)
    rounded(latitude, longitude, PROVIDER)  # refuses a place that isn't
    last = min(last_day, today - timedelta(days=1))
    if last < first_day:
        message = f"{PROVIDER} knows no days to come. Ask for days before {today}."
        raise SourceUnavailable(message)
    lists = _list(session, base_url, "stations"), _list(session, base_url, "inventory")
    found = find_stations(
        lists[0].body,
        lists[1].body,
        latitude=latitude,
        longitude=longitude,
        first_year=first_day.year,
        last_year=last.year,
    )
    fetched = _best(session, base_url, found.head(_TRIES), (first_day, last, today))
    if fetched is None:
        message = (
            f"{PROVIDER}: no station within 100 km has temperatures from {first_day} to {last}. "
            "Choose another service, or import a table of your own."
        )
        raise SourceUnavailable(message)
    return replace(fetched, notice=joined(*(one.notice for one in lists), fetched.notice))


def read_ghcn_daily(
    payload: object,
    *,
    fetched_at: datetime,
    first_day: date | None = None,
    last_day: date | None = None,
) -> pd.DataFrame:
    """Turn one station's file into the common table, without any network.

    Parameters
    ----------
    payload
        The text of a ``.dly`` file (fixed width), of a CSV of ``access/`` (one row a day, with a
        header) or of ``by_station/`` (one row a value, without): which of them, the text tells.
    fetched_at
        When it was given, with its zone.
    first_day, last_day
        Other days are passed over.

    Returns
    -------
    The table of `data_sources.weather.table`, every row ``observed``, by day. Trace of rain is 0;
    rain that is missing and presumed zero stays blank. Days on which nothing is known are left
    out.

    Raises
    ------
    SourceMalformed
        Another shape, two stations, a value told twice or one that can't be weather.
    """
    if not isinstance(payload, str):
        _SHAPE.refuse(f"sent a {type(payload).__name__} instead of a station's file")
    first, last = first_day or date.min, last_day or date.max
    told: dict[str, dict[date, float]] = {element: {} for element in _ELEMENTS}
    stations = set()
    for station, day, element, value, measured, quality in _cells(payload, first, last):
        stations.add(station)
        known = told[element]
        if day in known:
            _SHAPE.refuse(f"sent two values of {element} for {day}")
        if value == _MISSING:
            continue
        # P: missing and presumed zero. A quality flag: failed a check
        if quality != " " or measured == "P" or not first <= day <= last:
            continue
        known[day] = _value(value, element) * _ELEMENTS[element][1]
    if len(stations) > 1:
        _SHAPE.refuse("sent two stations in one file")
    days = sorted(set().union(*told.values()))
    days, values = known_days(
        days, {c: [told[e].get(day) for day in days] for e, (c, _) in _ELEMENTS.items()}
    )
    return weather_table(
        days,
        values,
        kind="observed",
        provider=PROVIDER,
        fetched_at=fetched_at,
        where=lambda row: f"{PROVIDER}, {days[row]}",
    )


def _list(session: requests_cache.CachedSession, base_url: str, name: str) -> Answer:
    return ask(
        session,
        f"{base_url}/ghcnd-{name}.txt",
        {},
        check=LIST_CHECKS[name],
        provider=PROVIDER,
        expire_after=_LISTS_KEPT,
        as_text=True,
    )


def _best(
    session: requests_cache.CachedSession,
    base_url: str,
    stations: pd.DataFrame,
    days: tuple[date, date, date],
) -> Fetched | None:
    """Fetch stations until one has most of the days; a station that fails is passed over.

    `days` are the first and last wanted, and today. Raises the first fault when none has any.
    """
    first, last, today = days
    best, most, fault = None, 0.0, None
    for row in stations.to_dict("records"):
        label = f"{row['name']} ({row['station']})"
        try:
            record = _record(session, base_url, str(row["station"]), first)
            table = read_ghcn_daily(record.body, fetched_at=record.fetched_at, first_day=first)
        except SourceError as error:
            fault = fault or error
            continue
        wanted = within(table, first, last)
        share = _share(wanted, first, last)
        if share > most:
            most = share
            best = Fetched(
                table=wanted,
                notice=joined(record.notice, _too_old(table, label, last, today)),
                credit=f"{CREDIT}: {label}, {row['distance_km']:.0f} km away",
            )
        if share >= _ENOUGH:
            break
    if best is None and fault is not None:
        raise fault
    return best


def _record(
    session: requests_cache.CachedSession, base_url: str, station: str, first_day: date
) -> Answer:
    if not (station.isascii() and station.isalnum()):
        _SHAPE.refuse("sent a station without a sound name")

    def check(text: object) -> None:
        # what the answer's time is doesn't matter to the shape; a slip of long ago shouldn't either
        read_ghcn_daily(text, fetched_at=datetime(2000, 1, 1, tzinfo=UTC), first_day=first_day)

    return ask(
        session,
        f"{base_url}/all/{station}.dly",
        {},
        check=check,
        provider=PROVIDER,
        expire_after=_RECORD_KEPT,
        as_text=True,
    )


def _share(table: pd.DataFrame, first_day: date, last_day: date) -> float:
    """Return the share of the days on which both temperatures are known."""
    known = table["temp_max_c"].notna() & table["temp_min_c"].notna()
    return int(known.sum()) / ((last_day - first_day).days + 1)


def _too_old(table: pd.DataFrame, label: str, last_day: date, today: date) -> str:
    newest = table["date"].max().date()
    if newest >= last_day or today - newest <= _OLD:
        return ""
    return (
        f"{PROVIDER}: the newest day of {label} is {newest}, {(today - newest).days} days ago. "
        "It may have ended, or go on under another name."
    )


def _cells(text: str, first: date, last: date) -> Iterator[_Cell]:
    """Yield the values of the elements that we use, whichever of the three forms the text has."""
    head = text.removeprefix("\ufeff").lstrip()[:12]
    if head.replace('"', "").startswith("STATION"):
        return _wide(text)
    if len(head) > 11 and head[11] == ",":
        return _long(text)
    return _fixed(text, first, last)


def _fixed(text: str, first: date, last: date) -> Iterator[_Cell]:
    """Read ``.dly``: station, year, month, element, then 31 times value and three flags."""
    lines = text.splitlines()
    if not lines:
        _SHAPE.refuse("sent an empty file")
    months = (first.year, first.month), (last.year, last.month)
    for line in lines:
        if not _LINE - 3 <= len(line.rstrip("\r\n")) <= _LINE:
            _SHAPE.refuse("sent a line that is none of a station's file")
        element = line[17:21]
        year, month = _month(line[11:17])
        if element not in _ELEMENTS or not months[0] <= (year, month) <= months[1]:
            continue
        for day in range(1, monthrange(year, month)[1] + 1):
            at = 13 + 8 * day
            value = line[at : at + 5]
            if value != _MISSING:
                flags = line[at + 5 : at + 8].ljust(3)
                yield line[:11], date(year, month, day), element, value, flags[0], flags[1]


def _month(text: str) -> tuple[int, int]:
    year, month = (text[:4], text[4:]) if text.isascii() and text.isdecimal() else ("0", "0")
    if int(year) < 1 or not 1 <= int(month) <= 12:
        _SHAPE.refuse(f"sent {text!r} where year and month should be")
    return int(year), int(month)


def _wide(text: str) -> Iterator[_Cell]:
    """Read the CSV with a header, one row a day."""
    rows = _rows(text)
    header = rows[0]
    place = {title: i for i, title in enumerate(header)}
    used = [e for e in _ELEMENTS if e in place]
    needed = ["STATION", "DATE", *(f"{e}_ATTRIBUTES" for e in used)]
    if any(title not in place for title in needed):
        _SHAPE.refuse(f"sent a table without one of {', '.join(needed)}")
    for row in rows[1:]:
        if len(row) != len(header):
            _SHAPE.refuse("sent a row of another length than its header")
        day = _SHAPE.day(row[place["DATE"]])
        for element in used:
            value = row[place[element]].strip()
            if value:
                flags = row[place[f"{element}_ATTRIBUTES"]].split(",")
                if len(flags) < 3:
                    _SHAPE.refuse(f"sent {element} of {day} without its flags")
                yield row[place["STATION"]], day, element, value, flags[0] or " ", flags[1] or " "


def _long(text: str) -> Iterator[_Cell]:
    """Read the CSV without a header, one row a value."""
    for row in _rows(text):
        if len(row) != _FIELDS:
            _SHAPE.refuse("sent a row that is none of a station's file")
        station, day, element, value, measured, quality, _, _ = row
        if element in _ELEMENTS:
            when = _SHAPE.day(day, "%Y%m%d")
            yield station, when, element, value, measured or " ", quality or " "


def _rows(text: str) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True))
    except csv.Error:
        _SHAPE.refuse("sent something that is no table")


def _value(text: str, element: str) -> float:
    """Return a whole number of tenths, or of minutes; a decimal point would mean another unit."""
    bare = text.strip()
    if not (bare.isascii() and bare.removeprefix("-").isdecimal()):
        _SHAPE.refuse(f"sent {bare[:20]!r} in {element!r} where a whole number should be")
    return float(bare)
