"""The verb `land` against a real local server that misbehaves.

The answer has the service's shape, as its documents tell it; every value is invented.
"""

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest
from typer.testing import CliRunner

from data_sources.errors import SourceMalformed, SourceUnavailable
from data_sources.land.features import OSM_CREDIT
from data_sources.land.files import read_land_file
from data_sources.land.overpass import overpass_query
from swarmwatch.cli.main import app
from swarmwatch.errors import UsageError
from tests.data_sources.conftest import Misbehaving

RUN = CliRunner()
LAT, LON = 60.17119, 24.94402


def at(north, east):
    return {"lat": round(LAT + north, 7), "lon": round(LON + east, 7)}


ANSWER = {
    "version": 0.6,
    "generator": "invented",
    "elements": [
        {"type": "node", **at(0.001, 0.001), "tags": {"natural": "tree", "species": "Tilia"}},
        {"type": "node", **at(0.002, -0.001), "tags": {"power": "pole"}},
        {
            "type": "way",
            "tags": {"barrier": "hedge", "name": "the <long> hedge"},
            "geometry": [at(0.001, 0), at(0.001, 0.002), None, at(0.001, 0.004), at(0.001, 0.005)],
        },
        {
            "type": "way",
            "tags": {"building": "yes", "addr:street": "Rye Lane"},
            "geometry": [at(-0.001, 0), at(-0.001, 0.001), at(-0.002, 0.001), at(-0.001, 0)],
        },
    ],
}


@pytest.fixture
def server():
    running = Misbehaving()
    running.payload = ANSWER
    yield running
    running.stop()


@pytest.fixture(autouse=True)
def keeper(tmp_path, monkeypatch):
    """A folder with records of one yard, and answers kept beside it."""
    monkeypatch.setenv("SWARMWATCH_CACHE", str(tmp_path / "kept"))
    monkeypatch.chdir(tmp_path)
    made = RUN.invoke(app, ["new", "--apiary", "Home", "--place", f"{LAT},{LON}"])
    assert made.exit_code == 0, made.output
    return tmp_path


def fetch(*words, server=None):
    where = ["--server", server.url] if server else []
    return RUN.invoke(app, ["land", "--within", "500", *where, *words])


def make_old(folder, days):
    """Let the kept answers be so many days older than they are."""
    with closing(sqlite3.connect(folder / "kept" / "land-answers.sqlite")) as kept, kept:
        for key, value in kept.execute("SELECT key, value FROM responses").fetchall():
            answer = json.loads(value)
            for field in ("created_at", "expires"):
                was = datetime.fromisoformat(answer[field])
                answer[field] = (was - timedelta(days=days)).isoformat()
            expires = int(datetime.fromisoformat(answer["expires"]).timestamp())
            kept.execute(
                "UPDATE responses SET value = ?, expires = ? WHERE key = ?",
                (json.dumps(answer), expires, key),
            )


def test_a_map_is_written_that_place_reads(keeper, server):
    result = fetch(server=server)
    assert result.exit_code == 0, result.output
    land = read_land_file(keeper / "land.geojson")
    assert sorted(land.table["kind"]) == ["building", "hedge", "power-line", "tree"]
    assert land.credit == OSM_CREDIT
    facts = dict(zip(land.table["kind"], land.table["facts"], strict=True))
    assert facts["tree"] == {"species": "Tilia"}
    assert facts["building"] == {"addr:street": "Rye Lane"}
    assert "the <long> hedge" in set(land.table["name"])
    planned = RUN.invoke(
        app,
        ["place", "--land", "land.geojson", "--within", "500", "--boxes", "1",
         "--on", "2026-04-20"],
    )  # fmt: skip
    assert planned.exit_code == 0, planned.output
    assert f"Map: {OSM_CREDIT}" in planned.output


def test_it_tells_what_came_what_lacks_what_was_cut_and_whom_to_thank(server):
    said = fetch(server=server).stdout
    today = f"{datetime.now(UTC):%Y-%m-%d}"
    assert f"Overpass on {today}: building: 1, hedge: 1, power line: 1, tree: 1." in said
    assert "Not mapped on or near the ground: tree row, wood" in said
    assert "reach beyond the asked ground and were cut there: 1." in said
    assert f"Map: {OSM_CREDIT}" in said


def test_no_more_than_the_rounded_place_and_a_wider_radius_leaves(server):
    fetch(server=server)
    # 500 m, 150 m to see where one is, up to whole 100 m, and 100 m for the rounding
    (call,) = server.calls
    assert call["data"] == [overpass_query(latitude=60.171, longitude=24.944, radius_m=650)]
    assert "(around:800,60.171,24.944)" in call["data"][0]
    assert "60.1711" not in str(call)


def test_the_question_can_be_seen_and_nobody_is_asked(keeper, server):
    result = fetch("--query", server=server)
    assert result.stdout.strip() == overpass_query(latitude=LAT, longitude=LON, radius_m=650)
    assert server.calls == []
    assert not (keeper / "land.geojson").exists()


def test_asked_again_the_same_day_the_kept_answer_serves(keeper, server):
    fetch(server=server)
    fetch("--force", server=server)
    assert len(server.calls) == 1
    make_old(keeper, days=2)
    fetch("--force", server=server)
    assert len(server.calls) == 2


FAULTS = (
    "error-500", "error-403", "error-404", "limit-429", "limit-429-long", "html-200", "truncated",
    "reset", "list", "elsewhere", "remark", "dead",
)  # fmt: skip


def let_fail(server, fault):
    if fault == "dead":
        server.stop()
    elif fault == "remark":
        server.payload = {**ANSWER, "remark": "runtime error: Query timed out after 61 seconds."}
    else:
        server.mode = fault


@pytest.fixture
def failing():
    """A server that the test may stop itself."""
    running = Misbehaving()
    running.payload = ANSWER
    return running


@pytest.mark.parametrize("fault", FAULTS)
def test_a_service_that_fails_is_one_plain_line_and_no_file(keeper, failing, fault):
    let_fail(failing, fault)
    result = fetch(server=failing)
    assert isinstance(result.exception, SourceUnavailable | SourceMalformed)
    assert str(result.exception).startswith("Overpass")
    assert "\n" not in str(result.exception)
    assert not (keeper / "land.geojson").exists()
    if fault != "dead":
        failing.stop()


@pytest.mark.parametrize("fault", FAULTS)
def test_a_service_that_fails_later_is_answered_by_its_last_good_answer(keeper, failing, fault):
    fetch(server=failing)
    good = (keeper / "land.geojson").read_bytes()
    make_old(keeper, days=40)
    let_fail(failing, fault)
    result = fetch("--force", server=failing)
    assert result.exit_code == 0, result.output
    assert "Overpass could not be asked: using its answer of 40 days ago." in result.stderr
    assert result.stderr.count("could not be asked") == 1
    assert (keeper / "land.geojson").read_bytes() == good
    if fault != "dead":
        failing.stop()


def test_offline_uses_what_was_kept_and_says_its_day(server):
    fetch(server=server)
    server.calls.clear()
    result = fetch("--offline", "--force", server=server)
    assert result.exit_code == 0, result.output
    assert server.calls == []
    assert f"Overpass on {datetime.now(UTC):%Y-%m-%d}" in result.stdout


def test_offline_without_a_kept_answer_says_so():
    assert "was not asked (offline)" in str(fetch("--offline").exception)


def test_a_contact_is_shown_to_the_service(server):
    fetch("--contact", "keeper@example.org", server=server)
    assert server.headers_seen[0]["User-Agent"].endswith("(keeper@example.org)")


def test_grounds_far_apart_are_asked_for_one_by_one_and_what_both_hold_stands_once(keeper, server):
    result = fetch("--address", f"{LAT + 0.05},{LON},60", server=server)
    assert result.exit_code == 0, result.output
    middles = [c["data"][0].split("around:")[1].split(")")[0] for c in server.calls]
    assert middles == ["800,60.171,24.944", "400,60.221,24.944"]
    assert len(read_land_file(keeper / "land.geojson").table) == 4


def test_a_ground_wider_than_the_service_is_asked_for_is_refused(server):
    result = fetch("--within", "12060", server=server)
    assert isinstance(result.exception, UsageError)
    assert "12.2 km from its middle; the service is asked for 10 km at most" in str(
        result.exception
    )
    assert server.calls == []


def test_a_file_that_is_there_is_refused_before_anybody_is_asked(keeper, server):
    (keeper / "land.geojson").write_text("mine", encoding="utf-8")
    assert "is there already" in str(fetch(server=server).exception)
    assert server.calls == []


def test_a_name_that_is_no_geojson_is_refused(server):
    assert "Give a name in .geojson" in str(fetch("--to", "land.gpkg", server=server).exception)
    assert server.calls == []


def test_an_answer_that_the_keeper_saved_serves_place_as_it_is(keeper):
    (keeper / "answer.json").write_text(json.dumps(ANSWER), encoding="utf-8")
    planned = RUN.invoke(
        app,
        ["place", "--land", "answer.json", "--within", "500", "--boxes", "1", "--on", "2026-04-20"],
    )
    assert planned.exit_code == 0, planned.output
