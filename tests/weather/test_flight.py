import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.evidence import load_evidence
from swarmwatch.weather import departure_weather

EVIDENCE = load_evidence()
TEMPERATURE = st.floats(-40, 55)
RAIN = st.floats(0, 200)
WIND = st.floats(0, 40)


@given(temp=TEMPERATURE, rain=RAIN, wind=WIND)
@settings(max_examples=80, deadline=None)
def test_the_rating_is_above_0_and_at_most_1(temp, rain, wind):
    assert 0 < departure_weather(temp, rain, wind) <= 1


@given(temp=TEMPERATURE, rain=RAIN, wind=WIND, more=st.floats(0, 10))
@settings(max_examples=80, deadline=None)
def test_more_rain_or_wind_never_helps(temp, rain, wind, more):
    now = departure_weather(temp, rain, wind)
    assert departure_weather(temp, rain + more, wind) <= now
    assert departure_weather(temp, rain, wind + more) <= now


@given(temp=st.floats(-40, 36), cooler=st.floats(0, 20))
@settings(max_examples=80, deadline=None)
def test_warmth_never_hurts_up_to_the_heat(temp, cooler):
    assert departure_weather(temp - cooler, 0, 0) <= departure_weather(temp, 0, 0)


@given(temp=st.floats(36, 55), hotter=st.floats(0, 10))
@settings(max_examples=50, deadline=None)
def test_heat_never_helps_past_36(temp, hotter):
    assert departure_weather(temp + hotter, 0, 0) <= departure_weather(temp, 0, 0)


def test_no_step_of_a_tenth_of_a_degree_moves_the_rating_much():
    ratings = departure_weather(np.arange(0, 50, 0.1), 0.0, 0.0)
    assert np.abs(np.diff(ratings)).max() < 0.05


def test_a_warm_dry_calm_day_is_the_best_there_is():
    assert departure_weather(25.0, 0.0, 2.0) == 1.0


def test_a_cold_day_is_nearly_shut_but_never_impossible():
    assert 0 < departure_weather(8.0, 0.0, 0.0) < 0.02


def test_wind_of_15_km_h_in_the_flying_hours_does_nothing():
    assert departure_weather(25.0, 0.0, 15 / 3.6 / 0.8) == pytest.approx(1.0, rel=1e-2)


def test_wind_of_24_km_h_in_the_flying_hours_leaves_a_fifth():
    assert departure_weather(25.0, 0.0, 24 / 3.6 / 0.8) == pytest.approx(0.2, rel=1e-2)


def test_unknown_rain_and_wind_lie_between_none_and_much():
    good, bad = departure_weather(25.0, 0.0, 0.0), departure_weather(25.0, 50.0, 15.0)
    assert bad < departure_weather(25.0, np.nan, np.nan) < good


def test_an_unknown_temperature_takes_the_mean_gate():
    assert departure_weather(np.nan, 0.0, 0.0) == EVIDENCE.value("weather.gate_unknown")


def test_none_counts_as_unknown():
    assert departure_weather(25.0, None, None) == departure_weather(25.0, np.nan, np.nan)


def test_the_shape_is_kept():
    assert departure_weather(np.full((3, 4), 20.0), 0.0, 1.0).shape == (3, 4)


def test_a_series_keeps_its_index():
    got = departure_weather(pd.Series([20.0], index=["x"]), pd.Series([0.0], index=["x"]), 1.0)
    assert list(got.index) == ["x"]


def test_another_evidence_changes_the_rating():
    own = EVIDENCE.with_values({"weather.gate_mild": 0.9})
    assert departure_weather(18.5, 0, 0, evidence=own) == pytest.approx(0.9, rel=1e-12)


def test_points_drawn_across_each_other_still_give_a_rising_gate():
    own = EVIDENCE.with_values({"weather.gate_chilly": 0.3, "weather.gate_cool": 0.1})
    ratings = departure_weather(np.arange(0, 30, 0.5), 0.0, 0.0, evidence=own)
    assert (np.diff(ratings) >= 0).all()
