"""The round from the shell on the demo's records: without a network, twice, and the same twice."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from icalendar import Calendar

import demo_data
from swarmwatch.cli.main import main as command

sys.path.insert(0, str(Path(__file__).parent))
from no_sockets import NO_SOCKETS

# Two rounds, one after the other, each keeping what it printed and a copy of its files.
TWO_ROUNDS = (
    NO_SOCKETS
    + """
import contextlib, os, shutil, time
from swarmwatch.cli.main import main

for name, zone in (("first", "UTC"), ("second", "Pacific/Auckland")):
    os.environ["TZ"] = zone
    getattr(time, "tzset", lambda: None)()
    with open(f"{name}.txt", "w", encoding="utf-8") as said, contextlib.redirect_stdout(said):
        try:
            main(["round", "--offline", "--on", sys.argv[1]])
        except SystemExit as done:
            said.write(f"exit code {done.code}\\n")
    shutil.copytree("swarmwatch-round", name)
"""
)
FILES = {"round.html", "round-sheets.pdf", "round.ics", ".swarmwatch-round.json"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture(scope="module")
def rounds(tmp_path_factory):
    """Two rounds of the demo: what the first printed and left, the second, and stderr."""
    folder = tmp_path_factory.mktemp("keeper")
    tables = [str(demo_data.folder() / name) for name in demo_data.TABLE_FILES]
    with pytest.raises(SystemExit) as done:
        command(["import", *tables, "--records", str(folder / "swarmwatch.sqlite")])
    assert not done.value.code
    run = subprocess.run(  # noqa: S603 - our own interpreter and our own words
        [sys.executable, "-c", TWO_ROUNDS, demo_data.ON.isoformat()],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
        env=os.environ | {"NO_COLOR": "1", "PYTHONIOENCODING": "utf-8"},
    )
    assert run.returncode == 0, run.stderr
    said = [(folder / f"{name}.txt").read_text(encoding="utf-8") for name in ("first", "second")]
    return said[0], contents(folder / "first"), said[1], contents(folder / "second"), run.stderr


def test_it_exits_with_one_where_a_colony_needs_the_keeper(rounds):
    first, _, second, _, _ = rounds
    assert first.endswith("exit code 1\n")
    assert second.endswith("exit code 1\n")


def test_it_uses_no_network_and_complains_of_nothing(rounds):
    assert rounds[-1] == ""


def test_a_second_run_changes_no_byte(rounds):
    _, before, _, after, _ = rounds
    assert set(before) == FILES
    assert after == before


def test_alerts_are_sent_once_over_two_runs(rounds):
    first, _, second, _, _ = rounds
    assert first.count("New alerts:") == 1
    assert "New alerts:" not in second
    # all else is said again
    assert first.endswith(second)


def test_the_manifest_names_what_was_written(rounds):
    named = json.loads(rounds[1][".swarmwatch-round.json"])["files"]
    assert set(named) == FILES - {".swarmwatch-round.json"}


def test_the_calendar_names_colonies_and_boxes(rounds):
    calendar = Calendar.from_ical(rounds[1]["round.ics"])
    told = {str(entry["summary"]) for entry in calendar.walk("VEVENT")}
    assert {"Colony Anvil: today", "Colony Candle: act"} <= told
    assert any(summary.startswith("Bait box B1:") for summary in told)
    assert not any("Pebble" in summary for summary in told)


def test_the_page_has_the_same_order_as_the_terminal(rounds):
    first, before, *_ = rounds
    page = before["round.html"].decode("utf-8")
    ranked = [line.split(" (")[0].strip() for line in first.splitlines() if ". " in line[:5]]
    assert ranked[0] == "1. Garnet"
    places = [page.index(f"<h3>{name},") for name in ranked]
    assert places == sorted(places)
