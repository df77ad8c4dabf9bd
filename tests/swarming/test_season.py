import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.season import curve_at, season_curve


@given(
    latitude=st.floats(-90, 90),
    elevation_m=st.floats(-100, 3000),
    warmth=st.floats(-30, 35),
    swing=st.floats(0, 30),
)
@settings(max_examples=60, deadline=None)
def test_every_place_has_a_peak_and_weights_in_range(latitude, elevation_m, warmth, swing):
    means = warmth - swing * np.cos(2 * np.pi * np.arange(12) / 12)
    for monthly in (means, None):
        curve = season_curve(latitude, elevation_m=elevation_m, monthly_mean_c=monthly)
        assert 1 <= curve.peak_day <= 366
        weight = curve.weight(np.arange(1, 367))
        assert ((weight >= 0) & (weight <= 1)).all()


def test_the_weight_is_one_at_the_peak_and_round_the_year():
    curve = season_curve(50.0)
    np.testing.assert_allclose(
        curve.weight([curve.peak_day, curve.peak_day + 365]), 1.0, rtol=0, atol=1e-12
    )


def test_swarms_tail_off_more_slowly_than_they_begin():
    curve = season_curve(50.0)
    assert curve.weight_from_peak(20) > curve.weight_from_peak(-20)


def test_the_southern_season_is_the_northern_one_turned_by_half_a_year():
    means = np.array([0, 1, 5, 11, 17, 22, 24, 23, 20, 14, 8, 3], dtype=float)
    north = season_curve(40.0, monthly_mean_c=means)
    south = season_curve(-40.0, monthly_mean_c=np.roll(means, 6))
    assert (south.peak_day - north.peak_day) % 365 == pytest.approx(182)


def test_a_warmer_spring_brings_the_season_forward():
    means = np.array([0, 1, 5, 11, 17, 22, 24, 23, 20, 14, 8, 3], dtype=float)
    assert (
        season_curve(45.0, monthly_mean_c=means + 2).peak_day
        < season_curve(45.0, monthly_mean_c=means).peak_day
    )


def test_a_keepers_own_peak_is_taken_as_it_is():
    assert curve_at(145.0, load_evidence()).peak_day == 145.0


@pytest.mark.parametrize("latitude", [90.5, -91, float("nan")])
def test_a_latitude_off_the_globe_is_refused(latitude):
    with pytest.raises(UsageError, match="latitude"):
        season_curve(latitude)


@pytest.mark.parametrize("means", [[1.0] * 11, [float("nan")] * 12])
def test_means_that_are_not_twelve_numbers_are_refused(means):
    with pytest.raises(UsageError, match="twelve"):
        season_curve(50.0, monthly_mean_c=means)
