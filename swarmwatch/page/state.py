"""Have the records changed, and which colonies does a change touch?"""

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import sqlalchemy as sa
from numpy.typing import NDArray

from swarmwatch.page.rereading import Written
from swarmwatch.records.schema import corrections, imports, settings
from swarmwatch.records.store import Records

# the tables whose rows bear on every score
OF_ALL = ("apiaries", "hives", "weather")
# the tables whose rows bear on the score of the colony that they name, once their day has come
OF_A_DAY = ("inspections", "events")

State = tuple[object, ...]


def state_of_records(records: Records) -> State:
    """Return what changes whenever the records do: equal states mean equal records.

    A file is known by its size and time of change, with its log; any store by its last import and
    correction and its settings.
    """
    seen: list[object] = []
    if records.engine.dialect.name == "sqlite":
        path = Path(str(records.engine.url.database))
        for file in (path, path.with_name(f"{path.name}-wal")):
            try:
                found = file.stat()
            except OSError:
                continue
            seen += [found.st_mtime_ns, found.st_size]
    count, last = sa.func.count(), sa.func.max
    with records.reading() as connection:
        for table, key in ((imports, imports.c["import"]), (corrections, corrections.c.correction)):
            seen += connection.execute(sa.select(count, last(key)).select_from(table)).one()
        kept = connection.execute(sa.select(settings.c.name, settings.c.value)).all()
        seen += sorted(map(tuple, kept))
    return tuple(seen)


# of one colony: the days of its rows, in order, and the fingerprint of as many of the first ones
_Marks = tuple[NDArray[np.datetime64], NDArray[np.uint64]]
_NO_MARKS: _Marks = (np.array([], dtype="datetime64[us]"), np.zeros(1, dtype=np.uint64))


@dataclass(frozen=True, slots=True, kw_only=True)
class Prints:
    """Fingerprints of what scores rest on: `together` of what all share, and each colony's own."""

    together: int
    fixed: Mapping[str, _Marks]
    dated: Mapping[str, Mapping[str, _Marks]]

    @classmethod
    def read(
        cls,
        frames: Mapping[str, pd.DataFrame],
        *more: object,
        before: "Prints | None" = None,
        written: Written | None = None,
    ) -> "Prints":
        """Take the fingerprints of some tables; `more` is what the scores rest on beside them.

        `before` are those of the tables as they were before what is `written` was.
        """
        shared = hashlib.sha256()
        for name in OF_ALL:
            marks = pd.util.hash_pandas_object(frames[name], index=False)
            shared.update(marks.to_numpy().tobytes())
        return cls(
            together=hash((shared.hexdigest(), *more)),
            fixed=_marks(frames["colonies"]),
            dated={
                name: _marks(frames[name])
                if before is None or written is None
                else _marks_again(frames[name], before.dated[name], written.get(name, frozenset()))
                for name in OF_A_DAY
            },
        )

    def own(self, colony: str) -> int:
        """Return the fingerprint of all that one colony's score rests on, whatever the evening."""
        parts = (self.fixed, *self.dated.values())
        return hash(tuple(int(marks.get(colony, _NO_MARKS)[1][-1]) for marks in parts))

    def by_evening(self, colony: str, evenings: Sequence[dt.date]) -> list[int]:
        """Return the fingerprint of what one colony's score rests on, on each evening."""
        fixed = (self.together, int(self.fixed.get(colony, _NO_MARKS)[1][-1]))
        until = np.array(evenings, dtype="datetime64[us]")
        dated = []
        for marks in self.dated.values():
            days, totals = marks.get(colony, _NO_MARKS)
            dated.append(totals[np.searchsorted(days, until, side="right")].tolist())
        return [hash((*fixed, *parts)) for parts in zip(*dated, strict=True)]


def _marks(frame: pd.DataFrame) -> dict[str, _Marks]:
    """Take the fingerprints of the rows of each colony."""
    frame = frame.sort_values("date", kind="stable") if "date" in frame.columns else frame
    marks = np.asarray(pd.util.hash_pandas_object(frame, index=False), dtype=np.uint64)
    days = (
        frame["date"].to_numpy(dtype="datetime64[us]")
        if "date" in frame.columns
        else np.zeros(len(frame), dtype="datetime64[us]")
    )
    groups = frame.reset_index(drop=True).groupby("colony", sort=False).indices
    return {
        str(name): (days[rows], np.append(_NO_MARKS[1], np.cumsum(marks[rows])))
        for name, rows in groups.items()
    }


def _marks_again(
    frame: pd.DataFrame, before: Mapping[str, _Marks], colonies: frozenset[str] | None
) -> Mapping[str, _Marks]:
    if colonies is None:
        return _marks(frame)
    kept = {name: marks for name, marks in before.items() if name not in colonies}
    return kept | _marks(frame[frame["colony"].isin(colonies)])
