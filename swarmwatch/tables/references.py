"""Find names of colonies, yards, sites and boxes that nobody has written down."""

from collections.abc import Collection, Mapping
from difflib import get_close_matches

import pandas as pd

from swarmwatch.errors import Problem
from swarmwatch.tables.model import Table

_KINDS = {
    "apiaries": "yard",
    "colonies": "colony",
    "hives": "hive type",
    "boxes": "bait box",
    "sites": "site",
}


def unknown_names(
    frame: pd.DataFrame, table: Table, known: Mapping[str, Collection[str]], *, name: str = ""
) -> list[Problem]:
    """Find cells that name something which is not there.

    Parameters
    ----------
    frame
        A conformed frame.
    table
        Its table.
    known
        The names that are there, by table.
    name
        What to call the table in messages.

    Returns
    -------
    One problem a cell, with the closest names, by row.
    """
    problems = []
    for column in table.columns:
        if column.refers_to not in known:
            continue
        names = known[column.refers_to]
        cells = frame[column.name]
        for i, value in cells[cells.notna() & ~cells.isin(list(names))].items():
            problems.append(
                Problem(
                    table=name or table.name,
                    row=int(str(i)) + 2,
                    column=column.name,
                    what=f"there is no {_KINDS[column.refers_to]} '{value}'",
                    mend=f"{closest(str(value), names)}Mend the name, or add it to "
                    f"{column.refers_to}.",
                )
            )
    return sorted(problems, key=lambda p: p.row)


def closest(value: str, names: Collection[str]) -> str:
    """Return "Did you mean ...? " with the names closest to `value`, or nothing."""
    by_lower = {n.lower(): n for n in sorted(names, reverse=True)}
    near = get_close_matches(value.lower(), list(by_lower), n=3, cutoff=0.5)
    if not near:
        return ""
    *most, last = [by_lower[n] for n in near]
    offered = f"{', '.join(most)} or {last}" if most else last
    return f"Did you mean {offered}? "
