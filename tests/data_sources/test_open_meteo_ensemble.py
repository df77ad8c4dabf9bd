import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from data_sources.errors import SourceMalformed
from data_sources.weather.open_meteo_ensemble import (
    fetch_open_meteo_ensemble,
    read_open_meteo_ensemble,
    spread_by_day,
)

ANSWER = Path(__file__).parent / "answers" / "open_meteo_ensemble.json"
NOW = datetime(2026, 5, 4, 9, tzinfo=UTC)


@pytest.fixture
def payload():
    return json.loads(ANSWER.read_text(encoding="utf-8"))


def read(payload):
    return read_open_meteo_ensemble(payload, fetched_at=NOW)


def test_every_member_has_every_day(payload):
    table = read(payload)
    assert table["member"].tolist() == [0, 0, 1, 1, 2, 2]
    assert set(table["kind"]) == {"forecast"}


def test_each_member_keeps_its_own_values(payload):
    table = read(payload)
    second = table[table["member"] == 2]
    assert second["temp_max_c"].tolist() == payload["daily"]["temperature_2m_max_member02"]


def test_the_spread_grows_with_the_members_distance(payload):
    spread = spread_by_day(read(payload))
    width = spread["temp_max_c_high"] - spread["temp_max_c_low"]
    # 0, 0.5, 1 and 0, 1, 2: the middle 80 % of three evenly spaced values
    assert width.tolist() == pytest.approx([0.8, 1.6])
    assert spread["temp_max_c_mid"].tolist() == pytest.approx([17.7, 20.8])
    assert spread["members"].tolist() == [3, 3]


def test_what_no_member_tells_has_no_spread(payload):
    assert spread_by_day(read(payload))["sunshine_h_mid"].isna().all()


def test_wind_that_the_model_lacks_is_blank(payload):
    payload["daily"] = {k: v for k, v in payload["daily"].items() if not k.startswith("wind")}
    assert read(payload)["wind_max_m_s"].isna().all()


@pytest.mark.parametrize(
    ("gone", "says"),
    [
        (["temperature_2m_min_member01"], "without whole members"),
        (
            [
                f"temperature_2m_{e}{m}"
                for e in ("max", "min")
                for m in ("", "_member01", "_member02")
            ],
            "without whole members",
        ),
    ],
)
def test_members_that_are_not_whole_are_refused(payload, gone, says):
    for key in gone:
        del payload["daily"][key]
    with pytest.raises(SourceMalformed, match=says):
        read(payload)


def test_a_value_that_cant_be_weather_is_refused_by_member_and_day(payload):
    payload["daily"]["wind_speed_10m_max_member01"][1] = 468.5
    with pytest.raises(SourceMalformed, match=r"member 1, 2026-05-05: wind_max_m_s 468.5"):
        read(payload)


def test_one_model_and_the_days_wanted_are_asked_for(quick, server, payload):
    server.payload = payload
    fetch_open_meteo_ensemble(
        quick(),
        latitude=51.49876,
        longitude=-0.12345,
        first_day=date(2026, 5, 4),
        last_day=date(2026, 5, 5),
        today=date(2026, 5, 4),
        base_url=server.url,
    )
    asked = server.calls[0]
    assert asked["models"] == ["ecmwf_ifs025"]
    assert (asked["start_date"], asked["end_date"]) == (["2026-05-04"], ["2026-05-05"])
    assert (asked["latitude"], asked["wind_speed_unit"]) == (["51.50"], ["ms"])
