"""The weekly round from the command line: the same twice, and nothing of the keeper's lost."""

import hashlib
import json
import shutil
from datetime import UTC, datetime

import pandas as pd
import pytest
from icalendar import Calendar
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.records import open_records

DAY = ("--offline", "--on", "2026-06-05")


@pytest.fixture
def records(records_of_demo, tmp_path):
    return shutil.copy(records_of_demo, tmp_path / "bees.sqlite")


@pytest.fixture
def run(records, tmp_path):
    def go(*words):
        to = () if "--to" in words else ("--to", str(tmp_path / "round"))
        return CliRunner().invoke(app, ["round", *words, *to, "--records", str(records)])

    return go


def prints(folder):
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.iterdir()
        if path.is_file()
    }


def test_the_round_leaves_page_sheets_and_calendar_and_says_who_needs_the_keeper(run, tmp_path):
    done = run(*DAY)
    assert done.exit_code == 1  # three colonies stand at today
    assert "Round, evening of Fri 2026-06-05" in done.stdout
    assert "New alerts:" in done.stdout
    assert "Odds, not promises" in done.stdout
    found = {p.name for p in (tmp_path / "round").iterdir() if not p.name.startswith(".")}
    assert found == {"round.html", "round-sheets.pdf", "round.ics"}
    calendar = Calendar.from_ical((tmp_path / "round" / "round.ics").read_bytes())
    told = " ".join(str(event["summary"]) for event in calendar.walk("VEVENT"))
    assert "Anvil" in told
    assert "B1" in told


def test_a_second_run_gives_the_same_bytes_and_alerts_nobody_again(run, tmp_path):
    run(*DAY)
    before = prints(tmp_path / "round")
    done = run(*DAY)
    assert prints(tmp_path / "round") == before
    assert "New alerts:" not in done.stdout


def test_a_file_of_the_keepers_is_not_replaced(run, tmp_path):
    (tmp_path / "round").mkdir()
    mine = tmp_path / "round" / "round.html"
    mine.write_text("my own page", encoding="utf-8")
    done = run(*DAY)
    assert done.exit_code != 0
    assert "round.html" in str(done.exception) + done.output
    assert mine.read_text(encoding="utf-8") == "my own page"
    run(*DAY, "--force")
    assert mine.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_json_holds_the_visits_in_their_order_and_nothing_else_on_stdout(run):
    document = json.loads(run(*DAY, "--json").stdout)
    assert document["schema"] == "swarmwatch/round/1"
    assert [row["colony"] for row in document["rows"]][:2] == ["Anvil", "Garnet"]
    assert document["on"] == "2026-06-05"


def test_a_dead_weather_service_costs_one_line_and_no_round(run, monkeypatch, tmp_path):
    monkeypatch.setenv("SWARMWATCH_CACHE", str(tmp_path / "cache"))
    done = run("--on", "2026-06-05", "--server", "http://127.0.0.1:9/")
    assert "can't be reached" in done.stderr
    assert "Round, evening of Fri 2026-06-05" in done.stdout
    assert "fetched 2026-06-05 15:00 UTC" in done.stdout


def test_records_without_a_colony_get_a_round_that_says_so(tmp_path):
    path = tmp_path / "new.sqlite"
    with open_records(path, create=True) as store:
        yard = {"apiary": ["Home"], "latitude": [57.3], "longitude": [26.0]}
        store.store(
            {"apiaries": pd.DataFrame(yard)}, at=datetime(2026, 6, 1, tzinfo=UTC), by="test"
        )
    words = ["round", *DAY, "--to", str(tmp_path / "r"), "--records", str(path)]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    assert "No colony and no bait box is on record." in done.stdout


def test_a_size_of_paper_that_is_none_is_refused_before_anything_is_done(run, tmp_path):
    done = run(*DAY, "--paper", "a3")
    assert done.exit_code != 0
    assert not (tmp_path / "round").exists()
