"""Take down one inspection, whole or in part, as text cells that an import would read."""

import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.hives import hive_types, is_long
from swarmwatch.tables import TABLES, check
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
