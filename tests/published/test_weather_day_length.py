"""Day length against a published formula's values and against an astronomical library."""

from datetime import UTC, date, timedelta

import numpy as np
import pytest
from astral import Observer
from astral.sun import sunrise, sunset

from swarmwatch.weather import day_length_h

# Forsythe et al. 1995, Ecological Modelling 80:87-95, CBM model with p = 0.8333 degrees, worked
# out apart from this project's code [h]; columns: day of year
DAYS = (80, 110, 135, 160, 172, 266, 355)
TABLE = {
    30.4: (12.122, 13.025, 13.664, 14.055, 14.111, 12.149, 10.180),
    40.2: (12.136, 13.440, 14.374, 14.954, 15.038, 12.174, 9.304),
    42.4: (12.140, 13.551, 14.565, 15.198, 15.290, 12.181, 9.068),
    48.1: (12.154, 13.881, 15.142, 15.945, 16.063, 12.204, 8.353),
    52.8: (12.169, 14.219, 15.745, 16.744, 16.893, 12.228, 7.596),
    -37.8: (12.149, 10.962, 10.126, 9.615, 9.541, 12.114, 14.784),
}


@pytest.mark.parametrize("latitude", TABLE)
def test_day_length_follows_the_published_formula(latitude):
    # the table is rounded to three decimals
    got = day_length_h(latitude, np.array(DAYS))
    np.testing.assert_allclose(got, TABLE[latitude], rtol=0, atol=0.0006)


def astral_h(latitude, day):
    # a meridian whose noon is far from midnight UTC, so that both events are of one day
    there = Observer(latitude=latitude, longitude=0.0)
    return (sunset(there, day, tzinfo=UTC) - sunrise(there, day, tzinfo=UTC)) / timedelta(hours=1)


@pytest.mark.parametrize(
    ("latitude", "minutes"),
    # the paper states errors below a minute near the equator, growing with the latitude
    [(0.0, 1.5), (-37.8, 4.0), (30.4, 4.0), (42.4, 5.0), (52.8, 7.0), (60.0, 10.0)],
)
def test_day_length_agrees_with_astronomy_within_minutes(latitude, minutes):
    days = [date(2026, 1, 1) + timedelta(days=i) for i in range(0, 365, 14)]
    want = [astral_h(latitude, day) for day in days]
    got = day_length_h(latitude, np.array([day.timetuple().tm_yday for day in days]))
    np.testing.assert_allclose(got, want, rtol=0, atol=minutes / 60)
