"""A keeper's day with the phone: `serve` runs, is read and written to, and is ended or killed."""

import os
import re
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.records import open_records

sys.path.insert(0, str(Path(__file__).parents[1] / "page"))
from served import send, sent_on, small_records

DAY = "2026-06-05"


@pytest.fixture
def records(tmp_path):
    return small_records(tmp_path / "bees.sqlite", hung=False)


@contextmanager
def served(records):
    """Run the command as a keeper would; give the process and a phone that reached it."""
    words = [sys.executable, "-m", "swarmwatch.cli.main", "serve", "--port", "0", "--on", DAY]
    flags = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP} if os.name == "nt" else {}
    running = subprocess.Popen(  # noqa: S603 - our own interpreter and our own words
        [*words, "--records", str(records)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
        **flags,
    )
    try:
        address = re.match(r"(http://127\.0\.0\.1:\d+)/", running.stdout.readline())[1]
        with httpx.Client(base_url=address, trust_env=False, timeout=60) as phone:
            yield running, phone
    finally:
        running.kill()
        running.communicate()


def looks(records):
    with open_records(records) as opened:
        frame = opened.frame("inspections")
    return frame[frame["date"] == DAY]


def test_read_note_be_told_of_a_note_by_command_and_end(records):
    with served(records) as (running, phone):
        assert "Birch" in phone.get("/").text
        form = phone.get("/inspect", params={"colony": "Birch"})
        words = ["inspect", "Birch", "--date", DAY, "--combs-bees", "6", "--records", str(records)]
        assert CliRunner().invoke(app, words).exit_code == 0
        cells = {"queen_cells_larva": "4", "combs_bees": "7"}
        told = send(phone, form, **cells)
        assert told.status_code == 409
        assert "Noted meanwhile: <strong>6</strong>" in told.text
        assert sent_on(send(phone, told, **cells)).path == "/colony"
        running.send_signal(signal.CTRL_BREAK_EVENT if os.name == "nt" else signal.SIGINT)
        assert running.wait(30) == 0
        assert "Traceback" not in running.stderr.read()
    assert looks(records)[[*cells]].to_numpy().tolist() == [[4, 7]]
    scored = CliRunner().invoke(app, ["score", "--records", str(records), "--on", DAY])
    assert "4 with larva" in scored.output


def test_killed_right_after_noting_nothing_is_lost(records):
    with served(records) as (running, phone):
        form = phone.get("/inspect", params={"colony": "Birch"})
        assert send(phone, form, combs_bees="7").status_code == 303
        running.kill()
        running.wait(30)
    assert looks(records)["combs_bees"].tolist() == [7]
