import numpy as np
import pandas as pd
import pytest

from swarmwatch.weather import climatology, monthly_means_c, place_climatology

COLUMNS = ["temp_max_c", "temp_min_c", "rain_mm", "wind_max_m_s", "sunshine_h"]


def test_a_year_of_days_gives_its_course_back(days):
    weather = days("2021-01-01", "2022-12-31")
    got = climatology(weather).loc[weather["date"].dt.day_of_year, "temp_max_c"]
    np.testing.assert_allclose(got, weather["temp_max_c"], rtol=0, atol=0.05)


def test_every_day_of_a_leap_year_is_there(days):
    got = climatology(days("2021-01-01", "2021-12-31"))
    assert got.index.name == "day_of_year"
    assert got.index.tolist() == list(range(1, 367))
    assert list(got.columns) == COLUMNS


def test_the_year_closes_without_a_jump(days):
    got = climatology(days("2020-01-01", "2020-12-31"))["temp_max_c"]
    assert abs(got[366] - got[1]) < 0.1


def test_less_than_a_year_gives_none(days):
    assert climatology(days("2021-03-01", "2021-10-31")) is None


def test_nothing_gives_none():
    assert climatology(None) is None


def test_days_after_the_evening_are_not_used(days):
    weather = days("2021-01-01", "2022-12-31")
    assert climatology(weather, on="2021-06-30") is None


def test_a_forecast_is_no_climate(days):
    assert climatology(days("2021-01-01", "2021-12-31", kind="forecast")) is None


def test_normal_rows_come_before_observed_ones(days):
    normal = days("2021-01-01", "2021-12-31", kind="normal", rain_mm=7.0)
    seen = days("2021-01-01", "2021-12-31", kind="observed", rain_mm=1.0)
    got = climatology(pd.concat([seen, normal]))
    np.testing.assert_allclose(got["rain_mm"], 7.0, rtol=1e-9, atol=0)


def test_a_column_without_a_year_is_blank_not_zero(days):
    weather = days("2021-01-01", "2021-12-31")
    weather.loc[100:, "wind_max_m_s"] = None
    got = climatology(weather)
    assert got["wind_max_m_s"].isna().all()
    assert got["temp_max_c"].notna().all()


def test_no_amount_falls_below_zero(days):
    weather = days("2021-01-01", "2021-12-31")
    weather["rain_mm"] = np.where(weather["date"].dt.month == 1, 30.0, 0.0)
    assert (climatology(weather)["rain_mm"] >= 0).all()


def test_the_order_of_rows_is_no_matter(days):
    weather = days("2021-01-01", "2021-12-31")
    mixed = weather.sample(frac=1, random_state=3)
    pd.testing.assert_frame_equal(climatology(weather), climatology(mixed))


def test_monthly_means_run_from_january_to_december(days):
    weather = days("2021-01-01", "2021-12-31")
    middle = (weather["temp_max_c"] + weather["temp_min_c"]) / 2
    want = middle.groupby(weather["date"].dt.month).mean()
    np.testing.assert_allclose(monthly_means_c(weather), want, rtol=1e-12, atol=0)


def test_monthly_means_need_every_month(days):
    weather = days("2021-01-01", "2021-12-31")
    assert monthly_means_c(weather[weather["date"].dt.month != 2]) is None


def test_monthly_means_do_not_look_past_the_evening(days):
    assert monthly_means_c(days("2021-01-01", "2021-12-31"), on="2021-06-01") is None


def test_a_place_has_no_blank():
    assert place_climatology(52.0).notna().all(axis=None)


@pytest.mark.parametrize(("latitude", "warmest"), [(48.0, 7), (-38.0, 1)])
def test_the_hemisphere_turns_the_year(latitude, warmest):
    day = place_climatology(latitude)["temp_max_c"].idxmax()
    assert (pd.Timestamp("2000-01-01") + pd.Timedelta(days=int(day) - 1)).month == warmest


def test_a_kilometre_up_is_six_and_a_half_degrees_colder():
    drop = place_climatology(45.0) - place_climatology(45.0, 1000.0)
    np.testing.assert_allclose(drop["temp_max_c"], 6.5, rtol=1e-9, atol=0)


@pytest.mark.parametrize("unknown", [None, np.nan])
def test_an_unknown_elevation_counts_as_the_sea(unknown):
    pd.testing.assert_frame_equal(place_climatology(45.0, unknown), place_climatology(45.0))


def test_the_sun_never_shines_longer_than_the_day():
    assert (place_climatology(65.0)["sunshine_h"] <= 24).all()
