import numpy as np
import pandas as pd
import pytest

from swarmwatch.tables import TABLES, conform
from swarmwatch.weather import climatology, daily_weather, normal_rows, years_seen

HERE = {"apiary": "garden", "latitude": 50.0}


def test_there_is_a_row_for_every_day_of_a_leap_year(days):
    rows = normal_rows(days("2001-01-01", "2022-12-31"), **HERE)
    assert rows["date"].tolist() == list(pd.date_range("2000-01-01", "2000-12-31"))
    assert set(rows["kind"]) == {"normal"}
    assert set(rows["apiary"]) == {"garden"}


def test_the_rows_are_rows_of_the_weather_table(days):
    rows = normal_rows(days("2001-01-01", "2022-12-31"), **HERE)
    assert len(conform(rows, TABLES["weather"])) == 366


def test_29_february_lies_between_its_neighbours(days):
    rows = normal_rows(days("2001-01-01", "2022-12-31"), **HERE).set_index("date")["temp_max_c"]
    before, leap, after = rows.loc["2000-02-28"], rows.loc["2000-02-29"], rows.loc["2000-03-01"]
    assert before <= leap <= after
    assert after - before < 0.6


def test_the_year_closes_without_a_jump(days):
    temps = normal_rows(days("2001-01-01", "2022-12-31"), **HERE)["temp_max_c"]
    assert abs(temps.iloc[0] - temps.iloc[-1]) < 0.1


def test_the_course_read_back_is_the_course_written(days):
    rows = normal_rows(days("2001-01-01", "2022-12-31"), **HERE)
    again = climatology(rows)
    np.testing.assert_allclose(again["temp_max_c"], rows["temp_max_c"], rtol=0, atol=0.02)


def test_a_day_without_other_weather_takes_the_normal_rows(days):
    rows = normal_rows(days("2001-01-01", "2022-12-31", temp_max_c=33.0), **HERE)
    span = {"first": "2026-05-10", "last": "2026-05-12", "on": "2026-05-10"}
    got = daily_weather(rows, **span, **HERE)
    np.testing.assert_allclose(got["temp_max_c"], 33.0, rtol=1e-9, atol=0)


@pytest.mark.parametrize(
    ("first", "said"),
    [
        ("2001-01-01", "normal of 2001-2022 Invented"),
        ("2019-01-01", "normal of 2019-2022, few years Invented"),
        ("2022-06-01", "normal by latitude and elevation"),
    ],
)
def test_the_provider_says_what_it_rests_on(days, first, said):
    rows = normal_rows(days(first, "2022-12-31"), source="Invented", **HERE)
    assert set(rows["provider"]) == {said}


def test_with_nothing_at_hand_latitude_and_elevation_speak():
    low = normal_rows(None, elevation_m=0.0, **HERE)["temp_max_c"]
    high = normal_rows(None, elevation_m=1000.0, **HERE)["temp_max_c"]
    np.testing.assert_allclose(low - high, 6.5, rtol=0, atol=0.011)


def test_the_lowest_is_never_above_the_highest(days):
    past = days("2021-01-01", "2022-12-31", temp_min_c=np.nan)
    past["temp_min_c"] = past["temp_max_c"]
    rows = normal_rows(past, **HERE)
    assert (rows["temp_max_c"] >= rows["temp_min_c"]).all()


def test_a_year_with_half_its_days_is_no_year(days):
    past = pd.concat([days("2020-01-01", "2020-12-31"), days("2021-01-01", "2021-06-30")])
    assert years_seen(past) == [2020]
