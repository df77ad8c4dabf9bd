"""What every weather adapter keeps to: a sound table or an own error, whatever comes in.

The answers in `answers/` have the services' shapes, as their documents tell them; every value is
invented.
"""

import copy
import json
import string
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data_sources.errors import SourceError
from data_sources.weather import (
    ghcn_daily,
    met_norway,
    nasa_power,
    open_meteo,
    open_meteo_ensemble,
    us_weather_service,
)
from data_sources.weather.fetched import Fetched
from data_sources.weather.file import read_weather_file
from data_sources.weather.table import BOUNDS, COLUMNS, KINDS

ANSWERS = Path(__file__).parent / "answers"
NOW = datetime(2026, 5, 5, 12, tzinfo=UTC)
PLACE = {"latitude": 51.49876, "longitude": -0.12345}
SPAN = {"first_day": date(2026, 4, 1), "last_day": date(2026, 5, 10), "today": date(2026, 5, 5)}
OWN = "date,temp_max_c,temp_min_c,rain_mm\n2026-05-04,17.2,6.1,0.0\n2026-05-05,19.8,7.4,\n"
OPEN_METEO = {
    "utc_offset_seconds": 3600,
    "daily_units": {
        "time": "iso8601",
        "temperature_2m_max": "°C",
        "temperature_2m_min": "°C",
        "precipitation_sum": "mm",
        "wind_speed_10m_max": "m/s",
        "sunshine_duration": "s",
    },
    "daily": {
        "time": ["2026-05-04", "2026-05-05"],
        "temperature_2m_max": [17.2, None],
        "temperature_2m_min": [6.1, 7.4],
        "precipitation_sum": [0.0, 3.4],
        "wind_speed_10m_max": [4.9, 7.7],
        "sunshine_duration": [31240.5, 0.0],
    },
}


def answer(name):
    text = (ANSWERS / name).read_text(encoding="utf-8")
    return json.loads(text) if name.endswith(".json") else text


@dataclass(frozen=True, kw_only=True)
class Case:
    """An adapter: how it reads, what, and how it asks the server of the tests."""

    provider: str
    read: Callable[..., pd.DataFrame]
    payload: object
    fetch: Callable[..., Fetched] | None = None
    # end of the path: another payload than the one above
    routes: dict[str, object] = field(default_factory=dict)


def common(fetch):
    return lambda session, url: fetch(session, **PLACE, **SPAN, base_url=url)


def read_file(payload, tmp_path):
    path = tmp_path / "own.csv"
    path.write_bytes(str(payload).encode("utf-8", "surrogatepass"))
    return read_weather_file(path)


CASES = {
    "open-meteo": Case(
        provider=open_meteo.PROVIDER,
        read=lambda payload, _: open_meteo.read_open_meteo(payload, fetched_at=NOW),
        payload=OPEN_METEO,
        fetch=lambda session, url: open_meteo.fetch_open_meteo(session, **PLACE, base_url=url),
    ),
    "open-meteo-archive": Case(
        provider=open_meteo.PROVIDER,
        read=lambda payload, _: open_meteo.read_open_meteo(payload, fetched_at=NOW),
        payload=OPEN_METEO,
        fetch=lambda session, url: open_meteo.fetch_open_meteo_archive(
            session, **PLACE, first=SPAN["first_day"], last=SPAN["last_day"], base_url=url
        ),
    ),
    "ensemble": Case(
        provider=open_meteo_ensemble.PROVIDER,
        read=lambda payload, _: open_meteo_ensemble.read_open_meteo_ensemble(
            payload, fetched_at=NOW
        ),
        payload=answer("open_meteo_ensemble.json"),
        fetch=common(open_meteo_ensemble.fetch_open_meteo_ensemble),
    ),
    "nasa-power": Case(
        provider=nasa_power.PROVIDER,
        read=lambda payload, _: nasa_power.read_nasa_power(payload, fetched_at=NOW),
        payload=answer("nasa_power.json"),
        fetch=common(nasa_power.fetch_nasa_power),
    ),
    "us-weather-service": Case(
        provider=us_weather_service.PROVIDER,
        read=lambda payload, _: us_weather_service.read_us_weather_service(
            payload, zone="America/New_York", fetched_at=NOW
        ),
        payload=answer("us_grid.json"),
        fetch=common(us_weather_service.fetch_us_weather_service),
        routes={"/points/51.50,-0.12": answer("us_points.json")},
    ),
    "met-norway": Case(
        provider=met_norway.PROVIDER,
        read=lambda payload, _: met_norway.read_met_norway(
            payload, zone="Europe/London", fetched_at=NOW
        ),
        payload=answer("met_norway.json"),
        fetch=common(met_norway.fetch_met_norway),
    ),
    **{
        name: Case(
            provider=ghcn_daily.PROVIDER,
            read=lambda payload, _: ghcn_daily.read_ghcn_daily(payload, fetched_at=NOW),
            payload=answer(name),
            fetch=common(ghcn_daily.fetch_ghcn_daily) if name == "ghcn.dly" else None,
            routes={
                f"/ghcnd-{kind}.txt": answer(f"ghcnd-{kind}.txt")
                for kind in ("stations", "inventory")
            },
        )
        for name in ("ghcn.dly", "ghcn_wide.csv", "ghcn_long.csv")
    },
    "own-file": Case(provider="own station", read=read_file, payload=OWN),
}
ASKED = [name for name, case in CASES.items() if case.fetch]
FAULTS = (
    "error-400",
    "error-403",
    "error-404",
    "error-500",
    "limit-429",
    "limit-429-long",
    "reset",
    "slow",
    "truncated",
    "html-200",
    "error-200",
    "list",
)
SHAPES = ("<html><body>Please log in</body></html>", "", None, 7, [], {}, [[1]], {"error": True})


def assert_sound(table, provider, fetched_at=NOW):
    """Hold a table to the contract; of an ensemble, each member's."""
    if "member" in table:
        for _, rows in table.groupby("member"):
            assert_sound(rows.drop(columns="member"), provider, fetched_at)
        return
    assert tuple(table.columns) == COLUMNS
    assert table["date"].dtype == "datetime64[us]"
    assert table["date"].is_unique
    assert table["date"].notna().all()
    assert (table["date"].dt.normalize() == table["date"]).all()
    for column, (low, high) in BOUNDS.items():
        assert table[column].dtype == "float64"
        assert table[column].dropna().between(low, high).all()
    assert not (table["temp_max_c"] < table["temp_min_c"]).any()
    assert set(table["kind"]) <= set(KINDS)
    assert set(table["provider"]) <= {provider}
    assert str(table["fetched_at"].dtype) == "datetime64[us, UTC]"
    if provider != "own station":
        assert set(table["fetched_at"]) <= {pd.Timestamp(fetched_at)}


@pytest.fixture(params=CASES)
def case(request):
    return CASES[request.param]


@pytest.fixture(params=ASKED)
def asked(request, server):
    """Serve an adapter's own answers; the adapter, and a way to ask."""
    case = CASES[request.param]

    def good(h):
        path = h.path.partition("?")[0]
        payload = next((p for end, p in case.routes.items() if path.endswith(end)), server.payload)
        text = payload if isinstance(payload, str) else json.dumps(payload, allow_nan=True)
        server._send(h, 200, text.encode())

    server._good = good
    server.payload = case.payload
    return case, lambda session: case.fetch(session, server.url)


def test_a_good_answer_gives_a_sound_table(case, tmp_path):
    table = case.read(case.payload, tmp_path)
    assert len(table) >= 2
    assert_sound(table, case.provider)


@pytest.mark.parametrize("payload", SHAPES, ids=repr)
def test_another_shape_is_refused(case, tmp_path, payload):
    with pytest.raises(SourceError, match=r"\.$"):
        case.read(payload, tmp_path)


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.sampled_from([-999.0, 10**400, "NaN", "wmoUnit:degF", "Bft", "9999-12-31", "P9D"])
    | st.text(string.printable, max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)


def damaged(data, payload):
    if isinstance(payload, str):
        return damaged_text(data, payload)
    payload = copy.deepcopy(payload)
    for _ in range(data.draw(st.integers(1, 4))):
        inner = payload
        key = data.draw(st.sampled_from(_keys(inner)))
        while isinstance(inner[key], dict | list) and inner[key] and data.draw(st.integers(0, 4)):
            inner = inner[key]
            key = data.draw(st.sampled_from(_keys(inner)))
        how = data.draw(st.sampled_from(["drop", "twice", "swap", "other", "other"]))
        if how == "drop":
            del inner[key]
        elif how == "twice" and isinstance(inner, list):
            inner.append(copy.deepcopy(inner[key]))
        elif how == "swap":
            other = data.draw(st.sampled_from(_keys(inner)))
            inner[key], inner[other] = inner[other], inner[key]
        else:
            inner[key] = data.draw(JSON)
        if not payload:
            break
    return payload


def _keys(inner):
    return sorted(inner) if isinstance(inner, dict) else list(range(len(inner)))


def damaged_text(data, text):
    for _ in range(data.draw(st.integers(1, 4))):
        begin = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(begin, min(len(text), begin + 12)))
        how = data.draw(st.sampled_from(["cut", "drop", "twice", "other", "other"]))
        if how == "cut":
            text = text[:begin]
        elif how == "twice":
            text += "".join(text.splitlines(keepends=True)[-1:])
        else:
            filler = "" if how == "drop" else data.draw(st.text(max_size=end - begin + 1))
            text = text[:begin] + filler + text[end:]
    return text


@given(data=st.data())
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_damage_gives_a_sound_table_or_an_own_error(case, tmp_path, data):
    try:
        table = case.read(damaged(data, case.payload), tmp_path)
    except SourceError:
        return
    assert_sound(table, case.provider)


def test_a_service_that_answers_gives_rows_a_credit_and_no_notice(asked, quick):
    case, ask = asked
    fetched = ask(quick())
    assert len(fetched.table) >= 2
    assert_sound(fetched.table, case.provider, fetched.table["fetched_at"].iloc[0])
    assert fetched.credit
    assert fetched.credit.isprintable()
    # the invented station ended in April
    assert (fetched.notice == "") == (case.provider != "GHCN-Daily")


def test_no_more_of_a_place_leaves_than_two_decimals(asked, quick, server):
    _, ask = asked
    paths = []
    good = server._good
    server._good = lambda h: (paths.append(h.path), good(h))
    ask(quick())
    assert paths
    assert not any("51.498" in p or "0.123" in p for p in paths)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_failing_service_raises_an_own_error(asked, quick, server, fault):
    _, ask = asked
    server.mode = fault
    with pytest.raises(SourceError, match=r"\.$"):
        ask(quick(retries=0))


@pytest.mark.parametrize("fault", ["error-500", "truncated", "html-200", "list"])
def test_a_kept_answer_serves_while_the_service_fails(asked, quick, server, monkeypatch, fault):
    case, ask = asked
    # every answer is at once too old: by the session, since none says otherwise
    for module in (ghcn_daily, nasa_power, open_meteo, open_meteo_ensemble, us_weather_service):
        for name in [n for n in vars(module) if n.endswith("_KEPT")]:
            monkeypatch.setattr(module, name, None)
    session = quick(expire_after=timedelta(microseconds=1), retries=0)
    before = ask(session).table
    server.mode = fault
    after = ask(session)
    assert after.table.drop(columns="fetched_at").equals(before.drop(columns="fetched_at"))
    assert f"{case.provider} could not be asked: using its answer of" in after.notice


@given(data=st.data())
@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_damage_over_the_wire_gives_a_sound_table_or_an_own_error(asked, quick, server, data):
    case, ask = asked
    server.payload = damaged(data, case.payload)
    try:
        table = ask(quick(None)).table
    except SourceError:
        return
    if len(table):
        assert_sound(table, case.provider, table["fetched_at"].iloc[0])
