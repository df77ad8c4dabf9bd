"""Do the long sums beside the pages, the urgent ones first."""

import itertools
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from enum import IntEnum
from typing import Any, Generic, TypeVar

T = TypeVar("T")


class Urgency(IntEnum):
    """What comes before what: lower goes first."""

    LAST_WORD = -1
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
    """One thread that works through jobs; those of one urgency in the order they came in."""

    def __init__(self) -> None:
        self._jobs: queue.PriorityQueue[_Job] = queue.PriorityQueue()
        self._order = itertools.count()
        self._closed = False
        self._thread = threading.Thread(target=self._run, name="sums", daemon=True)
        self._thread.start()

    def ask(self, urgency: Urgency, job: Callable[[], T]) -> Future[T]:
        """Have a job done; its result or its fault comes with the future."""
        future: Future[T] = Future()
        self._jobs.put((urgency, next(self._order), future, job))
        return future

    def close(self) -> None:
        """Stop after the job at hand; what waits is cancelled."""
        self._closed = True
        self.ask(Urgency.LAST_WORD, lambda: None)
        self._thread.join()

    def _run(self) -> None:
        while True:
            *_, future, job = self._jobs.get()
            if self._closed:
                future.cancel()
                self._cancel_the_rest()
                return
            if not future.set_running_or_notify_cancel():
                continue
            try:
                result = job()
            except BaseException as fault:
                future.set_exception(fault)
            else:
                future.set_result(result)

    def _cancel_the_rest(self) -> None:
        while not self._jobs.empty():
            self._jobs.get()[2].cancel()
