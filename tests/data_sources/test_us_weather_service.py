import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from data_sources.errors import SourceError, SourceMalformed
from data_sources.weather.us_weather_service import (
    fetch_us_weather_service,
    read_us_weather_service,
)

ANSWERS = Path(__file__).parent / "answers"
NOW = datetime(2026, 5, 4, 16, 30, tzinfo=UTC)


def answer(name):
    return json.loads((ANSWERS / name).read_text(encoding="utf-8"))


@pytest.fixture
def grid():
    return answer("us_grid.json")


def read(grid, zone="America/New_York"):
    return read_us_weather_service(grid, zone=zone, fetched_at=NOW).set_index("date")


def test_a_maximum_is_of_the_day_its_period_begins_on(grid):
    got = read(grid)["temp_max_c"]
    assert (got["2026-05-05"], got["2026-05-06"]) == (21.1, 18.4)


def test_a_minimum_is_of_the_day_its_period_ends_on(grid):
    got = read(grid)["temp_min_c"]
    assert (got["2026-05-05"], got["2026-05-06"], got["2026-05-07"]) == (8.9, 9.4, 5.0)


def test_a_period_that_has_begun_gives_no_false_extreme(grid):
    # the eight hours left of the 4th told 20.0
    assert "2026-05-04" not in read(grid).index.strftime("%Y-%m-%d")


def test_rain_is_split_over_its_hours_and_summed_by_local_day(grid):
    # 1.5 mm from 20:00 to 02:00 local and 6 mm from 20:00: a third and two thirds of each
    got = read(grid)["rain_mm"]
    assert got["2026-05-05"] == pytest.approx(1.5 / 3)
    assert got["2026-05-06"] == pytest.approx(6.0 * 2 / 3)


def test_wind_is_the_greatest_of_the_local_day_in_metres_a_second(grid):
    got = read(grid)["wind_max_m_s"]
    assert got["2026-05-05"] == pytest.approx(5.0)
    assert got["2026-05-06"] == pytest.approx(4.0)


def test_a_day_the_forecast_cuts_has_neither_rain_nor_wind(grid):
    assert read(grid).loc["2026-05-07", ["rain_mm", "wind_max_m_s"]].isna().all()


def test_an_amount_that_is_null_blanks_its_day(grid):
    grid["properties"]["quantitativePrecipitation"]["values"][1]["value"] = None
    got = read(grid)["rain_mm"]
    assert got.isna()["2026-05-05"]
    assert not got.isna()["2026-05-06"]


def test_the_unit_is_read_from_the_answer(grid):
    for name in ("maxTemperature", "minTemperature"):
        grid["properties"][name]["uom"] = "wmoUnit:degF"
    assert read(grid)["temp_max_c"]["2026-05-05"] == pytest.approx((21.1 - 32) * 5 / 9)


@pytest.mark.parametrize(
    ("layer", "to", "says"),
    [
        ("windSpeed", {"uom": "wmoUnit:Bft", "values": [{}]}, "'Bft'"),
        ("windSpeed", {"uom": None, "values": [{}]}, "unit None"),
        ("windSpeed", {"uom": "wmoUnit:km_h-1", "values": [7]}, "where a value of 'windSpeed'"),
        ("maxTemperature", [], "without 'maxTemperature'"),
    ],
)
def test_a_damaged_layer_is_refused_by_name(grid, layer, to, says):
    grid["properties"][layer] = to
    with pytest.raises(SourceMalformed, match=says):
        read(grid)


@pytest.mark.parametrize(
    ("time", "says"),
    [
        ("2026-05-05T12:00:00+00:00", "a time and its length"),
        ("2026-05-05T12:00:00/PT3H", "without its zone"),
        ("2026-05-05T12:00:00+00:00/P99D", "a period of 99 days"),
        ("2026-05-05T12:00:00+00:00/PT0H", "a period of 0"),
        ("2026-05-04T16:00:00+00:00/PT20H", "two values for one time"),
    ],
)
def test_a_time_that_is_none_is_refused(grid, time, says):
    grid["properties"]["windSpeed"]["values"][1]["validTime"] = time
    with pytest.raises(SourceMalformed, match=says):
        read(grid)


@pytest.fixture
def service(server, grid):
    """Serve the place and its square of the grid, and keep the paths that were asked for."""
    points = answer("us_points.json")
    server.paths = []

    def good(h):
        server.paths.append(h.path)
        body = points if h.path.startswith("/v1/forecast/points") else grid
        server._send(h, 200, json.dumps(body).encode())

    server._good = good
    server.points = points
    return server


def fetch(session, server):
    return fetch_us_weather_service(
        session,
        latitude=40.71234,
        longitude=-74.00567,
        first_day=date(2026, 5, 6),
        last_day=date(2026, 5, 6),
        today=date(2026, 5, 4),
        base_url=server.url,
    )


def test_the_place_is_asked_for_first_then_its_square(quick, service):
    fetch(quick(), service)
    assert [p.removeprefix("/v1/forecast") for p in service.paths] == [
        "/points/40.71,-74.01",
        "/gridpoints/ZZZ/1,2",
    ]


def test_only_the_days_wanted_come(quick, service):
    assert fetch(quick(), service).table["date"].dt.day.tolist() == [6]


@pytest.mark.parametrize(
    ("key", "to"),
    [("gridId", "../.."), ("gridX", -1), ("gridY", True), ("gridX", "1"), ("timeZone", "Mars")],
)
def test_a_place_without_a_sound_square_or_zone_is_refused(quick, service, key, to):
    service.points["properties"][key] = to
    with pytest.raises(SourceError, match="US National Weather Service"):
        fetch(quick(), service)
    assert len(service.paths) == 1
