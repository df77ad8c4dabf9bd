"""An import that is killed at any moment has happened or has not; the records open either way."""

import random
import sqlite3
import subprocess
import sys
import time

import pytest

from swarmwatch.records import open_records

RUN = "from swarmwatch.cli.main import main; main()"
ROWS = 6_000
SEED = 20260520
KILLS = 10
LATEST = 1.3
PATIENCE_S = 120


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A folder with a yard and several thousand days of weather."""
    folder = tmp_path_factory.mktemp("files")
    (folder / "apiaries.csv").write_text(
        "apiary,latitude,longitude\nHome,57.9,25.6\n", encoding="utf-8"
    )
    days = (f"2026-{1 + i // 28 % 4:02d}-{1 + i % 28:02d}" for i in range(ROWS))
    rows = (f"Home,{day},{i % 30},-1,station {i // 112}" for i, day in enumerate(days))
    (folder / "weather.csv").write_text(
        "\n".join(["apiary,date,temp_max_c,temp_min_c,provider", *rows]) + "\n", encoding="utf-8"
    )
    return folder


def start(files, records):
    return subprocess.Popen(  # noqa: S603 - our own interpreter and our own words
        [sys.executable, "-c", RUN, "import", str(files), "--records", str(records)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def until_there(path, process):
    """Wait until the import has made its file, so that a kill falls into its writing."""
    end = time.monotonic() + PATIENCE_S
    while not path.exists() and process.poll() is None and time.monotonic() < end:
        time.sleep(0.002)


@pytest.fixture(scope="module")
def writing_s(files, tmp_path_factory):
    """How long an import goes on after it has made its file [s]."""
    records = tmp_path_factory.mktemp("whole") / "swarmwatch.sqlite"
    process = start(files, records)
    until_there(records, process)
    began = time.monotonic()
    assert process.wait(PATIENCE_S) == 0
    return time.monotonic() - began


@pytest.mark.parametrize("moment", range(KILLS))
def test_a_killed_import_leaves_all_or_nothing(files, writing_s, tmp_path, moment):
    # spread over the whole of the writing, the last ones past its end
    share = LATEST * (moment + random.Random(SEED + moment).random()) / KILLS  # noqa: S311
    records = tmp_path / "swarmwatch.sqlite"
    process = start(files, records)
    until_there(records, process)
    time.sleep(share * writing_s)
    process.kill()
    process.wait(PATIENCE_S)

    with open_records(records) as opened:
        found = {name: len(frame) for name, frame in opened.frames().items() if len(frame)}
    assert found in ({}, {"apiaries": 1, "weather": ROWS})
    with sqlite3.connect(records) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()


def test_an_import_after_a_kill_brings_what_was_missing(files, writing_s, tmp_path):
    records = tmp_path / "swarmwatch.sqlite"
    process = start(files, records)
    until_there(records, process)
    time.sleep(writing_s / 3)
    process.kill()
    process.wait(PATIENCE_S)
    assert start(files, records).wait(PATIENCE_S) == 0
    with open_records(records) as opened:
        assert len(opened.frame("weather")) == ROWS
