"""Each colony's chance on past evenings, worked out beside the pages and kept.

A score depends on nothing dated after its evening: a point holds as long as the notes up to its
evening, the weather and the yard stay as they were.
"""

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING, Any

import pandas as pd

from swarmwatch.page.work import Urgency, Worker
from swarmwatch.records.scoring import only_of, score_tables

if TYPE_CHECKING:
    from swarmwatch.page.desk import Standing

# evenings that a chart goes back [d]
DAYS = 42
COLUMNS = ("p_7d", "p_7d_low", "p_7d_high", "p_gone")
# colonies that are scored together: enough to share the work, few enough to be done soon
_TOGETHER = 25


class Histories:
    """The chances of past evenings, each with the fingerprint of what it rests on."""

    def __init__(self, worker: Worker) -> None:
        self._worker = worker
        self._points: dict[tuple[str, dt.date], tuple[int, dict[str, float] | None]] = {}
        self._latest: Standing | None = None
        self._asked: set[tuple[str, int]] = set()

    def prepare(self, standing: "Standing") -> None:
        """Have every colony's evenings worked out, the newest first; what was asked before goes."""
        self._latest = standing
        self._asked.clear()
        names = [str(visit["colony"]) for visit in standing.visits]
        groups = [tuple(names[i : i + _TOGETHER]) for i in range(0, len(names), _TOGETHER)]
        for on in reversed(_evenings(standing.on)):
            for group in groups:
                self._worker.ask(Urgency.AHEAD, partial(self._evening, standing, on, group))

    def ask(self, standing: "Standing", colony: str) -> None:
        """Have one colony's missing evenings worked out before those of all others, once."""
        self._latest = standing
        key = (colony, standing.prints.own(colony))
        if key in self._asked or not self.points(standing, colony)[1]:
            return
        self._asked.add(key)
        for on in reversed(_evenings(standing.on)):
            self._worker.ask(Urgency.SOON, partial(self._evening, standing, on, (colony,)))

    def points(self, standing: "Standing", colony: str) -> tuple[pd.DataFrame, int]:
        """Return what is known of a colony's evenings, and how many are still to be worked out.

        Returns
        -------
        Columns ``on`` and `COLUMNS`, by evening, those on which the colony lived; the number.
        """
        rows: list[dict[str, Any]] = []
        missing = 0
        evenings = _evenings(standing.on)
        marks = standing.prints.by_evening(colony, evenings)
        for on, mark in zip(evenings, marks, strict=True):
            kept = self._points.get((colony, on))
            if kept is None or kept[0] != mark:
                missing += 1
            elif kept[1] is not None:
                rows.append({"on": on} | kept[1])
        return pd.DataFrame(rows, columns=["on", *COLUMNS]), missing

    def _evening(self, standing: "Standing", on: dt.date, names: tuple[str, ...]) -> None:
        if standing is not self._latest:
            return
        marks = {n: standing.prints.by_evening(n, [on])[0] for n in names}
        stale = [n for n, m in marks.items() if self._points.get((n, on), (None,))[0] != m]
        if not stale:
            return
        scores = score_tables(only_of(standing.frames, stale), on, standing.evidence, words=False)
        found = {str(r["colony"]): r for r in scores.to_dict("records")}
        for name in stale:
            row = found.get(name)
            point = None if row is None else {c: float(row[c]) for c in COLUMNS}
            self._points[name, on] = (marks[name], point)


def _evenings(on: dt.date) -> list[dt.date]:
    return [on - dt.timedelta(days=d) for d in range(DAYS - 1, -1, -1)]
