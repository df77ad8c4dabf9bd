"""Read the records' tables again, but only what was written since they were last read."""

import json
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd
import sqlalchemy as sa

from swarmwatch.records import schema
from swarmwatch.records.reading_back import frame_of
from swarmwatch.records.scoring import Frames
from swarmwatch.records.store import Records

# the large tables, whose keys begin with a colony, and the most colonies that are read one by one
_BY_COLONY = ("inspections", "events")
_FEW = 50
# tables, and in each the colonies whose rows were written; None for the whole table
Written = Mapping[str, frozenset[str] | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The input tables as `Records.frames` gives them, and where the log of writing then ended.

    `written` is what is new beside the reading before, None where all was read.
    """

    frames: Frames
    ends: tuple[object, ...]
    written: Written | None


def read_frames(records: Records, before: Reading | None = None) -> Reading:
    """Read every input table from one moment, no more of them than the log says was written.

    All is read where there is no reading before, or where the log does not tell what changed: a
    copy was put back, or something else was at work.

    Raises
    ------
    StoreError
        The records can't be read.
    """
    with records.reading() as connection:
        ends = _ends(connection)
        written = None if before is None else _written(connection, before.ends)
        if before is None or written is None:
            frames = {name: frame_of(connection, name) for name in schema.inputs}
        else:
            frames = dict(before.frames)
            for name, colonies in written.items():
                frames[name] = _again(connection, name, frames[name], colonies)
            if _counts(connection) != {name: len(frame) for name, frame in frames.items()}:
                written = None
                frames = {name: frame_of(connection, name) for name in schema.inputs}
    return Reading(frames=frames, ends=ends, written=written)


def _counts(connection: sa.Connection) -> dict[str, int]:
    """Count the rows of every table: what was written past the log is seen at least by these."""
    return {
        name: connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
        for name, table in schema.inputs.items()
    }


def _ends(connection: sa.Connection) -> tuple[object, ...]:
    """Return the last entry of the log whole, and the last numbers of what goes with it."""
    imports = schema.imports
    newest = sa.select(imports).order_by(imports.c["import"].desc()).limit(1)
    last = connection.execute(newest).first()
    numbers = (schema.corrections.c.correction, schema.additions.c.addition)
    return (
        None if last is None else tuple(last),
        *(connection.execute(sa.select(sa.func.max(n))).scalar() or 0 for n in numbers),
    )


def _written(connection: sa.Connection, ends: tuple[object, ...]) -> Written | None:
    last, correction, addition = ends
    imports, corrections, additions = schema.imports, schema.corrections, schema.additions
    if not isinstance(last, tuple):
        return None
    query = sa.select(imports).where(imports.c["import"] >= last[0])
    first, *later = [tuple(row) for row in connection.execute(query.order_by(imports.c["import"]))]
    # another entry of that number, or nothing new beside it: this is another file, or other work
    if first != last or not later:
        return None
    new: dict[str, int] = {}
    for _, _, _, name, count, *_ in later:
        new[name] = new.get(name, 0) + count
    added = sa.select(additions.c.table, additions.c.key).where(
        additions.c.addition > addition, additions.c.column.is_(None)
    )
    corrected = sa.select(corrections.c.table, corrections.c.key).where(
        corrections.c.correction > correction
    )
    keys = [(t, k) for t, k in connection.execute(added)]
    more = [(t, k) for t, k in connection.execute(corrected)]
    written: dict[str, frozenset[str] | None] = {}
    for name, count in new.items():
        colonies = frozenset(str(json.loads(k)[0]) for t, k in (*keys, *more) if t == name)
        known = count == sum(t == name for t, _ in keys) and len(colonies) <= _FEW
        written[name] = colonies if known and name in _BY_COLONY else None
    return written


def _again(
    connection: sa.Connection, name: str, frame: pd.DataFrame, colonies: frozenset[str] | None
) -> pd.DataFrame:
    if colonies is None:
        return frame_of(connection, name)
    fresh = frame_of(connection, name, named=sorted(colonies))
    together = pd.concat([frame[~frame["colony"].isin(colonies)], fresh], ignore_index=True)
    # each colony's rows are in order by themselves
    return together.sort_values("colony", kind="stable", ignore_index=True)
