"""Have the records changed, and which colonies does a change touch?"""

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import numpy as np
import pandas as pd
import sqlalchemy as sa
from numpy.typing import NDArray

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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """A table's rows: their fingerprints and days, and which are each colony's, by day."""

    marks: NDArray[np.uint64]
    days: NDArray[np.datetime64] | None
    of: Mapping[str, NDArray[np.intp]]

    @classmethod
    def read(cls, frame: pd.DataFrame) -> Self:
        dated = frame.sort_values("date", kind="stable") if "date" in frame.columns else frame
        groups = dated.reset_index(drop=True).groupby("colony", sort=False).indices
        return cls(
            marks=np.asarray(pd.util.hash_pandas_object(dated, index=False), dtype=np.uint64),
            days=dated["date"].to_numpy() if "date" in frame.columns else None,
            of={str(name): np.asarray(rows, dtype=np.intp) for name, rows in groups.items()},
        )

    def mark(self, colony: str, until: dt.date | None = None) -> int:
        """Return the fingerprint of a colony's rows, up to a day."""
        rows = self.of.get(colony)
        if rows is None:
            return 0
        if until is not None and self.days is not None:
            rows = rows[: np.searchsorted(self.days[rows], np.datetime64(until), side="right")]
        return int(self.marks[rows].sum()) if len(rows) else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Prints:
    """Fingerprints of what scores rest on: `together` of what all share, and each colony's own."""

    together: int
    fixed: _Rows
    dated: tuple[_Rows, ...]

    @classmethod
    def read(cls, frames: Mapping[str, pd.DataFrame], *more: object) -> Self:
        """Take the fingerprints of some tables; `more` is what the scores rest on beside them."""
        shared = hashlib.sha256()
        for name in OF_ALL:
            marks = pd.util.hash_pandas_object(frames[name], index=False)
            shared.update(marks.to_numpy().tobytes())
        return cls(
            together=hash((shared.hexdigest(), *more)),
            fixed=_Rows.read(frames["colonies"]),
            dated=tuple(_Rows.read(frames[name]) for name in OF_A_DAY),
        )

    def own(self, colony: str) -> int:
        """Return the fingerprint of all that one colony's score rests on, whatever the evening."""
        return hash((self.fixed.mark(colony), *(rows.mark(colony) for rows in self.dated)))

    def by_evening(self, colony: str, evenings: Sequence[dt.date]) -> list[int]:
        """Return the fingerprint of what one colony's score rests on, on each evening."""
        fixed = (self.together, self.fixed.mark(colony))
        return [hash((*fixed, *(rows.mark(colony, on) for rows in self.dated))) for on in evenings]
