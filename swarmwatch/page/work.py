"""Do the long sums beside the pages, the urgent ones first."""

import heapq
import itertools
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from enum import IntEnum
from typing import Any, Generic, TypeVar

T = TypeVar("T")
# so long after a page the next one is likely to be asked for [s]
_QUIET_S = 1.0


class Urgency(IntEnum):
    """What comes before what: lower goes first."""

    NOW = 0
    ASKED = 1
    SOON = 2
    LIKELY = 3
    AHEAD = 4


_Job = tuple[int, int, Future[Any], Callable[[], Any]]


class Kept(Generic[T]):
    """A job that is asked for once, however often and by however many; an urgent asker hastens it.

    Parameters
    ----------
    worker
        Does it.
    job
        What is to be done.
    """

    def __init__(self, worker: "Worker", job: Callable[[], T]) -> None:
        self._worker, self._job = worker, job
        self._lock = threading.Lock()
        self._urgency, self._future = Urgency.AHEAD, Future[T]()
        self._future.cancel()

    def ask(self, urgency: Urgency) -> Future[T]:
        """Return the result to come, at this urgency or a greater one."""
        with self._lock:
            more = urgency < self._urgency
            # what runs or is done can't be cancelled and stays
            if self._future.cancelled() or (more and self._future.cancel()):
                self._urgency, self._future = urgency, self._worker.ask(urgency, self._job)
            return self._future


class Worker:
    """One thread that works through jobs; those of one urgency in the order they came in.

    Python runs one thread at a time, so a job beside a page makes the page slower. What no page
    waits for stands back: it begins only while none is being made, and what nobody has asked for
    yet only when none was for a while.

    Parameters
    ----------
    clock
        Tells seconds that only ever grow.
    """

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._jobs: list[_Job] = []
        self._order = itertools.count()
        self._changed = threading.Condition()
        self._pages = 0
        self._quiet_since = -_QUIET_S
        self._closed = False
        self._thread = threading.Thread(target=self._run, name="sums", daemon=True)
        self._thread.start()

    def ask(self, urgency: Urgency, job: Callable[[], T]) -> Future[T]:
        """Have a job done; its result or its fault comes with the future."""
        future: Future[T] = Future()
        with self._changed:
            heapq.heappush(self._jobs, (urgency, next(self._order), future, job))
            self._changed.notify()
        return future

    @contextmanager
    def page(self) -> Iterator[None]:
        """Stand back while a page is made."""
        with self._changed:
            self._pages += 1
        try:
            yield
        finally:
            with self._changed:
                self._pages -= 1
                self._quiet_since = self._clock()
                self._changed.notify()

    def close(self) -> None:
        """Stop after the job at hand; what waits is cancelled."""
        with self._changed:
            self._closed = True
            self._changed.notify()
        self._thread.join()
        for *_, future, _job in self._jobs:
            future.cancel()

    def _run(self) -> None:
        while (taken := self._next()) is not None:
            urgency, future, job = taken
            if not future.set_running_or_notify_cancel():
                continue
            try:
                result = job()
            except BaseException as fault:
                future.set_exception(fault)
            else:
                future.set_result(result)
            if urgency < Urgency.SOON:
                # a page waited for it and comes now
                self._quiet_since = self._clock()

    def _next(self) -> tuple[int, Future[Any], Callable[[], Any]] | None:
        """Wait for a job whose turn it is; None at the end."""
        with self._changed:
            while not self._closed:
                wait_s = self._wait_s()
                if wait_s == 0:
                    urgency, _, future, job = heapq.heappop(self._jobs)
                    return urgency, future, job
                self._changed.wait(wait_s)
        return None

    def _wait_s(self) -> float | None:
        """Return how long the first job has to wait [s], None where that is not known."""
        if not self._jobs:
            return None
        urgency = self._jobs[0][0]
        if urgency >= Urgency.SOON and self._pages:
            return None
        if urgency >= Urgency.LIKELY:
            return max(0.0, self._quiet_since + _QUIET_S - self._clock())
        return 0
