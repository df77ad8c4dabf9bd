"""A program that is killed at any moment has done a thing or has not; the records open either way.

Where processes can be copied these are 52 kills: 13 of an import, 13 of `serve` while a form is
sent, 13 of alerts on their way, 13 of a migration. Each test prints the seed of its moments.
"""

import datetime as dt
import http.server
import itertools
import json
import queue
import shutil
import sqlite3
import sys
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path

import httpx
import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "page"))
from killed import KILLS, PATIENCE_S, STEPS, Killable
from served import Served, hidden, small_records

from swarmwatch.records import open_records
from swarmwatch.records.engine import address_of, make_engine
from swarmwatch.records.migrating import bring_up_to_date
from swarmwatch.records.schema import VERSION

SEED = 20260520
FIRST = dt.date(2025, 6, 1)
DAYS = 60
# a service that takes its time: many a kill then falls between the message and its answer
ANSWERS_S = 0.02
# kills that meet a file which is being made
NEW = KILLS // 2
ADDED = 'SELECT count(*) FROM additions WHERE "table" = ?'
LOGGED = 'SELECT count(*) FROM imports WHERE "table" = ?'
UNDER_WAY = "SELECT alert FROM alerts WHERE error LIKE ?"
HELD = "SELECT date, temp_max_c FROM weather ORDER BY date"
VERSIONS = "SELECT version_num FROM alembic_version"


@pytest.fixture(scope="module")
def killable():
    made = Killable(SEED)
    yield made
    made.close()


@pytest.fixture
def records(tmp_path):
    return small_records(tmp_path / "bees.sqlite", hung=False)


def rows(path, query, *values):
    """Ask a file that nothing of ours opens; it is whole, and no row hangs in the air."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        return connection.execute(query, values).fetchall()


def read(path, table):
    """Open the records as the next program does."""
    with open_records(path, create=True) as opened:
        return opened.frame(table)


def held(path):
    """Say which imports the records hold, each of them whole and such that it can be taken back."""
    open_records(path, create=True).close()
    numbers = [int(colony) for (colony,) in rows(path, "SELECT colony FROM colonies")]
    counts = {"apiaries": min(len(numbers), 1), "colonies": len(numbers)}
    counts |= dict.fromkeys(("inspections", "weather"), DAYS * len(numbers))
    for table, count in counts.items():
        assert len(read(path, table)) == count
        assert rows(path, ADDED, table) == [(count,)]
        assert rows(path, LOGGED, table) == [(count if count < DAYS else len(numbers),)]
    return sorted(numbers)


@pytest.fixture
def import_of(tmp_path):
    """Make what to type for one import of a colony, its inspections and some weather."""

    def words(number, path):
        folder = tmp_path / str(number)
        folder.mkdir(exist_ok=True)
        days = [FIRST + dt.timedelta(days=n) for n in range(DAYS)]
        tables = {
            "apiaries": ["apiary,latitude,longitude", "Home,57.9,25.6"],
            "colonies": ["colony,apiary,hive_type", f"{number},Home,zander-10"],
            "inspections": ["colony,date,combs,combs_bees", *(f"{number},{d},10,8" for d in days)],
            "weather": [
                "apiary,date,temp_max_c,temp_min_c,provider",
                *(f"Home,{day},20,9,{number}" for day in days),
            ],
        }
        for name, lines in tables.items():
            (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        return [str(folder), "--records", str(path)]

    return words


def test_a_killed_import_of_new_records_leaves_all_or_nothing(killable, import_of, tmp_path):
    for n in range(NEW):
        path = tmp_path / f"new-{n}.sqlite"
        killable.start("import", calls=[import_of(0, path)] * STEPS)
        killable.wait(1.5)
        done = killable.kill()
        assert held(path) in ([[0]] if done else [[], [0]])


def test_a_killed_import_leaves_what_was_there_and_can_be_done_again(killable, import_of, tmp_path):
    path = tmp_path / "bees.sqlite"
    done = 0
    for _ in range(KILLS - NEW):
        killable.start("import", calls=[import_of(done + n, path) for n in range(STEPS)])
        for _ in range(killable.drawn.randint(0, 1)):
            killable.told()
            done += 1
        killable.wait()
        done += len(killable.kill())
        assert held(path) in (list(range(done)), list(range(done + 1)))


def note(phone, number):
    """Note an inspection of the day of that number, as the phone does."""
    day = str(FIRST + dt.timedelta(days=number))
    form = phone.get("/inspect", params={"colony": "Birch", "date": day})
    answer = phone.post("/inspect", data=hidden(form) | {"combs_honey": str(number % 8)})
    assert answer.status_code == 303


def test_a_note_that_serve_took_is_there_once(killable, records):
    before = len(read(records, "inspections"))
    done = 0
    for _ in range(KILLS):
        killable.start("serve", records=str(records))
        phone = Served(killable.told(), None, None).phone()
        times = queue.Queue()

        def go_on(phone=phone, times=times, first=done):
            try:
                for number in itertools.count(first):
                    began = time.perf_counter()
                    note(phone, number)
                    times.put(time.perf_counter() - began)
            except httpx.TransportError:
                return

        with ThreadPoolExecutor() as beside:
            noting = beside.submit(go_on)
            for _ in range(killable.drawn.randint(1, 3)):
                killable.step_s = times.get(timeout=PATIENCE_S)
                done += 1
            killable.wait()
            killable.kill()
            noting.result()
        phone.close()
        done += times.qsize()

        (added,) = rows(records, ADDED, "inspections")
        found = read(records, "inspections")
        assert added == (len(found),)
        ours = found[found["combs_honey"].notna()]
        assert len(found) - len(ours) == before
        noted = [
            ((d.date() - FIRST).days, c)
            for d, c in zip(ours["date"], ours["combs_honey"], strict=True)
        ]
        assert noted in ([(n, n % 8) for n in range(more)] for more in (done, done + 1))


class Receiver(http.server.BaseHTTPRequestHandler):
    """A service that keeps what came, whether or not anyone waits for its answer."""

    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.got.append(json.loads(body)["message"])
        time.sleep(ANSWERS_S)
        with suppress(OSError):
            self.send_response(200)
            self.send_header("Content-Length", "0")
            self.end_headers()

    def log_message(self, *args):
        pass


@pytest.fixture
def service():
    server = http.server.HTTPServer(("127.0.0.1", 0), Receiver)
    server.got = []
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    yield server
    server.shutdown()
    thread.join()
    server.server_close()


def test_an_alert_is_never_lost_and_repeated_only_where_it_was_under_way(
    killable, records, service, tmp_path
):
    told, stopped = tmp_path / "terminal.txt", Counter()
    now = dt.datetime(2026, 6, 5, 19, tzinfo=dt.UTC)
    job = {
        "records": str(records),
        "address": f"json://127.0.0.1:{service.server_port}/",
        "told": str(told),
    }
    done = 0
    for run in range(KILLS + 1):
        # by the next run nobody is taken to be sending still
        now += dt.timedelta(minutes=10)
        killable.start("alert", first=done, moment=now.isoformat(), **job)
        # the last run is given the time for all that waits
        for _ in range(1 if run == KILLS else killable.drawn.randint(0, 2)):
            killable.told()
            done += 1
        if run < KILLS:
            killable.wait()
        done += len(killable.kill())
        under_way = rows(records, UNDER_WAY, f"being sent since {now.isoformat()}%")
        stopped.update(key for (key,) in under_way)

    got = {"phone": list(service.got), "terminal": told.read_text(encoding="utf-8").splitlines()}
    with open_records(records) as opened:
        alerts = opened.alerts()
    assert not alerts.duplicated(["colony", "channel"]).any()
    sent = alerts[alerts["sent_at"].notna()]
    raised = {
        (f"C{step}-{n}", channel) for step in range(done) for n in range(2) for channel in got
    }
    assert raised <= set(zip(sent["colony"], sent["channel"], strict=True))
    for key, colony, channel in zip(
        alerts["alert"], alerts["colony"], alerts["channel"], strict=True
    ):
        came = [text for text in got[channel] if f"{colony}:" in text]
        assert came or key not in set(sent["alert"])
        assert len(came) <= 1 + stopped[key]
        assert sum(not text.startswith("Maybe again: ") for text in came) <= 1


@pytest.fixture
def old(tmp_path):
    """Records of the first version, with two thousand days of weather."""
    path = tmp_path / "old.sqlite"
    engine = make_engine(address_of(path))
    bring_up_to_date(engine, version="0001")
    engine.dispose()
    days = [(str(FIRST + dt.timedelta(days=n)), float(n)) for n in range(2_000)]
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(
            "INSERT INTO apiaries (apiary, latitude, longitude) VALUES ('H', 57, 25)"
        )
        connection.executemany(
            "INSERT INTO weather (apiary, date, temp_max_c, temp_min_c) VALUES ('H', ?, ?, -1)",
            days,
        )
    return path


def test_a_killed_migration_is_done_whole_or_not_at_all(killable, old, tmp_path):
    held = rows(old, HELD)
    for n in range(KILLS):
        paths = [tmp_path / f"{n}-{k}.sqlite" for k in range(STEPS)]
        for path in paths:
            shutil.copy(old, path)
        killable.start("migrate", paths=[str(path) for path in paths])
        done = 0
        for _ in range(killable.drawn.randint(0, 2)):
            killable.told()
            done += 1
        killable.wait()
        done += len(killable.kill())
        for place, path in enumerate(paths[: done + 1]):
            assert rows(path, HELD) == held
            (version,) = rows(path, VERSIONS)
            assert version in ([(VERSION,)] if place < done else [("0001",), (VERSION,)])
            if version == (VERSION,):
                aside = path.with_name(f"{path.name}.schema-0001")
                assert rows(aside, HELD) == held
            assert len(read(path, "weather")) == len(held)
            assert rows(path, VERSIONS) == [(VERSION,)]
