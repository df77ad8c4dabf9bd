import numpy as np
import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.weather import (
    daily_weather,
    departure_weather,
    expected_departure_weather,
    weather_traces,
)

EVIDENCE = load_evidence()
ON = "2026-05-14"


def noisy(days, first, last, seed=1, **columns):
    weather = days(first, last, **columns)
    rng = np.random.default_rng(seed)
    shift = rng.normal(0, 3, len(weather))
    weather["temp_max_c"] += shift
    weather["temp_min_c"] += shift
    weather["rain_mm"] = np.where(rng.random(len(weather)) < 0.3, 6.0, 0.0)
    return weather


def daily_of(weather):
    return daily_weather(
        weather, apiary="a", first="2026-05-01", last="2026-06-30", on=ON, latitude=50.0
    )


@pytest.fixture
def history(days):
    return noisy(days, "2022-01-01", ON, kind="observed")


@pytest.fixture
def daily(days, history):
    coming = noisy(days, "2026-05-15", "2026-05-24", kind="forecast")
    return daily_of(pd.concat([history, coming]))


def draw(daily, history, draws=400, seed=5):
    return weather_traces(daily, history, draws=draws, rng=np.random.default_rng(seed))


def test_every_trace_has_every_day(daily, history):
    traces = draw(daily, history, draws=7)
    assert traces.temp_max_c.shape == traces.rain_mm.shape == (7, len(daily))
    assert traces.wind_max_m_s.shape == (7, len(daily))


@pytest.mark.parametrize("column", ["temp_max_c", "rain_mm", "wind_max_m_s"])
@pytest.mark.parametrize("with_history", [True, False])
def test_observed_days_are_the_same_in_every_draw(daily, history, column, with_history):
    got = getattr(draw(daily, history if with_history else None), column)
    seen = (daily["kind"] == "observed").to_numpy()
    want = np.tile(daily.loc[seen, column], (400, 1))
    np.testing.assert_array_equal(got[:, seen], want)


def test_equal_generators_give_equal_traces(daily, history):
    one, two = draw(daily, history), draw(daily, history)
    np.testing.assert_array_equal(one.temp_max_c, two.temp_max_c)
    np.testing.assert_array_equal(one.rain_mm, two.rain_mm)


def test_the_error_of_a_forecast_grows_with_its_lead(daily, history):
    spread = (
        draw(daily, history).temp_max_c[:, (daily["kind"] == "forecast").to_numpy()].std(axis=0)
    )
    want = np.minimum(1.8 + 0.35 * np.arange(10), 4.0)
    np.testing.assert_allclose(spread, want, rtol=0.15, atol=0)


def test_an_error_carries_on_to_the_next_day(daily, history):
    coming = (daily["kind"] == "forecast").to_numpy()
    error = draw(daily, history).temp_max_c[:, coming] - daily.loc[coming, "temp_max_c"].to_numpy()
    got = np.corrcoef(error[:, 3], error[:, 4])[0, 1]
    assert got == pytest.approx(EVIDENCE.value("weather.temp_persistence"), abs=0.1)


def test_normal_days_spread_as_the_history_did(daily, history):
    normal = (daily["kind"] == "normal").to_numpy()
    error = draw(daily, history).temp_max_c[:, normal] - daily.loc[normal, "temp_max_c"].to_numpy()
    assert error.std() == pytest.approx(3.0, abs=0.4)
    assert abs(error.mean()) < 0.6


def test_normal_days_bring_the_historys_own_rain(daily, history):
    normal = (daily["kind"] == "normal").to_numpy()
    assert set(np.unique(draw(daily, history).rain_mm[:, normal])) == {0.0, 6.0}


def test_a_block_keeps_past_days_together(daily, history):
    # with each past day's rain its number, a block's days count up by one
    numbered = history.assign(rain_mm=np.arange(len(history)) % 500 * 1.0)
    normal = np.flatnonzero((daily["kind"] == "normal").to_numpy())[:7]
    steps = np.diff(draw(daily, numbered).rain_mm[:, normal], axis=1)
    assert ((steps == 1) | (steps == -499)).all()


def test_a_block_starts_near_the_same_day_of_another_year(daily, history):
    numbered = history.assign(rain_mm=history["date"].dt.day_of_year * 1.0)
    first = int(np.flatnonzero((daily["kind"] == "normal").to_numpy())[0])
    off = draw(daily, numbered).rain_mm[:, first] - daily["date"].dt.day_of_year.iloc[first]
    assert np.abs(off).max() <= 15
    assert np.ptp(off) > 20


def test_the_error_of_a_forecasts_wind_grows_with_its_lead(daily, history):
    coming = (daily["kind"] == "forecast").to_numpy()
    spread = np.log(draw(daily, history).wind_max_m_s[:, coming]).std(axis=0)
    np.testing.assert_allclose(spread, 0.2 + 0.03 * np.arange(10), rtol=0.15, atol=0)


def test_a_forecasts_rain_is_ever_less_sure(daily, history):
    coming = (daily["kind"] == "forecast").to_numpy()
    rain = draw(daily, history, draws=3000).rain_mm[:, coming]
    changed = (rain != daily.loc[coming, "rain_mm"].to_numpy()).mean(axis=0)
    # a usual day drawn in place of a dry one is dry too in 0.6 of the draws
    dry = (daily.loc[coming, "rain_mm"] == 0).to_numpy()
    want = (0.15 + 0.06 * np.arange(10)) * np.where(dry, 0.4, 1.0)
    np.testing.assert_allclose(changed, want, rtol=0, atol=0.04)


def test_history_after_the_evening_is_not_used(daily, days, history):
    later = noisy(days, "2026-05-15", "2026-08-31", seed=9, kind="observed")
    one = draw(daily, history)
    two = draw(daily, pd.concat([history, later]))
    np.testing.assert_array_equal(one.temp_max_c, two.temp_max_c)


def test_without_history_the_spread_is_the_evidences(daily):
    normal = (daily["kind"] == "normal").to_numpy()
    error = draw(daily, None).temp_max_c[:, normal] - daily.loc[normal, "temp_max_c"].to_numpy()
    assert error.std() == pytest.approx(EVIDENCE.value("weather.temp_sd_c"), rel=0.05)


@pytest.mark.parametrize(("column", "rel"), [("rain_mm", 0.05), ("wind_max_m_s", 0.03)])
def test_drawn_rain_and_wind_keep_their_mean(daily, column, rel):
    normal = (daily["kind"] == "normal").to_numpy()
    got = getattr(draw(daily, None, draws=2000), column)[:, normal].mean()
    assert got == pytest.approx(daily.loc[normal, column].mean(), rel=rel)


def test_rain_and_wind_are_never_negative(daily, history):
    traces = draw(daily, history)
    assert (traces.rain_mm >= 0).all()
    assert (traces.wind_max_m_s >= 0).all()


def test_a_short_history_is_no_season(daily, history):
    short = history.tail(60)
    np.testing.assert_array_equal(draw(daily, short).rain_mm, draw(daily, None).rain_mm)


def test_one_season_of_history_is_enough(daily, days):
    season = noisy(days, "2025-04-01", "2025-08-31", kind="observed")
    normal = (daily["kind"] == "normal").to_numpy()
    assert set(np.unique(draw(daily, season).rain_mm[:, normal])) == {0.0, 6.0}


def test_what_is_not_known_stays_not_known(days):
    weather = noisy(days, "2026-05-01", "2026-05-20")
    weather["wind_max_m_s"] = None
    daily = daily_of(weather)
    known = (daily["kind"] != "normal").to_numpy()
    assert np.isnan(draw(daily, None).wind_max_m_s[:, known]).all()


def test_no_days_give_no_columns(daily, history):
    assert draw(daily.iloc[:0], history, draws=3).temp_max_c.shape == (3, 0)


def test_observed_days_are_rated_as_they_are(daily):
    seen = (daily["kind"] == "observed").to_numpy()
    plain = departure_weather(daily["temp_max_c"], daily["rain_mm"], daily["wind_max_m_s"])
    got = expected_departure_weather(daily)
    np.testing.assert_allclose(got[seen], plain[seen], rtol=1e-9, atol=0)


def test_the_expected_rating_is_the_mean_of_many_draws(days):
    # one wave without rain or wind that change: only the temperature's error is averaged
    weather = days("2026-05-01", ON, kind="observed")
    daily = daily_of(weather).assign(rain_mm=np.nan, wind_max_m_s=np.nan)
    traces = draw(daily, None, draws=4000)
    unknown = np.full(traces.temp_max_c.shape, np.nan)
    mean = departure_weather(traces.temp_max_c, unknown, unknown).mean(axis=0)
    np.testing.assert_allclose(expected_departure_weather(daily), mean, rtol=0, atol=0.03)
