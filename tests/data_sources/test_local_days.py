"""Hours told in UTC against the same hours counted by pandas, by the local clock."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from data_sources.errors import SourceError
from data_sources.weather.local_days import (
    Span,
    bounds_of,
    days_of,
    extremes,
    ordered,
    total,
    zone_by_longitude,
    zone_of,
)

HOUR = timedelta(hours=1)
LONDON = ZoneInfo("Europe/London")
NEW_YORK = ZoneInfo("America/New_York")
KATHMANDU = ZoneInfo("Asia/Kathmandu")  # UTC + 5:45


def hours(start, values, lasts=HOUR):
    return [
        Span(start=start + i * lasts, end=start + (i + 1) * lasts, low=v, high=v)
        for i, v in enumerate(values)
    ]


@pytest.mark.parametrize(
    ("day", "length"),
    [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25), (date(2026, 5, 5), 24)],
)
def test_a_day_has_the_hours_of_its_clock(day, length):
    first, last = bounds_of(day, LONDON)
    assert last - first == length * HOUR


@pytest.mark.parametrize("day", [date(2026, 3, 29), date(2026, 10, 25)])
def test_a_day_of_clock_change_sums_just_its_own_hours(day):
    first, last = bounds_of(day, LONDON)
    spans = hours(first - 3 * HOUR, [1.0] * 31)
    assert total(spans, day, LONDON) == pytest.approx((last - first) / HOUR)


@pytest.mark.parametrize("gone", [0, 12, 23])
def test_a_day_that_lacks_an_hour_is_blank(gone):
    day = date(2026, 1, 5)
    spans = hours(datetime(2026, 1, 5, tzinfo=UTC), range(24))
    assert total(spans, day, LONDON) == sum(range(24))
    assert extremes(spans, day, LONDON) == (0, 23)
    del spans[gone]
    assert total(spans, day, LONDON) is None
    assert extremes(spans, day, LONDON) == (None, None)


def test_an_amount_that_runs_over_midnight_is_split_in_time():
    start = datetime(2026, 1, 4, 22, tzinfo=UTC)
    spans = hours(start, [6.0] * 6, lasts=6 * HOUR)
    # 2 of 6 hours, twice
    assert total(spans, date(2026, 1, 5), LONDON) == pytest.approx(4 + 6 * 3 + 2)


def test_an_hour_belongs_to_the_day_it_begins_on_also_where_midnight_is_no_whole_hour():
    # 18:15 UTC is midnight: the hour told from 18:00 is the evening's
    spans = hours(datetime(2026, 1, 4, 18, tzinfo=UTC), [99.0, *range(24)])
    assert extremes(spans, date(2026, 1, 5), KATHMANDU) == (0, 23)


def test_six_hours_belong_to_the_day_that_holds_their_middle():
    spans = hours(datetime(2026, 7, 5, tzinfo=UTC), [1.0, 2.0, 3.0, 4.0, 5.0], lasts=6 * HOUR)
    # the day runs 04:00 to 04:00 UTC: the first six hours are the night's before
    assert extremes(spans, date(2026, 7, 5), NEW_YORK) == (2.0, 5.0)


def test_one_time_told_twice_has_no_order():
    spans = hours(datetime(2026, 1, 5, tzinfo=UTC), [1.0, 2.0])
    assert ordered([*spans, spans[0]]) is None
    assert ordered(spans[::-1]) == spans


@given(st.floats(-180, 180))
def test_the_suns_zone_is_a_real_one_within_half_an_hour_of_the_sun(longitude):
    offset = datetime(2026, 1, 1, tzinfo=zone_of(zone_by_longitude(longitude), "x")).utcoffset()
    assert abs(offset / HOUR - longitude / 15) <= 0.5


@pytest.mark.parametrize("name", ["", None, "Europe/Nowhere", "../etc/passwd", "Europe", "\0", 7])
def test_a_zone_that_is_none_is_refused(name):
    with pytest.raises(SourceError, match="no time zone"):
        zone_of(name, "Invented")


@pytest.fixture(scope="module", params=["JFK", "LGA", "EWR"])
def airport(request, airport_hours):
    """One airport's hours of 2013, their UTC start and their local day."""
    rows = airport_hours[airport_hours["origin"] == request.param].dropna(subset=["temp"])
    rows = rows.assign(utc=pd.to_datetime(rows["time_hour"], utc=True))
    return rows.drop_duplicates("utc").assign(
        day=lambda r: r["utc"].dt.tz_convert("America/New_York").dt.date
    )


def test_daily_extremes_of_measured_hours_agree_with_pandas(airport):
    starts = airport["utc"].dt.to_pydatetime()
    spans = ordered(
        Span(start=start, end=start + HOUR, low=temp, high=temp)
        for start, temp in zip(starts, airport["temp"], strict=True)
    )
    whole = airport.groupby("day")["temp"].agg(["min", "max", "count"])
    for day, low, high, count in whole.itertuples():
        first, last = bounds_of(day, NEW_YORK)
        want = (low, high) if count == (last - first) / HOUR else (None, None)
        assert extremes(spans, day, NEW_YORK) == want
    assert (whole["count"] == 24).sum() > 300


def test_daily_rain_of_measured_hours_agrees_with_pandas(airport):
    starts = airport["utc"].dt.to_pydatetime()
    spans = ordered(
        Span(start=start, end=start + HOUR, low=rain, high=rain)
        for start, rain in zip(starts, airport["precip"], strict=True)
    )
    days = airport.groupby("day")["precip"].sum()
    got = pd.Series({day: total(spans, day, NEW_YORK) for day in days_of(spans, NEW_YORK)})
    known = got.dropna().index.intersection(days.index)
    assert len(known) > 300
    np.testing.assert_allclose(
        got[known].astype(float), days[known].astype(float), rtol=0, atol=1e-12
    )
