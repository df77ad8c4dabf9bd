"""Every way a service can fail, and what the keeper then sees: one table, one real server."""

import datetime as dt
import json
import socket
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from data_sources.session import open_session
from data_sources.weather.asking import weather_for
from data_sources.weather.providers import open_meteo

ROOT = Path(__file__).parents[2]
DAY = dt.date(2026, 5, 5)
SPAN = {"first_day": dt.date(2026, 5, 4), "last_day": dt.date(2026, 5, 6), "today": DAY}
HOME = {"home": (51.5, -0.12)}

# fault: the one line with nothing kept; with an answer kept, its age is said instead
SEEN = {
    "error-400": "Open-Meteo answered 400 (Invented: no such variable). Try again later.",
    "error-403": "Open-Meteo answered 403. Try again later.",
    "error-404": "Open-Meteo answered 404. Try again later.",
    "limit-429": "Open-Meteo answered 429 (Daily API request limit exceeded). The service's limit is used up: wait, then try again.",  # noqa: E501
    "limit-429-long": "Open-Meteo answered 429 (Hourly). The service's limit is used up: wait, then try again.",  # noqa: E501
    "error-500": "Open-Meteo answered 500. Try again later.",
    "reset": "Open-Meteo can't be reached, and no older answer is kept. Check the connection and try again.",  # noqa: E501
    "refused": "Open-Meteo can't be reached, and no older answer is kept. Check the connection and try again.",  # noqa: E501
    "dns": "Open-Meteo can't be reached, and no older answer is kept. Check the connection and try again.",  # noqa: E501
    "drip": "Open-Meteo did not answer in time, and no older answer is kept. Try later.",
    "slow": "Open-Meteo did not answer in time, and no older answer is kept. Try later.",
    "truncated": "Open-Meteo can't be reached, and no older answer is kept. Check the connection and try again.",  # noqa: E501
    "html-200": "Open-Meteo sent something that is not JSON, perhaps a login page of the network. Open any web page to see, then try again.",  # noqa: E501
    "error-200": "Open-Meteo refused: Invented. Try again later.",
    "unequal": "Open-Meteo sent 1 values of 'precipitation_sum' for 4 days. Try again later.",
    "no-number": "Open-Meteo sent NaN where a number should be. Try again later.",
    "wrong-unit": "Open-Meteo: unit 'Bft' of wind_max_m_s is not known. Use one of m/s, km/h, mph, kn.",  # noqa: E501
    "list": "Open-Meteo sent a list instead of one place's answer. Try again later.",
    "flood": "Open-Meteo sent far more than was asked for, so it was cut off. Try again later.",
    "elsewhere": "Open-Meteo sent us on to another address, perhaps a login page of the network; it was not followed. Open any web page to see, then try again.",  # noqa: E501
}
AGED = "Open-Meteo could not be asked: using its answer of 0 minutes ago."


def ask(session, server, places=HOME):
    return weather_for(session, places, **SPAN, providers=open_meteo(forecast_url=server.url)[1:])


@pytest.fixture
def misbehave(server, monkeypatch):
    """Bring a fault about, the two that no server can play included."""

    def go(fault):
        if fault == "refused":
            server.stop()
            monkeypatch.setattr(server, "stop", lambda: None)
        elif fault == "dns":

            def unknown(*_, **__):
                raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

            monkeypatch.setattr(socket, "getaddrinfo", unknown)
        else:
            server.mode = fault

    return go


@pytest.fixture
def hasty(quick):
    """Sessions whose kept answers are at once too old, and that wait for nothing."""
    return lambda **how: quick(
        expire_after=dt.timedelta(microseconds=1), whole_s=0.3, retries=0, **how
    )


@pytest.mark.parametrize("fault", SEEN)
def test_with_nothing_kept_the_keeper_sees_one_plain_line(hasty, server, misbehave, fault):
    misbehave(fault)
    asked = ask(hasty(), server)
    assert asked.notices == (SEEN[fault],)
    assert len(asked.table) == 0
    assert len(asked.missing["home"]) == 3


@pytest.mark.parametrize("fault", SEEN)
def test_the_last_good_answer_serves_with_its_age_and_stays(hasty, server, misbehave, fault):
    session = hasty()
    good = ask(session, server).table
    misbehave(fault)
    for _ in range(2):
        asked = ask(session, server)
        assert asked.notices == (AGED,)
        assert asked.table.drop(columns="fetched_at").equals(good.drop(columns="fetched_at"))
    assert hasty(offline=True).cache.responses  # and in the file


def test_days_that_are_null_are_days_nobody_has(hasty, server):
    server.mode = "nulls"
    asked = ask(hasty(), server)
    assert len(asked.table) == 0
    assert asked.missing["home"] == (
        dt.date(2026, 5, 4),
        dt.date(2026, 5, 5),
        dt.date(2026, 5, 6),
    )


def test_an_answer_of_nulls_does_not_cost_the_good_one(hasty, server):
    session = hasty()
    ask(session, server)
    server.mode = "nulls"
    for _ in range(2):
        asked = ask(session, server)
        assert len(asked.table) == 3
        assert asked.notices == (
            "Open-Meteo sent no day at all: using its answer of 0 minutes ago.",
        )


def test_a_slow_drip_is_cut_off_in_time(quick, server):
    server.mode = "drip"
    began = time.monotonic()
    ask(quick(whole_s=0.2, retries=0), server)
    assert time.monotonic() - began < 5  # the drip alone takes half a minute


def test_a_flood_is_not_read_to_its_end(quick, server):
    server.mode = "flood"
    session = quick(bytes_most=2_000_000)
    assert "far more than was asked for" in ask(session, server).notices[0]
    assert len(session.cache.responses) == 0


def test_a_redirect_to_another_host_is_not_followed(quick, server):
    server.mode = "elsewhere"
    ask(quick(), server)
    assert len(server.calls) == 1


@pytest.mark.parametrize("ahead", [True, False])
def test_a_clock_that_was_changed_costs_no_answer(hasty, quick, server, tmp_path, ahead):
    ask(hasty(), server)
    shift = dt.timedelta(days=3 if ahead else -500)
    _redate(tmp_path / "kept" / "answers.sqlite", shift)
    server.mode = "error-500"
    asked = ask(quick(retries=0), server)
    assert len(asked.table) == 3
    said = "still to come by this computer's clock" if ahead else "500 days ago"
    assert said in asked.notices[0]


def test_an_answer_from_the_future_is_asked_for_anew(quick, server, tmp_path):
    ask(quick(), server)
    _redate(tmp_path / "kept" / "answers.sqlite", dt.timedelta(days=3))
    assert ask(quick(), server).notices == ()
    assert len(server.calls) == 2


def test_a_day_of_23_hours_is_one_day(quick, server, good_payload):
    # in Europe/London the clock goes forward on 2026-03-29
    good_payload["daily"]["time"] = ["2026-03-28", "2026-03-29", "2026-03-30", "2026-03-31"]
    server.payload = good_payload
    days = {"first_day": dt.date(2026, 3, 28), "last_day": dt.date(2026, 3, 30)}
    asked = weather_for(
        quick(),
        HOME,
        **days,
        today=dt.date(2026, 4, 2),
        providers=open_meteo(forecast_url=server.url)[1:],
    )
    assert asked.table["date"].dt.day.tolist() == [28, 29, 30]


def _redate(path, shift):
    """Shift the time at which kept answers were given, as a changed clock does."""
    with sqlite3.connect(path) as file:
        for key, text in file.execute("SELECT key, value FROM responses").fetchall():
            answer = json.loads(text)
            for field in ("created_at", "expires"):
                given = dt.datetime.fromisoformat(answer[field])
                answer[field] = (given + shift).isoformat()
            expires = int(dt.datetime.fromisoformat(answer["expires"]).timestamp())
            file.execute(
                "UPDATE responses SET value = ?, expires = ? WHERE key = ?",
                (json.dumps(answer), expires, key),
            )
        file.execute("DELETE FROM texts")
    file.close()


def test_a_broken_cache_file_is_set_aside_and_the_weather_comes(quick, server, tmp_path):
    path = tmp_path / "answers.sqlite"
    path.write_text("no database at all" * 400, encoding="utf-8")
    asked = ask(quick(path), server)
    assert (len(asked.table), asked.notices) == (3, ())
    assert len(list(tmp_path.glob("answers.sqlite.broken-*"))) == 1


@pytest.mark.parametrize("table", ["responses", "texts"])
def test_a_broken_entry_is_asked_for_anew(quick, server, tmp_path, table):
    path = tmp_path / "kept" / "answers.sqlite"
    ask(quick(), server)
    with sqlite3.connect(path) as file:
        file.execute("DELETE FROM texts")
        file.execute(f"UPDATE {table} SET value = 'broken'")  # noqa: S608 - of the list above
    file.close()
    assert len(ask(quick(), server).table) == 3


PROCESS = """
import sys, datetime as dt
from data_sources.session import open_session
from data_sources.weather.asking import weather_for
from data_sources.weather.providers import open_meteo
places = {str(i): (i / 10, 5.0) for i in range(12)}
with open_session(sys.argv[1], pause_s=0.0) as session:
    for _ in range(2):
        asked = weather_for(
            session, places, first_day=dt.date(2026, 5, 4), last_day=dt.date(2026, 5, 6),
            today=dt.date(2026, 5, 5), providers=open_meteo(forecast_url=sys.argv[2])[1:],
        )
print(len(asked.table), asked.notices)
"""


def test_two_processes_at_once_share_the_file(server, tmp_path):
    path = tmp_path / "answers.sqlite"
    running = [
        subprocess.Popen(  # noqa: S603 - our own interpreter and our own words
            [sys.executable, "-c", PROCESS, str(path), server.url],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            cwd=ROOT,
        )
        for _ in range(2)
    ]
    said = [process.communicate(timeout=60) for process in running]
    assert [out.strip() for out, _ in said] == ["36 ()", "36 ()"], said
    with sqlite3.connect(path) as file:
        assert file.execute("SELECT COUNT(*) FROM responses").fetchone() == (12,)
        assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    file.close()


def test_a_full_disk_costs_the_keeping_not_the_weather(hasty, quick, server):
    ask(hasty(), server)
    full = quick(expire_after=dt.timedelta(microseconds=1))
    pages = full.cache.responses._connection.execute("PRAGMA page_count").fetchone()[0]
    # SQLite's own bound: the file may not grow, as on a disk that is full
    full.cache.responses._connection.execute(f"PRAGMA max_page_count = {pages}")
    server.payload = {**server.payload, "padding": "x" * 200_000}
    asked = ask(full, server)
    assert len(asked.table) == 3
    (line,) = asked.notices
    assert "could not be kept for later (database or disk is full)" in line
    server.mode = "error-500"
    assert len(ask(hasty(), server).table) == 3  # the good entry is as it was


def test_a_cache_that_may_not_be_written_is_no_hang(quick, server):
    ask(quick(), server)
    session = quick(expire_after=dt.timedelta(microseconds=1))
    session.cache.responses._connection.execute("PRAGMA query_only = ON")
    assert len(ask(session, server).table) == 3


def test_many_yards_do_not_each_wait_for_a_service_that_is_down(tmp_path, server):
    server.mode = "error-500"
    places = {str(i): (i / 10, 5.0) for i in range(30)}
    with open_session(tmp_path / "a.sqlite", retries=0, pause_s=0.0) as session:
        asked = ask(session, server, places)
    assert len(server.calls) == 1
    assert asked.notices == ("Open-Meteo answered 500. Try again later.",)
