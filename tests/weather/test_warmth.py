import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.weather import degree_days

METHODS = ("single-sine", "single-triangle", "mean")
TEMPERATURE = st.floats(-40, 50)


@st.composite
def day(draw):
    return sorted((draw(TEMPERATURE), draw(TEMPERATURE)))


@pytest.mark.parametrize("method", METHODS)
@given(day=day(), base=st.floats(-5, 20))
@settings(max_examples=50, deadline=None)
def test_degree_days_are_never_negative(method, day, base):
    assert degree_days(*day, base_c=base, method=method) >= 0


@pytest.mark.parametrize("method", METHODS)
@given(day=day(), warmer=st.floats(0, 10), base=st.floats(-5, 20))
@settings(max_examples=50, deadline=None)
def test_a_warmer_day_never_has_fewer(method, day, warmer, base):
    low, high = day
    before = degree_days(low, high, base_c=base, method=method)
    after = degree_days(low + warmer, high + warmer, base_c=base, method=method)
    assert after >= before - 1e-9


@pytest.mark.parametrize("method", METHODS)
@given(day=day(), above=st.floats(1, 20))
@settings(max_examples=50, deadline=None)
def test_a_cutoff_caps_the_day_and_never_adds(method, day, above):
    capped = degree_days(*day, upper_c=10 + above, method=method)
    assert capped <= min(degree_days(*day, method=method), above) + 1e-9


@pytest.mark.parametrize("method", METHODS)
def test_a_day_of_one_temperature_is_its_excess(method):
    assert degree_days(16.0, 16.0, method=method) == 6.0


@pytest.mark.parametrize("method", METHODS)
def test_an_unknown_extreme_gives_an_unknown_day(method):
    got = degree_days([np.nan, 5.0, 15.0], [20.0, np.nan, 25.0], method=method)
    assert np.isnan(got).tolist() == [True, True, False]


def test_scalars_give_a_float():
    assert isinstance(degree_days(5, 15), float)


def test_a_series_keeps_its_index_and_its_blanks():
    low = pd.Series([12, None], index=["a", "b"], dtype="Float64")
    got = degree_days(low, pd.Series([24, 20], index=["a", "b"], dtype="Float64"))
    assert got["a"] == 8.0
    assert np.isnan(got["b"])


def test_a_minimum_above_the_maximum_is_refused_with_its_row():
    with pytest.raises(RecordsError, match="weather row 3, temp_max_c: 4 C is below"):
        degree_days([1.0, 5.0], [2.0, 4.0])


def test_an_unknown_method_is_refused_by_name():
    with pytest.raises(UsageError, match="'double-sine' is not known"):
        degree_days(1.0, 2.0, method="double-sine")


def test_a_cutoff_below_the_base_is_refused():
    with pytest.raises(UsageError, match="not above the base"):
        degree_days(1.0, 2.0, upper_c=10.0)
