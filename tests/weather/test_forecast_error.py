"""How sure a forecast is: by the keeper's own kept forecasts, and by an ensemble."""

import numpy as np
import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.weather import (
    by_apiary,
    daily_weather,
    ensemble_rows,
    own_error_ratio,
    read_weather,
    weather_traces,
)

EVIDENCE = load_evidence()
ON = "2026-05-14"


def tried(error_c, count=90, lead=1):
    """Invented days with a forecast that was `error_c` off, and what came."""
    dates = pd.date_range(end=ON, periods=count)
    came = pd.DataFrame({"date": dates, "temp_max_c": 18.0, "temp_min_c": 8.0, "kind": "observed"})
    fetched = (dates - pd.Timedelta(days=lead)).tz_localize("UTC") + pd.Timedelta(hours=6)
    said = came.assign(kind="forecast", temp_max_c=18.0 + error_c, fetched_at=fetched)
    return pd.concat([came, said], ignore_index=True)


def coming(provider="a", **columns):
    dates = pd.date_range("2026-05-15", periods=7)
    frame = pd.DataFrame({"date": dates, "temp_max_c": 18.0, "temp_min_c": 8.0, "kind": "forecast"})
    fetched = pd.Timestamp("2026-05-14T06:00Z")
    return frame.assign(provider=provider, fetched_at=fetched, **columns)


def members(width_c, count=51):
    dates = pd.DatetimeIndex(pd.date_range("2026-05-15", periods=7), name="date")
    width = np.broadcast_to(width_c, 7)
    spread = pd.DataFrame({"members": count}, index=dates)
    for name, value in (("temp_max_c", 18.0), ("temp_min_c", 8.0)):
        spread[f"{name}_low"], spread[f"{name}_high"] = value - width / 2, value + width / 2
    for name in ("rain_mm", "wind_max_m_s", "sunshine_h"):
        spread[f"{name}_low"] = spread[f"{name}_high"] = 1.0
    fetched = pd.Timestamp("2026-05-14T06:00Z")
    return ensemble_rows(spread, apiary="a", provider="Invented", fetched_at=fetched)


def choose(*tables, on=ON):
    weather = pd.concat(tables, ignore_index=True)
    span = {"first": "2026-05-10", "last": "2026-05-21", "on": on}
    return daily_weather(weather, apiary="a", latitude=50.0, **span)


def ahead(daily):
    return daily.loc[daily["kind"] == "forecast", "temp_sd_c"].to_numpy()


def ratio(weather, on=ON):
    return own_error_ratio(read_weather(weather), on=on)


def test_without_a_forecast_that_came_true_or_not_nothing_is_known():
    assert ratio(coming()) is None
    assert ratio(None) is None


def test_errors_as_published_leave_the_spread_as_it_is():
    published = EVIDENCE.value("weather.forecast_temp_sd_c")
    assert ratio(tried(published)) == pytest.approx(1.0)


def test_errors_twice_as_large_widen_it_by_their_number():
    published = EVIDENCE.value("weather.forecast_temp_sd_c")
    few, many = ratio(tried(2 * published, 10)), ratio(tried(2 * published, 300))
    assert 1.0 < few < many < 2.0
    # 30 days that met the published spread, 300 that were twice as far off
    assert many == pytest.approx(np.sqrt((30 + 300 * 4) / 330))


def test_a_longer_lead_may_be_further_off():
    assert ratio(tried(3.0, lead=5)) < ratio(tried(3.0, lead=1))


def test_a_forecast_of_the_same_day_is_no_trial():
    assert ratio(tried(9.0, lead=0)) is None


def test_what_comes_later_is_not_known_yet():
    assert ratio(tried(9.0), on="2026-01-01") is None


def test_own_errors_widen_the_traces():
    wide = choose(tried(5.0), coming())
    rng = np.random.default_rng(3)
    traces = weather_traces(wide, None, draws=2000, rng=rng)
    at = (wide["kind"] == "forecast").to_numpy()
    spread = traces.temp_max_c[:, at].std(axis=0)
    np.testing.assert_allclose(spread, ahead(wide), rtol=0.1, atol=0)
    assert (ahead(wide) > 2.2).all()


def test_with_nothing_tried_the_frame_leaves_the_published_spread():
    assert np.isnan(ahead(choose(coming()))).all()


def test_the_members_of_an_ensemble_are_never_the_forecast():
    daily = choose(coming(), members(8.0))
    assert set(daily.loc[daily["kind"] == "forecast", "temp_max_c"]) == {18.0}
    alone = choose(members(8.0))
    assert "forecast" not in set(alone["kind"])


def test_an_ensemble_that_parts_widens_its_days_and_no_others():
    widths = np.array([0.0, 1, 2, 3, 4, 5, 5])
    got = ahead(choose(coming(), members(widths)))
    day_1 = EVIDENCE.value("weather.forecast_temp_sd_c")
    # the tenths of a normal lie 2.563 standard deviations apart (table of the normal distribution)
    want = np.minimum(np.hypot(day_1, widths / 2.563), EVIDENCE.value("weather.temp_sd_c"))
    np.testing.assert_allclose(got, want, rtol=1e-3, atol=0)


def test_an_ensemble_of_days_ago_does_not_count():
    got = choose(coming(), members(8.0).assign(fetched_at=pd.Timestamp("2026-05-10T06:00Z")))
    assert np.isnan(ahead(got)).all()


def test_each_yard_has_its_own_ensemble():
    books = by_apiary(pd.concat([coming(), members(8.0)]))
    span = {"first": "2026-05-10", "last": "2026-05-21", "on": ON, "latitude": 50.0}
    other = daily_weather(books[""], apiary="b", **span)
    assert np.isnan(ahead(other)).all()
    assert not np.isnan(ahead(daily_weather(books["a"], apiary="a", **span))).any()


def test_a_handful_of_members_is_no_ensemble():
    assert len(members(8.0, count=1)) == 0
    assert len(members(8.0)) == 14
