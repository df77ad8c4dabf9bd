"""What do hours and periods, told in UTC, make of the days by the clock on the wall?

A local day has 23 or 25 hours twice a year, and in some zones begins at half past an hour of UTC.
A day that the spans don't cover from its midnight to the next has no total and no extreme.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from operator import attrgetter
from zoneinfo import ZoneInfo

from data_sources.errors import SourceError

_HOUR = timedelta(hours=1)
_HOURS_WIDEST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """What is told of the time from `start` up to `end`, both in UTC.

    `low` and `high` are the least and greatest value in it, the same for an hour's reading; of an
    amount, such as rain, both are the whole amount.
    """

    start: datetime
    end: datetime
    low: float
    high: float


def zone_of(name: object, provider: str) -> ZoneInfo:
    """Return a time zone by its IANA name, such as ``Europe/London``.

    Raises
    ------
    SourceError
        There is no such zone.
    """
    try:
        if isinstance(name, str) and name:
            return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        pass  # a name that is none, or one that is a folder of the zones' files
    message = f"{provider}: there is no time zone {name!r}. Give one such as 'Europe/London'."
    raise SourceError(message)


def zone_by_longitude(longitude: float) -> str:
    """Return the zone of whole hours that the sun keeps at a longitude.

    Examples
    --------
    >>> zone_by_longitude(10.0), zone_by_longitude(-74.0), zone_by_longitude(0.1)
    ('Etc/GMT-1', 'Etc/GMT+5', 'Etc/GMT')
    """
    hours = max(-_HOURS_WIDEST, min(_HOURS_WIDEST, round(longitude / 15)))
    # these names count westward
    return f"Etc/GMT{-hours:+d}" if hours else "Etc/GMT"


def bounds_of(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return the midnights that begin and end a local day, in UTC."""
    first = datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)
    last = datetime.combine(day + timedelta(days=1), time(), tzinfo=zone).astimezone(UTC)
    return first, last


def days_of(spans: Sequence[Span], zone: ZoneInfo) -> list[date]:
    """Return the local days that spans touch, in order."""
    days: set[date] = set()
    for span in spans:
        first = span.start.astimezone(zone).date()
        last = span.end.astimezone(zone).date()
        days.update(first + timedelta(days=i) for i in range((last - first).days + 1))
    return sorted(days)


def ordered(spans: Iterable[Span]) -> list[Span] | None:
    """Return spans in order of time, or None if one begins before another has ended."""
    found = sorted(spans, key=attrgetter("start"))
    if any(s.end <= s.start for s in found):
        return None
    return None if any(b.start < a.end for a, b in pairwise(found)) else found


def extremes(spans: Sequence[Span], day: date, zone: ZoneInfo) -> tuple[float | None, float | None]:
    """Return the least and greatest value of a local day; blanks if a part isn't covered.

    Parameters
    ----------
    spans
        From `ordered`. A reading of an hour or less counts for the day that holds its start, the
        extremes of a longer span for the day that holds its middle.
    """
    first, last = bounds_of(day, zone)
    reach = _reach(spans, first, last)
    inside = [s for s in reach if first <= _place(s) < last]
    if not inside or not _cover(reach, first, last):
        return None, None
    return min(s.low for s in inside), max(s.high for s in inside)


def total(spans: Sequence[Span], day: date, zone: ZoneInfo) -> float | None:
    """Return the amount of a local day; None if a part of it isn't covered.

    Parameters
    ----------
    spans
        From `ordered`. An amount that runs over midnight is split evenly in time.
    """
    first, last = bounds_of(day, zone)
    reach = _reach(spans, first, last)
    if not _cover(reach, first, last):
        return None
    shares = [(min(s.end, last) - max(s.start, first)) / (s.end - s.start) for s in reach]
    return math.fsum(s.high * share for s, share in zip(reach, shares, strict=True))


def _reach(spans: Sequence[Span], first: datetime, last: datetime) -> Sequence[Span]:
    """Return the spans that reach into the time from `first` up to `last`."""
    begin = bisect_right(spans, first, key=attrgetter("end"))
    return spans[begin : bisect_left(spans, last, key=attrgetter("start"))]


def _cover(reach: Sequence[Span], first: datetime, last: datetime) -> bool:
    if not reach or reach[0].start > first or reach[-1].end < last:
        return False
    return all(a.end == b.start for a, b in pairwise(reach))


def _place(span: Span) -> datetime:
    lasts = span.end - span.start
    return span.start if lasts <= _HOUR else span.start + lasts / 2
