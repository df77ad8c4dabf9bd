import logging
import stat
import sys
import time
from datetime import timedelta

import pytest
import requests_cache

from data_sources.errors import SourceError, SourceMalformed, SourceUnavailable
from data_sources.session import age_words
from data_sources.weather.open_meteo import fetch_open_meteo

FAULTS = (
    "error-500",
    "error-400",
    "limit-429",
    "limit-429-long",
    "reset",
    "slow",
    "truncated",
    "html-200",
    "error-200",
    "unequal",
    "no-number",
    "wrong-unit",
    "list",
    "impossible",
)


def fetch(session, server):
    return fetch_open_meteo(session, latitude=51.5, longitude=-0.12, base_url=server.url)


@pytest.fixture
def keeping(quick, server):
    """A session whose kept answer is good and already too old to be used unasked."""
    session = quick(expire_after=timedelta(microseconds=1))
    fetch(session, server)
    return session


@pytest.mark.parametrize("fault", FAULTS)
def test_a_failing_service_is_answered_from_what_was_kept(keeping, server, fault):
    before = fetch(keeping, server).table
    server.mode = fault
    got = fetch(keeping, server).table
    assert got.drop(columns="fetched_at").equals(before.drop(columns="fetched_at"))


@pytest.mark.parametrize("fault", FAULTS)
def test_an_old_answer_comes_with_one_line_that_says_its_age(keeping, server, fault):
    server.mode = fault
    notice = fetch(keeping, server).notice
    assert notice == "Open-Meteo could not be asked: using its answer of 0 minutes ago."


@pytest.mark.parametrize("fault", FAULTS)
def test_a_bad_answer_never_replaces_the_good_one(keeping, server, fault):
    server.mode = fault
    fetch(keeping, server)
    server.mode = "error-500"
    assert len(fetch(keeping, server).table) == 3


@pytest.mark.parametrize("fault", FAULTS)
def test_with_nothing_kept_one_line_says_what_and_how_to_mend(quick, server, fault):
    server.mode = fault
    with pytest.raises(SourceError, match=r"^Open-Meteo[^\n]*\. [^\n]*\.$"):
        fetch(quick(), server)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_bad_first_answer_is_not_kept(quick, server, fault):
    session = quick()
    server.mode = fault
    with pytest.raises(SourceError):
        fetch(session, server)
    server.mode = "good"
    assert fetch(session, server).notice == ""


def test_the_services_own_words_are_shown_on_one_line(quick, server):
    server.mode = "error-400"
    with pytest.raises(SourceUnavailable, match=r"400 \(Invented: no such variable\)"):
        fetch(quick(), server)


def test_a_used_up_limit_is_not_asked_again(quick, server):
    server.mode = "limit-429"
    with pytest.raises(SourceUnavailable, match="limit is used up"):
        fetch(quick(), server)
    assert len(server.calls) == 1


def test_a_long_pause_asked_for_is_not_waited_for(quick, server):
    server.mode = "limit-429-long"
    with pytest.raises(SourceUnavailable, match="429"):
        fetch(quick(), server)
    assert len(server.calls) == 1


@pytest.mark.parametrize("mode", ["limit-429-short", "busy-once"])
def test_a_short_hiccup_is_tried_again(quick, server, mode):
    server.mode = mode
    assert len(fetch(quick(), server).table) == 3


def test_a_bad_request_is_not_tried_again(quick, server):
    server.mode = "error-400"
    with pytest.raises(SourceUnavailable):
        fetch(quick(), server)
    assert len(server.calls) == 1


def test_a_fresh_answer_is_not_asked_for_again(quick, server):
    session = quick()
    fetch(session, server)
    fetch(session, server)
    assert len(server.calls) == 1


def test_answers_outlive_the_session(quick, server):
    fetch(quick(), server)
    fetch(quick(), server)
    assert len(server.calls) == 1


def test_offline_nobody_is_asked_and_old_answers_serve(quick, server):
    fetch(quick(expire_after=timedelta(microseconds=1)), server)
    assert len(fetch(quick(offline=True), server).table) == 3
    assert len(server.calls) == 1


def test_offline_with_nothing_kept_says_so(quick, server):
    with pytest.raises(SourceUnavailable, match="not asked \\(offline\\)"):
        fetch(quick(offline=True), server)


def test_nothing_is_logged_when_a_service_fails(keeping, server, caplog):
    server.mode = "reset"
    with caplog.at_level(logging.NOTSET):
        fetch(keeping, server)
    assert [r for r in caplog.records if r.levelno >= logging.WARNING] == []


def test_the_contact_reaches_the_service(quick, server):
    fetch(quick(user_agent="keeper@example.org"), server)
    assert server.headers_seen[0]["User-Agent"] == "keeper@example.org"


def test_the_contact_is_not_kept(quick, server, tmp_path):
    fetch(quick(user_agent="keeper@example.org"), server)
    assert b"keeper@example.org" not in (tmp_path / "kept" / "answers.sqlite").read_bytes()


def test_answers_are_kept_as_text_not_as_objects(quick, server, tmp_path):
    fetch(quick(), server)
    assert b'"_content"' in (tmp_path / "kept" / "answers.sqlite").read_bytes()


def test_the_kept_file_is_for_its_owner_only(quick, tmp_path):
    quick()
    mode = stat.S_IMODE((tmp_path / "kept" / "answers.sqlite").stat().st_mode)
    # Windows knows no such bits: there the user's own folder keeps others out
    assert mode == (0o600 if sys.platform != "win32" else mode)


def test_a_broken_kept_file_is_set_aside_and_a_new_one_begun(quick, server, tmp_path):
    path = tmp_path / "answers.sqlite"
    path.write_text("this is no database, however long it may be" * 50, encoding="utf-8")
    assert len(fetch(quick(path), server).table) == 3
    aside = list(tmp_path.glob("answers.sqlite.broken-*"))
    assert [p.read_text(encoding="utf-8")[:10] for p in aside] == ["this is no"]


def test_a_folder_in_the_files_place_is_one_plain_line(quick, tmp_path):
    with pytest.raises(SourceError, match=r"^the file for kept answers, [^\n]*\.$"):
        quick(tmp_path)


def test_without_a_file_answers_are_kept_in_memory(quick, server):
    session = quick(None)
    fetch(session, server)
    fetch(session, server)
    assert len(server.calls) == 1


def test_a_service_that_is_not_there_says_so(quick):
    session = quick(timeout_s=(0.2, 0.2), retries=0)
    with pytest.raises(SourceUnavailable, match="can't be reached"):
        fetch_open_meteo(session, latitude=1, longitude=1, base_url="http://127.0.0.1:9/v1")


def test_a_time_out_says_so(quick, server):
    server.mode = "slow"
    with pytest.raises(SourceUnavailable, match="did not answer in time"):
        fetch(quick(retries=0), server)


def test_garbage_says_that_a_login_page_may_be_in_the_way(quick, server):
    server.mode = "html-200"
    with pytest.raises(SourceMalformed, match="login page"):
        fetch(quick(), server)


def test_an_answer_of_absurd_size_is_refused(quick, server):
    with pytest.raises(SourceUnavailable, match="far more than was asked for"):
        fetch(quick(bytes_most=100), server)


def test_no_number_is_refused_even_where_nobody_reads_it(quick, server, good_payload):
    server.payload = {**good_payload, "elevation": float("nan")}
    with pytest.raises(SourceMalformed, match="sent NaN"):
        fetch(quick(), server)


def test_the_usual_secret_names_stay_hidden_in_the_kept_file(quick):
    ignored = set(quick().settings.ignored_parameters)
    assert ignored >= {*requests_cache.DEFAULT_IGNORED_PARAMS, "User-Agent"}


@pytest.mark.parametrize(
    ("age", "words"),
    [
        (timedelta(seconds=-5), "0 minutes"),
        (timedelta(minutes=1), "1 minute"),
        (timedelta(minutes=119), "119 minutes"),
        (timedelta(hours=2), "2 hours"),
        (timedelta(hours=47), "47 hours"),
        (timedelta(days=3), "3 days"),
    ],
)
def test_an_age_is_said_in_whole_units(age, words):
    assert age_words(age) == words


def test_a_key_is_sent_and_is_in_no_file_log_or_error(quick, server, tmp_path, caplog):
    host = server.url.split("/")[2]
    with caplog.at_level(logging.DEBUG):
        session = quick(keys={host: ("apikey", "s3cret")}, retries=0)
        fetch(session, server)
        assert server.calls[0]["apikey"] == ["s3cret"]
        for fault in ("reset", "slow", "error-400"):
            server.mode = fault
            with pytest.raises(SourceError) as caught:
                fetch_open_meteo(session, latitude=1, longitude=1, base_url=server.url)
            chain = caught.value
            while chain:
                assert "s3cret" not in repr(chain)
                chain = chain.__cause__
    assert "s3cret" not in caplog.text
    assert b"s3cret" not in (tmp_path / "kept" / "answers.sqlite").read_bytes()


def test_requests_to_one_host_keep_their_distance(quick, server):
    session = quick(pause_s=0.05)
    began = time.monotonic()
    for i in range(4):
        fetch_open_meteo(session, latitude=i, longitude=1, base_url=server.url)
    assert time.monotonic() - began >= 0.15


def test_one_run_asks_a_host_only_so_often(quick, server):
    session = quick(calls_most=1)
    fetch(session, server)
    with pytest.raises(SourceUnavailable, match="often enough for one run"):
        fetch_open_meteo(session, latitude=1, longitude=1, base_url=server.url)
    assert len(server.calls) == 1


@pytest.mark.parametrize("fault", ["limit-429-long", "error-500", "reset"])
def test_a_host_that_failed_is_left_alone_for_a_while(quick, server, fault):
    session = quick(rest_s=60.0, retries=0)
    server.mode = fault
    said = []
    for i in range(3):
        with pytest.raises(SourceUnavailable) as caught:
            fetch_open_meteo(session, latitude=i, longitude=1, base_url=server.url)
        said.append(str(caught.value))
    assert len(server.calls) == 1
    assert len(set(said)) == 1
