import time

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.errors import RecordsError
from swarmwatch.weather import by_apiary, daily_weather, place_climatology, weather_words

ON = "2026-05-14"


def choose(weather, first="2026-05-10", last="2026-05-20", on=ON, apiary="garden"):
    return daily_weather(weather, apiary=apiary, first=first, last=last, on=on, latitude=50.0)


def row(date, temp_max_c, **more):
    return {"date": date, "temp_max_c": temp_max_c, "temp_min_c": 5.0, **more}


def on_day(daily, date):
    return daily.set_index("date").loc[pd.Timestamp(date)]


def test_there_is_one_row_for_every_day():
    got = choose(None)
    assert got["date"].tolist() == list(pd.date_range("2026-05-10", "2026-05-20"))


def test_the_lead_counts_days_after_the_evening():
    assert choose(None)["lead_d"].tolist() == [0, 0, 0, 0, 0, 1, 2, 3, 4, 5, 6]


def test_a_past_row_without_kind_is_observed_a_coming_one_forecast():
    got = choose(pd.DataFrame([row(ON, 20.0), row("2026-05-15", 21.0)]))
    assert on_day(got, ON)["kind"] == "observed"
    assert on_day(got, "2026-05-15")["kind"] == "forecast"


def test_what_will_be_observed_is_not_known_yet():
    got = on_day(choose(pd.DataFrame([row("2026-05-15", 33.3, kind="observed")])), "2026-05-15")
    assert got["kind"] == "normal"
    assert got["temp_max_c"] != 33.3


def test_observed_comes_before_forecast():
    rows = [row(ON, 20.0, kind="observed"), row(ON, 25.0, kind="forecast")]
    assert on_day(choose(pd.DataFrame(rows)), ON)["temp_max_c"] == 20.0


def test_a_past_day_not_observed_takes_the_newest_forecast():
    rows = [
        row(ON, 21.0, kind="forecast", fetched_at="2026-05-12T06:00:00Z"),
        row(ON, 22.0, kind="forecast", fetched_at="2026-05-13T06:00:00Z"),
    ]
    got = on_day(choose(pd.DataFrame(rows)), ON)
    assert (got["kind"], got["temp_max_c"]) == ("forecast", 22.0)


@pytest.mark.parametrize(
    ("fetched_at", "kind"),
    [
        ("2026-05-12T00:00:00Z", "forecast"),
        ("2026-05-11T23:00:00Z", "normal"),
        # in the morning after the evening, before the day's look
        ("2026-05-15T05:00:00Z", "forecast"),
        ("2026-05-16T05:00:00Z", "normal"),
    ],
)
def test_a_forecast_too_old_or_from_later_is_not_used(fetched_at, kind):
    weather = pd.DataFrame([row("2026-05-16", 30.0, kind="forecast", fetched_at=fetched_at)])
    assert on_day(choose(weather), "2026-05-16")["kind"] == kind


def test_providers_are_never_mixed_in_a_row():
    rows = [
        row(ON, 20.0, rain_mm=1.0, wind_max_m_s=None, provider="a"),
        row(ON, 22.0, rain_mm=None, wind_max_m_s=3.0, sunshine_h=4.0, provider="b"),
    ]
    got = on_day(choose(pd.DataFrame(rows)), ON)
    assert got["temp_max_c"] == 22.0
    assert np.isnan(got["rain_mm"])


@pytest.mark.parametrize(("own", "shared"), [(20.0, 22.0), (22.0, 20.0)])
def test_of_equally_complete_rows_the_yards_own_wins(own, shared):
    rows = [row(ON, own, apiary="garden"), row(ON, shared, apiary=None)]
    assert on_day(choose(pd.DataFrame(rows)), ON)["temp_max_c"] == own


def test_of_equally_complete_rows_the_newer_wins():
    rows = [
        row(ON, 20.0, provider="a", fetched_at="2026-05-14T20:00:00Z"),
        row(ON, 22.0, provider="b", fetched_at="2026-05-14T08:00:00Z"),
    ]
    assert on_day(choose(pd.DataFrame(rows)), ON)["temp_max_c"] == 20.0


def test_another_yards_weather_is_not_used():
    assert on_day(choose(pd.DataFrame([row(ON, 20.0, apiary="roof")])), ON)["kind"] == "normal"


def test_a_given_normal_row_comes_before_the_climatology(days):
    weather = pd.concat(
        [
            days("2024-01-01", "2025-12-31", kind="observed"),
            pd.DataFrame([row("2026-05-18", 1.0, kind="normal")]),
        ]
    )
    assert on_day(choose(weather), "2026-05-18")["temp_max_c"] == 1.0


def test_normal_rows_of_another_year_give_the_course(days):
    weather = days("2020-01-01", "2020-12-31", kind="normal", rain_mm=9.0)
    np.testing.assert_allclose(choose(weather)["rain_mm"], 9.0, rtol=1e-9, atol=0)


def test_own_history_comes_before_the_latitude(days):
    weather = days("2024-01-01", "2025-12-31", rain_mm=9.0)
    np.testing.assert_allclose(choose(weather)["rain_mm"], 9.0, rtol=1e-9, atol=0)


def test_without_any_weather_the_latitude_speaks():
    got = choose(None)
    want = place_climatology(50.0).loc[got["date"].dt.day_of_year, "temp_max_c"]
    np.testing.assert_allclose(got["temp_max_c"], want, rtol=1e-12, atol=0)


def test_a_leap_day_is_found(days):
    got = choose(days("2021-01-01", "2022-12-31"), first="2024-02-28", last="2024-03-01", on=ON)
    assert got["temp_max_c"].notna().all()


def test_a_blank_cell_stays_blank():
    got = on_day(choose(pd.DataFrame([row(ON, 20.0, rain_mm=None)])), ON)
    assert np.isnan(got["rain_mm"])


def test_a_day_whose_maximum_is_blank_keeps_the_rest():
    got = on_day(choose(pd.DataFrame([row(ON, None, rain_mm=3.0)])), ON)
    assert (got["kind"], got["rain_mm"]) == ("observed", 3.0)


def test_a_row_without_any_value_counts_as_absent():
    weather = pd.DataFrame([{"date": ON, "temp_max_c": None, "temp_min_c": None}])
    assert on_day(choose(weather), ON)["kind"] == "normal"


def test_an_unreadable_cell_is_refused_with_its_row():
    with pytest.raises(RecordsError, match="weather row 2, temp_max_c: 'warm'"):
        choose(pd.DataFrame([row(ON, "warm")]))


def test_an_empty_span_gives_no_row():
    assert len(choose(None, first="2026-05-10", last="2026-05-09")) == 0


def mixed_table(seed):
    rng = np.random.default_rng(seed)
    size = 60
    dates = pd.Timestamp("2026-05-08") + pd.to_timedelta(rng.integers(0, 15, size), unit="D")
    fetched = pd.Timestamp("2026-05-10T06:00Z") + pd.to_timedelta(rng.integers(0, 200, size), "h")
    return pd.DataFrame(
        {
            "apiary": rng.choice(["garden", "roof", None], size),
            "date": dates,
            "temp_max_c": rng.normal(18, 4, size),
            "temp_min_c": rng.normal(8, 4, size),
            "rain_mm": np.where(rng.random(size) < 0.3, np.nan, 1.0),
            "kind": rng.choice(["observed", "forecast", "normal", None], size),
            "provider": rng.choice(["a", "b"], size),
            "fetched_at": fetched,
        }
    )


@given(seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_the_order_of_rows_is_no_matter(seed):
    weather = mixed_table(seed)
    mixed = weather.sample(frac=1, random_state=seed)
    pd.testing.assert_frame_equal(choose(weather), choose(mixed))


@given(seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_nothing_observed_or_fetched_later_changes_the_choice(seed):
    weather = mixed_table(seed)
    later_seen = (weather["kind"] == "observed") & (weather["date"] > ON)
    later_fetched = (weather["kind"] == "forecast") & (
        weather["fetched_at"] >= pd.Timestamp("2026-05-16T00:00Z")
    )
    known = weather[~later_seen & ~later_fetched]
    pd.testing.assert_frame_equal(choose(weather), choose(known))


@given(seed=st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_a_book_split_by_yard_chooses_the_same(seed):
    weather = mixed_table(seed)
    books = by_apiary(weather)
    for yard in ("garden", "roof", "elsewhere"):
        book = books.get(yard, books[""])
        pd.testing.assert_frame_equal(choose(weather, apiary=yard), choose(book, apiary=yard))


def test_a_hundred_yards_take_well_under_a_second(days):
    weather = pd.concat([days("2025-03-01", "2026-09-16", apiary=f"yard {i}") for i in range(100)])
    books = by_apiary(weather)
    begun = time.perf_counter()
    for i in range(100):
        choose(books[f"yard {i}"], first="2026-03-01", last="2026-09-16", apiary=f"yard {i}")
    assert time.perf_counter() - begun < 2.0


def test_the_words_tell_observed_forecast_and_normal():
    rows = [row(d, 20.0) for d in pd.date_range("2026-05-10", "2026-05-17")]
    words = weather_words(choose(pd.DataFrame(rows)))
    assert words == "observed to 2026-05-14, forecast 3 days, then normal"


def test_the_words_tell_of_days_not_observed():
    rows = [row(d, 20.0, kind="observed") for d in pd.date_range("2026-05-11", "2026-05-12")]
    words = weather_words(choose(pd.DataFrame(rows)))
    assert words == "observed to 2026-05-12 (3 days not observed), then normal"


def test_the_words_tell_when_there_is_no_weather():
    assert weather_words(choose(None)) == "normal for the place, no weather at hand"
