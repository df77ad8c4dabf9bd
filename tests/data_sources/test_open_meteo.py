import json
import string
from datetime import UTC, date, datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data_sources.errors import SourceError, SourceMalformed
from data_sources.weather.open_meteo import (
    CREDIT,
    fetch_open_meteo,
    fetch_open_meteo_archive,
    read_open_meteo,
)
from data_sources.weather.table import BOUNDS, COLUMNS

NOON = datetime(2026, 5, 5, 12, tzinfo=UTC)


def read(payload, fetched_at=NOON):
    return read_open_meteo(payload, fetched_at=fetched_at)


def test_the_table_has_the_common_columns(good_payload):
    assert tuple(read(good_payload).columns) == COLUMNS


def test_seconds_of_sun_become_hours(good_payload):
    got = read(good_payload)["sunshine_h"]
    np.testing.assert_allclose(got, [31240.5 / 3600, 9020 / 3600, 0.0], rtol=1e-12, atol=0)


def test_a_null_stays_blank_and_zero_stays_zero(good_payload):
    rain = read(good_payload)["rain_mm"]
    assert rain.isna().tolist() == [False, False, True]
    assert rain[0] == 0.0


def test_a_day_of_which_nothing_is_known_is_left_out(good_payload):
    assert read(good_payload)["date"].max() == pd.Timestamp("2026-05-06")


def test_days_before_the_answers_own_are_observed_the_others_forecast(good_payload):
    assert read(good_payload)["kind"].tolist() == ["observed", "forecast", "forecast"]


def test_the_answers_day_is_that_of_its_own_zone(good_payload):
    # 23:30 UTC on the 5th is half past midnight on the 6th at UTC + 1
    late = datetime(2026, 5, 5, 23, 30, tzinfo=UTC)
    assert read(good_payload, late)["kind"].tolist() == ["observed", "observed", "forecast"]


def test_the_time_of_the_answer_is_kept_in_utc(good_payload):
    assert set(read(good_payload)["fetched_at"]) == {pd.Timestamp(NOON)}


@pytest.mark.parametrize(
    ("key", "unit", "column", "want"),
    [
        ("wind_speed_10m_max", "km/h", "wind_max_m_s", 4.9 / 3.6),
        ("wind_speed_10m_max", "mp/h", "wind_max_m_s", 4.9 * 0.44704),
        ("wind_speed_10m_max", "kn", "wind_max_m_s", 4.9 * 0.514444),
        ("temperature_2m_max", "°F", "temp_max_c", (17.2 - 32) * 5 / 9),
        ("precipitation_sum", "inch", "rain_mm", 0.0),
    ],
)
def test_the_unit_is_read_from_the_answer(good_payload, key, unit, column, want):
    good_payload["daily_units"][key] = unit
    if key == "temperature_2m_max":
        good_payload["daily"]["temperature_2m_min"] = [None] * 4
    np.testing.assert_allclose(read(good_payload)[column][0], want, rtol=1e-5, atol=1e-12)


def change(payload, *path, to):
    inner = payload
    for key in path[:-1]:
        inner = inner[key]
    if to is None:
        del inner[path[-1]]
    else:
        inner[path[-1]] = to
    return payload


@pytest.mark.parametrize(
    ("path", "to", "says"),
    [
        (("daily_units", "wind_speed_10m_max"), "Bft", "'Bft'"),
        (("daily_units", "temperature_2m_max"), None, "unit None"),
        (("daily_units",), None, "without 'daily_units'"),
        (("daily",), [], "without 'daily'"),
        (("daily", "sunshine_duration"), None, "sunshine_duration"),
        (("daily", "time"), ["2026-05-04"] * 4, "comes twice"),
        (("daily", "time"), ["4 May"] * 4, "where a date should be"),
        (("daily", "precipitation_sum"), [0.0], "1 values"),
        (("daily", "precipitation_sum"), [0.0, "3.4", 0.0, 0.0], "'3.4'"),
        (("daily", "precipitation_sum"), [0.0, True, 0.0, 0.0], "'True'"),
        (("daily", "precipitation_sum"), [0.0, float("nan"), 0.0, 0.0], "'nan'"),
        (("daily", "precipitation_sum"), [0.0, 10**400, 0.0, 0.0], "where a number should be"),
        (("daily", "precipitation_sum"), [0.0, -0.1, 0.0, 0.0], "2026-05-05: rain_mm -0.1"),
        (("daily", "wind_speed_10m_max"), [0.0, 468.5, 0.0, 0.0], "wind_max_m_s 468.5"),
        (("daily", "temperature_2m_min"), [18.0, 1.0, 1.0, None], "below temp_min_c"),
        (("utc_offset_seconds",), None, "utc_offset_seconds"),
    ],
)
def test_a_damaged_answer_is_refused_by_name(good_payload, path, to, says):
    with pytest.raises(SourceMalformed, match=says):
        read(change(good_payload, *path, to=to))


def test_the_reason_of_a_refusal_is_told():
    with pytest.raises(SourceMalformed, match="Invented reason"):
        read({"error": True, "reason": "Invented reason"})


def test_several_places_at_once_are_refused(good_payload):
    with pytest.raises(SourceMalformed, match="a list instead of one place"):
        read([good_payload])


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(string.printable, max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)


@given(data=st.data())
@settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_damage_gives_a_sound_table_or_an_own_error(good_payload, data):
    payload = json.loads(json.dumps(good_payload))
    for _ in range(data.draw(st.integers(1, 3))):
        inner = payload
        key = data.draw(st.sampled_from(sorted(inner)))
        while isinstance(inner[key], (dict, list)) and inner[key] and data.draw(st.booleans()):
            inner = inner[key]
            keys = sorted(inner) if isinstance(inner, dict) else range(len(inner))
            key = data.draw(st.sampled_from(list(keys)))
        inner[key] = data.draw(JSON)
    try:
        table = read(payload)
    except SourceError:
        return
    for column, (low, high) in BOUNDS.items():
        assert table[column].dropna().between(low, high).all()
    assert tuple(table.columns) == COLUMNS


def test_coordinates_leave_rounded_to_two_decimals(quick, server):
    fetch_open_meteo(quick(), latitude=51.49876, longitude=-0.00123, base_url=server.url)
    asked = server.calls[0]
    assert (asked["latitude"], asked["longitude"]) == (["51.50"], ["0.00"])


def test_metres_a_second_and_the_places_own_days_are_asked_for(quick, server):
    fetch_open_meteo(quick(), latitude=51.5, longitude=0.1, base_url=server.url)
    asked = server.calls[0]
    assert (asked["wind_speed_unit"], asked["timezone"]) == (["ms"], ["auto"])


@pytest.mark.parametrize("place", [(91.0, 0.0), (float("nan"), 0.0), (0.0, 181.0)])
def test_a_place_off_the_globe_is_refused_unasked(quick, server, place):
    with pytest.raises(SourceError, match="is not within"):
        fetch_open_meteo(quick(), latitude=place[0], longitude=place[1], base_url=server.url)
    assert server.calls == []


def test_the_credit_names_the_service_and_the_licence():
    assert "Open-Meteo.com" in CREDIT
    assert "CC BY 4.0" in CREDIT


def archive(session, server, first, last):
    return fetch_open_meteo_archive(
        session, latitude=51.5, longitude=-0.12, first=first, last=last, base_url=server.url
    )


def test_the_archive_is_asked_for_first_and_last_day(quick, server):
    archive(quick(), server, date(2026, 5, 4), date(2026, 5, 7))
    asked = server.calls[0]
    assert (asked["start_date"], asked["end_date"]) == (["2026-05-04"], ["2026-05-07"])


def test_the_archives_days_are_observed(quick, server):
    table = archive(quick(), server, date(2026, 5, 4), date(2026, 5, 7)).table
    assert set(table["kind"]) == {"observed"}


def test_an_archive_backwards_is_refused(quick, server):
    with pytest.raises(SourceError, match="before the first"):
        archive(quick(), server, date(2026, 5, 7), date(2026, 5, 4))
