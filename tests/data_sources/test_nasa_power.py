import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from data_sources.errors import SourceMalformed, SourceUnavailable
from data_sources.weather.nasa_power import CREDIT, fetch_nasa_power, read_nasa_power

ANSWER = Path(__file__).parent / "answers" / "nasa_power.json"
NOW = datetime(2026, 5, 5, 12, tzinfo=UTC)
PLACE = {"latitude": 51.49876, "longitude": -0.12345}


@pytest.fixture
def payload():
    return json.loads(ANSWER.read_text(encoding="utf-8"))


def read(payload):
    return read_nasa_power(payload, fetched_at=NOW)


def test_the_answers_own_word_for_missing_is_blank(payload):
    table = read(payload)
    assert table["wind_max_m_s"].isna().tolist() == [False, True]
    payload["header"]["fill_value"] = 6.1
    payload["properties"]["parameter"]["T2M_MAX"]["20260403"] = None
    for name in ("T2M_MIN", "PRECTOTCORR", "WS10M_MAX"):
        payload["properties"]["parameter"][name]["20260403"] = 6.1
    payload["properties"]["parameter"]["WS10M_MAX"]["20260402"] = 6.0
    assert read(payload)["wind_max_m_s"].isna().tolist() == [True, False]


def test_days_that_are_not_there_yet_are_left_out(payload):
    assert read(payload)["date"].dt.day.tolist() == [1, 2]


def test_every_day_is_observed(payload):
    assert set(read(payload)["kind"]) == {"observed"}


@pytest.mark.parametrize(("unit", "want"), [("F", (14.6 - 32) * 5 / 9), ("C", 14.6)])
def test_the_unit_is_read_from_the_answer(payload, unit, want):
    payload["parameters"]["T2M_MAX"]["units"] = unit
    payload["parameters"]["T2M_MIN"]["units"] = unit
    assert read(payload)["temp_max_c"][0] == pytest.approx(want)


@pytest.mark.parametrize(
    ("path", "to", "says"),
    [
        (("header", "fill_value"), None, "fill_value"),
        (("header", "time_standard"), "UTC", "days by UTC and not by LST"),
        (("parameters", "WS10M_MAX", "units"), "Bft", "'Bft'"),
        (("properties", "parameter", "T2M_MAX"), [], "T2M_MAX"),
        (("properties", "parameter", "T2M_MAX"), {"1 April": 3.0}, "date should be"),
        (("properties", "parameter", "T2M_MAX", "20260401"), 99.0, "2026-04-01: temp_max_c 99"),
    ],
)
def test_a_damaged_answer_is_refused_by_name(payload, path, to, says):
    inner = payload
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = to
    with pytest.raises(SourceMalformed, match=says):
        read(payload)


def test_the_services_own_words_are_told():
    with pytest.raises(SourceMalformed, match="refused: Invented"):
        read({"detail": "Invented"})


def fetch(session, server, first, last):
    return fetch_nasa_power(
        session,
        **PLACE,
        first_day=first,
        last_day=last,
        today=date(2026, 4, 3),
        base_url=server.url,
    )


def test_no_day_to_come_is_asked_for(quick, server, payload):
    server.payload = payload
    fetch(quick(), server, date(2026, 4, 1), date(2026, 4, 30))
    asked = server.calls[0]
    assert (asked["start"], asked["end"]) == (["20260401"], ["20260402"])
    assert (asked["latitude"], asked["longitude"]) == (["51.50"], ["-0.12"])


def test_days_to_come_alone_are_refused_unasked(quick, server):
    with pytest.raises(SourceUnavailable, match="no days to come"):
        fetch(quick(), server, date(2026, 4, 3), date(2026, 4, 30))
    assert server.calls == []


def test_the_credit_names_the_project():
    assert "POWER Project" in CREDIT
