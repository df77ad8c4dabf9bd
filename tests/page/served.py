"""Pages served from a real file by a real server, and how a test talks to them."""

import datetime as dt
import html
import re
import ssl
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial

import httpx
import pandas as pd

import demo_data
from swarmwatch.page.app import make_app
from swarmwatch.page.desk import Desk
from swarmwatch.page.house import House
from swarmwatch.page.serving import HERE, listen, names_of, serve_while
from swarmwatch.records import open_records
from swarmwatch.records.importing import check_reads, refuse_faults, store_checked
from swarmwatch.records.reading import read_files
from swarmwatch.records.scoring import evidence_for

NOW = dt.datetime(2026, 6, 5, 19, 0, tzinfo=dt.UTC)
# nothing here is encrypted: reading the machine's certificates would take long
_NO_CERTIFICATES = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
_HIDDEN = re.compile(r'<input type="hidden" name="([^"]*)" value="([^"]*)">')


@dataclass
class Clock:
    """A clock that stands where a test puts it."""

    now: dt.datetime = NOW

    def __call__(self):
        return self.now


@dataclass
class Served:
    """A server that runs: its address, what it stands on, its clock."""

    host: str
    house: House
    clock: Clock
    clients: list = field(default_factory=list)

    @property
    def records(self):
        return self.house.desk.records

    def phone(self):
        """A browser of its own, with its own cookies; it stays where it is sent on."""
        client = httpx.Client(
            base_url=f"http://{self.host}", trust_env=False, verify=_NO_CERTIFICATES, timeout=60
        )
        self.clients.append(client)
        return client


@contextmanager
def serving(path, *, clock=None, create=False, pairing=None):
    """Serve the records of a file while a test runs, without past evenings: they take long."""
    clock = clock or Clock()
    sockets = listen([HERE], 0)
    with open_records(path, create=create) as records:
        desk = Desk(records, clock=clock, evidence_of=partial(evidence_for, None))
        desk.histories.ask = lambda *_: None
        house = House(desk=desk, hosts=names_of(sockets), pairing=pairing)
        served, up, down = Served("", house, clock), threading.Event(), threading.Event()

        def doing(host):
            served.host = host
            up.set()
            down.wait()

        thread = threading.Thread(target=serve_while, args=(make_app(house), sockets, doing))
        thread.start()
        assert up.wait(30)
        try:
            yield served
        finally:
            for client in served.clients:
                client.close()
            down.set()
            thread.join()
            desk.close()


def demo_records(path):
    """Write the demo's tables into records at `path`."""
    reads = read_files([demo_data.folder() / name for name in demo_data.TABLE_FILES])
    checked = check_reads(reads, {}, today=demo_data.ON)
    refuse_faults(checked, accept_unlikely=True)
    with open_records(path, create=True) as records:
        store_checked(records, checked, at=NOW, by="test")
    return path


def small_records(path, *, names=("Birch", "Alder"), box="B1", yard="Home", site="Shed", hung=True):
    """Write a yard with two colonies, the second on bars, and a bait box that hangs."""
    tables = {
        "apiaries": pd.DataFrame({"apiary": [yard], "latitude": [57.9], "longitude": [25.6]}),
        "colonies": pd.DataFrame(
            {"colony": list(names), "apiary": [yard] * 2, "hive_type": ["zander-10", "top-bar"]}
        ),
        "sites": pd.DataFrame(
            {
                "site": [site, f"{site} 2"],
                "latitude": [57.901, 57.903],
                "longitude": [25.601, 25.604],
                "height_m": [2.0, 2.0],
                "permission": ["yes", "yes"],
            }
        ),
        "boxes": pd.DataFrame({"box": [box]}),
        "hangings": pd.DataFrame({"box": [box], "site": [site], "hung_on": ["2026-05-10"]}),
        "inspections": pd.DataFrame(
            {"colony": [names[0]], "date": ["2026-05-28"], "combs": ["8"], "combs_bees": ["7"]}
        ),
    }
    if not hung:
        del tables["hangings"]
    with open_records(path, create=True) as records:
        records.store(tables, at=NOW, by="test")
    return path


def hidden(page):
    """Return what the last form of a page sends without being seen."""
    last = page.text[page.text.rindex("<form") :]
    return {name: html.unescape(value) for name, value in _HIDDEN.findall(last)}


def send(phone, page, **cells):
    """Fill in the form of a page and send it; return the page that comes."""
    return phone.post(page.url.path, data=hidden(page) | cells)


def sent_on(page):
    """Return where a page sends the browser on to, with its query."""
    assert page.status_code == 303, page.text
    return httpx.URL(page.headers["location"])


def noted(served, table="inspections", **key):
    """Return the rows of a table that match."""
    frame = served.records.frame(table)
    for column, value in key.items():
        frame = frame[frame[column] == value]
    return frame.reset_index(drop=True)
