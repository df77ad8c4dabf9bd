"""Which evening a command speaks of."""

import datetime as dt

import pytest

from swarmwatch.evening import last_evening


@pytest.mark.parametrize(
    ("hour", "minute", "day"), [(16, 59, 4), (17, 0, 5), (23, 59, 5), (0, 0, 4)]
)
def test_an_evening_is_over_at_five(hour, minute, day):
    now = dt.datetime(2026, 6, 5, hour, minute, tzinfo=dt.timezone(dt.timedelta(hours=3)))
    assert last_evening(now) == dt.date(2026, 6, day)
