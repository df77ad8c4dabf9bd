"""The worker: the urgent first, once, faults to whoever asked, and an end that comes."""

import threading
from dataclasses import dataclass

import pytest

from swarmwatch.page.work import Kept, Urgency, Worker

WAIT_S = 20


@pytest.fixture
def worker():
    made = Worker()
    yield made
    made.close()


@pytest.fixture
def held(worker):
    """A worker that is busy until the event is set."""
    hold, busy = threading.Event(), threading.Event()

    def wait():
        busy.set()
        hold.wait(WAIT_S)

    worker.ask(Urgency.NOW, wait)
    assert busy.wait(WAIT_S)
    yield hold
    hold.set()


def test_the_urgent_goes_first_and_the_rest_in_the_order_asked(worker, held):
    done = []
    asked = [
        (Urgency.AHEAD, "a"),
        (Urgency.AHEAD, "b"),
        (Urgency.ASKED, "c"),
        (Urgency.NOW, "d"),
        (Urgency.SOON, "e"),
    ]
    futures = [worker.ask(u, lambda word=word: done.append(word)) for u, word in asked]
    held.set()
    for future in futures:
        future.result(WAIT_S)
    assert done == ["d", "c", "e", "a", "b"]


def test_a_fault_comes_to_whoever_asked_and_the_worker_goes_on(worker):
    future = worker.ask(Urgency.NOW, lambda: 1 // 0)
    with pytest.raises(ZeroDivisionError):
        future.result(WAIT_S)
    assert worker.ask(Urgency.NOW, lambda: 3).result(WAIT_S) == 3


def test_a_job_that_is_kept_is_done_once_and_hastened_by_an_urgent_asker(worker, held):
    done = []
    kept = Kept(worker, lambda: done.append("kept"))
    kept.ask(Urgency.LIKELY)
    other = worker.ask(Urgency.SOON, lambda: done.append("other"))
    hastened = kept.ask(Urgency.ASKED)
    assert kept.ask(Urgency.AHEAD) is hastened
    assert kept.ask(Urgency.ASKED) is hastened
    held.set()
    hastened.result(WAIT_S)
    other.result(WAIT_S)
    worker.ask(Urgency.AHEAD, lambda: None).result(WAIT_S)
    assert done == ["kept", "other"]
    assert kept.ask(Urgency.NOW) is hastened


@dataclass
class Stopwatch:
    """A clock that stands where a test puts it [s]."""

    seconds: float = 100.0

    def __call__(self):
        return self.seconds


def test_while_a_page_is_made_only_what_pages_wait_for_is_done(worker):
    done = []
    with worker.page(), worker.page():
        later = [worker.ask(u, lambda u=u: done.append(u)) for u in (Urgency.SOON, Urgency.AHEAD)]
        for urgency in (Urgency.ASKED, Urgency.NOW):
            worker.ask(urgency, lambda u=urgency: done.append(u)).result(WAIT_S)
        assert done == [Urgency.ASKED, Urgency.NOW]
    for future in later:
        future.result(WAIT_S)
    assert done == [Urgency.ASKED, Urgency.NOW, Urgency.SOON, Urgency.AHEAD]


def test_what_nobody_asked_for_waits_until_no_page_came_for_a_while():
    clock = Stopwatch()
    worker = Worker(clock=clock)
    with worker.page():
        ahead = worker.ask(Urgency.AHEAD, lambda: "ahead")
    # what is asked for goes on, and a page that comes keeps the other waiting
    assert worker.ask(Urgency.SOON, lambda: "soon").result(WAIT_S) == "soon"
    assert not ahead.done()
    clock.seconds += 60
    with worker.page():
        assert not ahead.done()
    assert worker.ask(Urgency.SOON, lambda: "soon").result(WAIT_S) == "soon"
    assert not ahead.done()
    clock.seconds += 60
    assert ahead.result(WAIT_S) == "ahead"
    worker.close()


def test_at_the_end_what_waits_is_cancelled():
    worker, hold, busy = Worker(), threading.Event(), threading.Event()

    def wait():
        busy.set()
        hold.wait(WAIT_S)

    worker.ask(Urgency.NOW, wait)
    assert busy.wait(WAIT_S)
    waiting = worker.ask(Urgency.AHEAD, lambda: 1)
    threading.Timer(0.05, hold.set).start()
    worker.close()
    assert waiting.cancelled()
