import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.weather import day_length_h

DAY = st.integers(1, 366)


@given(latitude=st.floats(-90, 90), day=DAY)
@settings(max_examples=80, deadline=None)
def test_a_day_has_0_to_24_hours(latitude, day):
    assert 0 <= day_length_h(latitude, day) <= 24


@given(latitude=st.floats(0, 89), day=st.integers(100, 240))
@settings(max_examples=50, deadline=None)
def test_summer_days_grow_towards_the_pole(latitude, day):
    assert day_length_h(latitude + 1, day) >= day_length_h(latitude, day) - 1e-9


def test_the_poles_have_midnight_sun_and_polar_night():
    assert day_length_h(80.0, 172) == 24
    assert day_length_h(80.0, 355) == 0


def test_one_place_and_many_days_give_many_lengths():
    assert np.shape(day_length_h(42.0, np.arange(1, 367))) == (366,)


def test_a_series_of_places_keeps_its_index():
    got = day_length_h(pd.Series([0.0, 50.0], index=["a", "b"]), 172)
    assert list(got.index) == ["a", "b"]


def test_an_unknown_latitude_gives_an_unknown_length():
    assert np.isnan(day_length_h(np.nan, 100))
