"""Take down one inspection, whole or in part, as text cells that an import would read."""

from collections.abc import Mapping
from datetime import date

import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.hives import hive_types, is_long
from swarmwatch.records.table_read import TableRead
from swarmwatch.tables import TABLES, check
from swarmwatch.tables.keys import as_text, key_frame
from swarmwatch.tables.references import closest

_TABLE = TABLES["inspections"]
# what a hive of bars has no name for
_OF_FRAMES = ("combs_foundation", "supers")


def colony_row(colonies: pd.DataFrame, colony: str) -> pd.Series:
    """Return the row of one colony, any case.

    Raises
    ------
    UsageError
        There is no such colony; the closest are named.
    """
    names = colonies["colony"]
    same = colonies[names == colony]
    if same.empty:
        same = colonies[names.str.casefold() == colony.strip().casefold()]
    if len(same) != 1:
        message = f"there is no colony '{colony}'. {closest(colony, set(names))}"
        message += "New ones come with `swarmwatch import colonies.csv`."
        raise UsageError(message)
    return same.iloc[0]


def has_bars(colony: pd.Series, own_hives: pd.DataFrame) -> bool:
    """Say whether the colony lives on bars, in one long box without frames."""
    types = hive_types(load_evidence(), own_hives)
    name = colony["hive_type"]
    if name not in types.index:
        return False
    kind = types.loc[[name]]
    return bool(is_long(kind)[0]) and not bool(kind["frames"].iloc[0])


def questions(*, bars: bool) -> tuple[str, ...]:
    """Return the columns to ask for, queen cells first: they decide most."""
    first = [
        "oldest_queen_cell",
        "queen_cells_egg",
        "queen_cells_larva",
        "queen_cells_capped",
        "eggs_seen",
        "queen_seen",
        "combs_bees",
        "combs_brood",
        "combs",
    ]
    rest = [n for n in _TABLE.names if n not in (*_TABLE.key, *first)]
    return tuple(n for n in (*first, *rest) if not (bars and n in _OF_FRAMES))


def meaning(column: str, *, bars: bool) -> str:
    """Return what a column asks for, in the words of the hive."""
    text = _TABLE.column(column).meaning
    if not bars:
        return text.replace(", or drawn bars in use", "")
    return {"combs": "Drawn bars in use"}.get(column, text)


def fault_of(column: str, value: str) -> str:
    """Return what is wrong with one answer, "" if nothing is."""
    frame = pd.DataFrame({column: [value]}, dtype="str")
    problems = [p for p in check(frame, _TABLE)[1] if p.column == column]
    return f"{problems[0].what}. {problems[0].mend}" if problems else ""


def one_inspection(
    stored: pd.DataFrame, seen: Mapping[str, str], *, colony: str, on: date, visit: int
) -> TableRead:
    """Make the row of one inspection: what was seen now, over what was noted that day already.

    Parameters
    ----------
    stored
        The conformed ``inspections`` of the store.
    seen
        Answers by column, as text.
    colony
        The colony's name.
    on
        The day.
    visit
        1 for the day's first inspection.

    Returns
    -------
    A table of one row, to be checked and stored like a file's.
    """
    key = (colony, on.isoformat(), str(visit))
    keys = key_frame(stored, _TABLE)
    same = (keys == pd.Series(key, index=keys.columns)).all(axis="columns")
    noted = {}
    if same.any():
        row = stored[same]
        noted = {n: as_text(row[n]).iloc[0] for n in row.columns if row[n].notna().iloc[0]}
    cells = {**noted, **seen, **dict(zip(_TABLE.key, key, strict=True))}
    frame = pd.DataFrame({n: [v] for n, v in cells.items()}, dtype="str")
    return TableRead(table="inspections", source="inspection", frame=frame, rows=(0,))
