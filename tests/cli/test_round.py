"""The verb `round` on small records: what it writes, says and refuses, and whom it alerts once."""

import json
import os
import socket
import threading
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pandas as pd
import pytest
from icalendar import Calendar
from typer.testing import CliRunner

from swarmwatch.cli.main import app, main
from swarmwatch.records import open_records
from swarmwatch.tables import TABLES, conform

ON = "2026-06-05"
FILES = ("round.html", "round-sheets.pdf", "round.ics")


def new_records(path):
    """Make records with one yard, its weather as fetched three days before, and two colonies."""
    tables = {
        "apiaries": pd.DataFrame({"apiary": ["Garden"], "latitude": [52.0], "longitude": [5.0]}),
        "colonies": pd.DataFrame(
            {"colony": ["Ash", "Birch"], "apiary": "Garden", "hive_type": "national-deep"}
        ),
        "weather": pd.DataFrame(
            {
                "apiary": "Garden",
                "date": pd.date_range("2026-05-20", "2026-06-02"),
                "temp_max_c": 20.0,
                "temp_min_c": 9.0,
                "kind": "observed",
                "provider": "own station",
                "fetched_at": pd.Timestamp("2026-06-02T05:00:00Z"),
            }
        ),
    }
    with open_records(path, create=True) as store:
        store.store(tables, at=datetime(2026, 6, 2, 5, tzinfo=UTC), by="test")
    return path


@pytest.fixture
def records(tmp_path, monkeypatch):
    monkeypatch.setenv("SWARMWATCH_CACHE", str(tmp_path / "kept"))
    return new_records(tmp_path / "bees.sqlite")


def scores_with(said):
    """Return a scorer that says of Ash and Birch what `said` holds; else they are quiet."""

    def scores(_tables, evening, _evidence):
        rows = [
            {
                "colony": colony,
                "apiary": "Garden",
                "on": evening,
                "p_7d": 0.01,
                "p_7d_low": 0.005,
                "p_7d_high": 0.02,
                "p_14d": 0.7,
                "p_14d_low": 0.6,
                "p_14d_high": 0.9,
                "p_gone": 0.0,
                "p_after_7d": 0.0,
                "level": "quiet",
                "because": "capped queen cells seen",
                "advice": "Split the colony.",
                "look_by": "2026-06-12",
                "weather_kind": "observed to 2026-06-02, then normal",
            }
            | said.get(colony, {})
            for colony in ("Ash", "Birch")
        ]
        return conform(pd.DataFrame(rows), TABLES["scores"])

    return scores


BIRCH = {"level": "today", "p_7d": 0.6, "p_7d_high": 0.8, "do_by": "2026-06-06"}
SCORER = "swarmwatch.records.scoring.score_tables"


@pytest.fixture
def scored(monkeypatch):
    """Set what the scorer says: Birch stands at today."""
    said = {"Birch": BIRCH}
    monkeypatch.setattr(SCORER, scores_with(said))
    return said


@pytest.fixture(scope="module")
def two_rounds(tmp_path_factory):
    """Two rounds with Birch at today: what each said, and the files after each."""
    folder = tmp_path_factory.mktemp("keeper")
    words = ["round", "--records", str(new_records(folder / "bees.sqlite")), "--on", ON]
    words += ["--offline", "--to", str(folder / "out")]
    out = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SCORER, scores_with({"Birch": BIRCH}))
        for _ in range(2):
            done = CliRunner().invoke(app, words)
            out.append((done.exit_code, done.stdout, contents(folder / "out")))
    return out


@pytest.fixture
def run(records, capsys, tmp_path, scored):  # noqa: ARG001 - all runs here are scored so
    """Run the verb on the records; give exit code, stdout and stderr."""

    def once(*options, offline=True):
        words = ["round", "--records", str(records), "--on", ON, "--to", str(tmp_path / "out")]
        try:
            main([*words, *(["--offline"] if offline else []), *map(str, options)])
            code = 0
        except SystemExit as done:
            code = done.code or 0
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return once


def contents(folder):
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def entries(content):
    calendar = Calendar.from_ical(content)
    return {str(e["summary"]): e for e in calendar.walk("VEVENT")}


def test_it_writes_page_sheets_and_calendar_and_names_them(two_rounds):
    _, said, files = two_rounds[0]
    assert set(files) == {*FILES, ".swarmwatch-round.json"}
    assert [line.rpartition(os.sep)[2] for line in said.splitlines()[-3:]] == list(FILES)


def test_a_colony_at_today_needs_the_keeper_and_is_alerted_once(two_rounds):
    (code, said, files), (again, later, after) = two_rounds
    assert (code, again) == (1, 1)
    assert "New alerts:" in said
    assert "New alerts:" not in later
    assert after == files


def test_what_falls_due_is_said_by_day(two_rounds):
    _, said, _ = two_rounds[0]
    assert "Sat 2026-06-06: Birch" in said
    assert "Fri 2026-06-12: open next Ash" in said


def test_a_quiet_round_needs_nobody(run, scored):
    scored.clear()
    code, out, _ = run()
    assert code == 0
    assert "Quiet: Ash (open next by 2026-06-12), Birch (open next by 2026-06-12)." in out


def test_the_calendar_holds_what_is_to_be_done_and_no_bell_for_the_quiet(
    run, scored, two_rounds, tmp_path
):
    scored["Ash"] = {"do_by": "2026-06-11", "advice": "give room"}
    run()
    found = entries((tmp_path / "out" / "round.ics").read_bytes())
    assert set(found) == {"Colony Birch: today", "Colony Ash: quiet"}
    assert found["Colony Ash: quiet"]["dtstart"].dt.isoformat() == "2026-06-11"
    assert set(entries(two_rounds[0][2]["round.ics"])) == {"Colony Birch: today"}


def test_bait_boxes_are_in_the_calendar_by_their_next_look(run, records, tmp_path):
    tables = {
        "sites": pd.DataFrame({"site": ["Shed"], "latitude": [52.0], "longitude": [5.0]}),
        "boxes": pd.DataFrame({"box": ["B1"]}),
        "hangings": pd.DataFrame({"box": ["B1"], "site": ["Shed"], "hung_on": ["2026-04-20"]}),
    }
    with open_records(records) as store:
        store.store(tables, at=datetime(2026, 6, 2, 6, tzinfo=UTC), by="test")
    _, out, _ = run()
    found = entries((tmp_path / "out" / "round.ics").read_bytes())["Bait box B1: look-soon"]
    # overdue since May: a past day is in nobody's calendar
    assert found["dtstart"].dt.isoformat() == "2026-06-06"
    assert "Bait box B1 at Shed" in out


def test_a_file_that_is_not_a_rounds_is_left_alone(run, tmp_path):
    mine = tmp_path / "out" / "round.html"
    mine.parent.mkdir()
    mine.write_text("my own notes", encoding="utf-8")
    code, _, err = run()
    assert code == 2
    assert str(mine) in err
    assert "not written by `swarmwatch round`" in err
    assert contents(tmp_path / "out") == {"round.html": b"my own notes"}
    mine.unlink()
    # a refused run has alerted nobody
    assert "New alerts:" in run()[1]


def test_a_page_that_was_changed_since_is_left_alone_until_forced(run, tmp_path):
    run()
    page = tmp_path / "out" / "round.html"
    page.write_text("scribbled on", encoding="utf-8")
    assert run()[0] == 2
    assert page.read_text(encoding="utf-8") == "scribbled on"
    assert run("--force")[0] == 1
    assert "Birch" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--paper", "a5"), "'a5' is not known"),
        (("--on", "tomorrow"), "'tomorrow' is not a date"),
        (("--channel", "pigeon"), "SWARMWATCH_CHANNEL_PIGEON"),
    ],
)
def test_a_wrong_option_is_refused_before_anything_is_written(run, tmp_path, options, said):
    code, _, err = run(*options)
    assert code == 2
    assert said in err
    assert not (tmp_path / "out").exists()


def test_json_is_one_document_and_leaves_the_alerts_for_the_terminal(run):
    code, out, _ = run("--json")
    document = json.loads(out)
    assert code == 1
    assert document["schema"] == "swarmwatch/round/1"
    assert [(r["rank"], r["colony"], r["level"]) for r in document["rows"]] == [
        (1, "Birch", "today"),
        (2, "Ash", "quiet"),
    ]
    assert document["rows"][0]["do_by"].startswith("2026-06-06")
    assert len(document["files"]) == 3
    assert "New alerts:" in run()[1]


def closed_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def test_a_dead_weather_server_leaves_the_last_good_weather_and_one_plain_line(run, tmp_path):
    code, out, err = run("--server", f"http://127.0.0.1:{closed_port()}", offline=False)
    age = "fetched 2026-06-02 05:00 UTC, 3 days before this evening"
    assert code == 1
    assert age in out
    assert age in (tmp_path / "out" / "round.html").read_text(encoding="utf-8")
    assert len([line for line in err.splitlines() if "can't be reached" in line]) == 1
    assert "Traceback" not in err


class _Counting(BaseHTTPRequestHandler):
    def do_GET(self):
        self.server.asked += 1
        self.send_response(503)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_):
        pass


@pytest.fixture
def server():
    with ThreadingHTTPServer(("127.0.0.1", 0), _Counting) as running:
        running.asked = 0
        thread = threading.Thread(target=running.serve_forever, args=(0.01,), daemon=True)
        thread.start()
        yield running
        running.shutdown()
        thread.join()


def test_offline_asks_nobody_and_online_asks_for_weather_first(run, server):
    url = f"http://127.0.0.1:{server.server_port}"
    run("--server", url)
    assert server.asked == 0
    code, out, _ = run("--server", url, "--json", offline=False)
    assert server.asked > 0
    # what the weather verb says goes to stderr: stdout holds the one document
    assert json.loads(out)["schema"] == "swarmwatch/round/1"
    assert code == 1


def test_records_without_a_yard_are_a_round_too(tmp_path, capsys):
    path = tmp_path / "new.sqlite"
    with open_records(path, create=True):
        pass
    with pytest.raises(SystemExit) as done:
        main(["round", "--records", str(path), "--on", ON, "--to", str(tmp_path / "out")])
    assert (done.value.code or 0) == 0
    assert "No colony and no bait box is on record." in capsys.readouterr().out
