"""What did the keeper say of one bait box, does it go together, and which rows does it touch?"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.records.table_read import TableRead
from swarmwatch.tables import TABLES
from swarmwatch.tables.keys import as_text, key_frame
from swarmwatch.tables.references import closest

Frames = Mapping[str, pd.DataFrame]

_WHAT = {
    "boxes": "bait box",
    "sites": "site",
    "hangings": "hanging",
    "checks": "check",
    "catches": "catch",
    "colonies": "new colony",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the keeper said; None, empty or False was not said."""

    hang: str | None = None
    place: str | None = None
    lure: str | None = None
    check: dict[str, str] = field(default_factory=dict)
    caught: str | None = None
    from_colony: str | None = None
    moved: bool = False
    new_colony: str | None = None
    apiary: str | None = None
    hive_type: str | None = None
    take_down: bool = False

    @property
    def anything(self) -> bool:
        """Say whether there is anything to note."""
        return self != Told()

    def needs_colony(self, stored: Frames, name: str, on: date) -> bool:
        """Say whether a catch is noted or moved whose colony has no name yet."""
        if self.new_colony is not None or not (self.caught or self.moved):
            return False
        row = open_catch(stored, name, on)
        return row is None or pd.isna(row["to_colony"])


def named_box(boxes: pd.DataFrame, name: str) -> str:
    """Return the box's name as recorded, any case.

    Raises
    ------
    UsageError
        There is none; the closest are named.
    """
    names = [str(b) for b in boxes["box"]]
    same = [b for b in names if b == name] or [b for b in names if b.casefold() == name.casefold()]
    if len(same) != 1:
        message = (
            f"there is no bait box '{name}'. {closest(name, set(names))}A new one is noted when "
            f"you hang it: swarmwatch box {name} --hang SITE"
        )
        raise UsageError(message)
    return same[0]


def refuse_loose(told: Told) -> None:
    """Refuse options that say nothing without another one."""
    pairs = (
        (told.place, told.hang, "--place goes with --hang SITE"),
        (told.lure, told.hang, "--lure goes with --hang SITE"),
        (told.from_colony, told.caught, "--from-colony goes with --caught"),
        (told.apiary, told.new_colony, "--apiary goes with --new-colony NAME"),
        (told.hive_type, told.new_colony, "--hive-type goes with --new-colony NAME"),
    )
    for part, whole, message in pairs:
        if part is not None and whole is None:
            message += "."
            raise UsageError(message)
    if told.take_down and (told.moved or told.hang):
        message = "--take-down stands alone: a box that was moved with its swarm is down already."
        raise UsageError(message)


def open_catch(stored: Frames, name: str, on: date) -> pd.Series | None:
    """Return the last catch of a box that was not moved yet."""
    row = last_catch(stored, name, on)
    return None if row is None or not pd.isna(row["moved_on"]) else row


def last_catch(stored: Frames, name: str, on: date) -> pd.Series | None:
    """Return the last catch of a box up to a day, None if it made none."""
    catches = stored["catches"]
    mine = catches["box"].str.casefold() == name.casefold()
    mine &= catches["caught_on"] <= pd.Timestamp(on)
    return None if not mine.any() else catches[mine].sort_values("caught_on").iloc[-1]


def one_row(table: str, stored: Frames, cells: Mapping[str, str]) -> TableRead:
    """Make one row: what was said now over what is noted under the same key already."""
    kind = TABLES[table]
    keys = key_frame(stored[table], kind)
    same = pd.Series(True, index=keys.index)
    for column in kind.key:
        same &= keys[column] == cells[column]
    noted = {}
    if same.any():
        row = stored[table][same]
        noted = {n: as_text(row[n]).iloc[0] for n in row.columns if row[n].notna().iloc[0]}
    frame = pd.DataFrame({n: [v] for n, v in {**noted, **cells}.items()}, dtype="str")
    return TableRead(table=table, source=f"note on a {_WHAT[table]}", frame=frame, rows=(0,))
