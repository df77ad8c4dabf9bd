import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from data_sources.errors import SourceError, SourceMalformed
from data_sources.weather.met_norway import fetch_met_norway, read_met_norway

ANSWER = Path(__file__).parent / "answers" / "met_norway.json"
NOW = datetime(2026, 5, 4, 9, tzinfo=UTC)


@pytest.fixture
def payload():
    return json.loads(ANSWER.read_text(encoding="utf-8"))


def read(payload, zone="Europe/London"):
    return read_met_norway(payload, zone=zone, fetched_at=NOW).set_index("date")


def steps(payload):
    return payload["properties"]["timeseries"]


def test_today_which_is_cut_is_left_out(payload):
    assert read(payload).index.min().isoformat()[:10] == "2026-05-05"


def test_the_extremes_of_a_local_day_are_those_of_its_hours(payload):
    readings = {
        s["time"]: s["data"]["instant"]["details"]["air_temperature"] for s in steps(payload)
    }
    # London is at UTC + 1
    day = [t for h, t in readings.items() if "2026-05-04T23" <= h < "2026-05-05T23"]
    assert len(day) == 24
    row = read(payload).loc["2026-05-05"]
    assert (row["temp_min_c"], row["temp_max_c"]) == (min(day), max(day))


def test_an_hours_rain_is_never_counted_again_in_the_six_hours_amount(payload):
    assert read(payload)["rain_mm"]["2026-05-05"] == pytest.approx(0.1)


def test_far_days_take_the_extremes_of_their_six_hours(payload):
    # blocks from 7 May 00:00 UTC on: the second and later of the eight
    row = read(payload).loc["2026-05-07"]
    assert (row["temp_min_c"], row["temp_max_c"]) == (2.0, 16.0)
    assert row["rain_mm"] == pytest.approx(4 * 1.5)


def test_four_readings_a_day_give_no_greatest_wind(payload):
    wind = read(payload)["wind_max_m_s"]
    assert wind["2026-05-05"] == 5.0
    assert wind.isna()["2026-05-07"]


def test_the_short_form_gives_no_temperature_of_far_days(payload):
    for step in steps(payload):
        for name in ("air_temperature_max", "air_temperature_min"):
            step["data"].get("next_6_hours", {}).get("details", {}).pop(name, None)
    table = read(payload)
    assert table["temp_max_c"].notna().tolist() == [True, False, False]


@pytest.mark.parametrize("at", [20, 30])
def test_a_missing_hour_blanks_its_day(payload, at):
    day = steps(payload)[at]["time"][:10]
    del steps(payload)[at]
    assert day not in read(payload).index.strftime("%Y-%m-%d")


def test_the_days_are_cut_by_the_zone_that_is_given(payload):
    auckland = read(payload, zone="Pacific/Auckland")
    # midnight there is noon UTC: the 5th begins at noon on the 4th
    readings = [
        s["data"]["instant"]["details"]["air_temperature"]
        for s in steps(payload)
        if "2026-05-04T12" <= s["time"] < "2026-05-05T12"
    ]
    assert auckland["temp_max_c"]["2026-05-05"] == max(readings)


def test_the_unit_is_read_from_the_answer(payload):
    payload["properties"]["meta"]["units"]["wind_speed"] = "kn"
    assert read(payload)["wind_max_m_s"]["2026-05-05"] == pytest.approx(5 * 1852 / 3600)


@pytest.mark.parametrize(
    ("units", "says"), [({"wind_speed": "Bft"}, "unit None"), ({}, "unit None"), (None, "'units'")]
)
def test_units_that_are_not_told_are_refused(payload, units, says):
    payload["properties"]["meta"]["units"] = units
    with pytest.raises(SourceMalformed, match=says):
        read(payload)


def test_an_hour_told_twice_is_refused(payload):
    steps(payload).append(steps(payload)[3])
    with pytest.raises(SourceMalformed, match="two values for one time"):
        read(payload)


def fetch(session, server, **how):
    return fetch_met_norway(
        session,
        latitude=59.91234,
        longitude=10.75678,
        first_day=date(2026, 5, 5),
        last_day=date(2026, 5, 6),
        today=date(2026, 5, 4),
        base_url=server.url,
        **how,
    )


def test_the_place_leaves_with_two_decimals_and_whole_metres(quick, server, payload):
    server.payload = payload
    fetch(quick(), server, elevation_m=93.7)
    assert server.calls == [{"lat": ["59.91"], "lon": ["10.76"], "altitude": ["94"]}]


def test_without_a_zone_the_days_are_the_suns_whole_hours(quick, server, payload):
    server.payload = payload
    session = quick()
    same = fetch(session, server, zone="Etc/GMT-1").table.drop(columns="fetched_at")
    assert fetch(session, server).table.drop(columns="fetched_at").equals(same)


def test_a_zone_that_is_none_is_refused_unasked(quick, server):
    with pytest.raises(SourceError, match="no time zone 'Mars'"):
        fetch(quick(), server, zone="Mars")
    assert server.calls == []
