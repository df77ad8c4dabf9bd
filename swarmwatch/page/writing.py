"""Write what a form brings: once, whole or not at all, and never over what another phone wrote."""

import datetime as dt
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import pandas as pd

from swarmwatch.errors import Problem
from swarmwatch.page.desk import Desk
from swarmwatch.records.importing import Checked, check_reads, store_checked
from swarmwatch.records.noting import noted_cells, one_note, state_of
from swarmwatch.records.reading_back import frame_of
from swarmwatch.tables import TABLES
from swarmwatch.tables.keys import as_text

Kind = Literal["noted", "same", "faulty", "unlikely", "changed"]
# forms that are remembered: the last ones, of which a double submit may still come
_FORMS = 1000
# what one row is held against: the tables that it may name, and theirs
_NAMED = ("apiaries", "hives", "colonies", "sites", "boxes")
_NOTHING = "Nothing is filled in yet. Note at least one thing: partial notes are fine."


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What one form brings.

    `key` and `cells` are text by column. `seen` is the fingerprint of what was noted under the key
    when the form was opened, `form` the name that the form was given then, `accept` the keeper's
    word that unlikely values are right, `bare` whether the key alone is worth noting.
    """

    table: str
    key: Mapping[str, str]
    cells: Mapping[str, str]
    seen: str
    form: str
    accept: bool = False
    bare: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What became of a draft.

    `problems` are texts by column, "" for the whole. `theirs` is what was noted meanwhile, by
    column, and `seen` its fingerprint; both say something only where `kind` is ``changed``.
    """

    kind: Kind
    problems: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    theirs: Mapping[str, str] = field(default_factory=dict)
    seen: str = ""


@dataclass(slots=True)
class Forms:
    """The fingerprint of the row that each form left behind, the latest forms only."""

    _left: OrderedDict[str, str] = field(default_factory=OrderedDict)

    def left(self, form: str) -> str | None:
        """Return what a form left behind, None for a form that wrote nothing."""
        return self._left.get(form)

    def keep(self, form: str, state: str) -> None:
        """Remember what a form left behind."""
        self._left[form] = state
        self._left.move_to_end(form)
        while len(self._left) > _FORMS:
            self._left.popitem(last=False)


def opened(desk: Desk, table: str, key: Mapping[str, str]) -> tuple[dict[str, str], str]:
    """Return what is noted under a key now, as text by column, and its fingerprint."""
    cells = _noted(desk, table, key)
    return {n: v for n, v in cells.items() if n not in key}, state_of(cells)


def write(desk: Desk, forms: Forms, draft: Draft, *, at: dt.datetime) -> Verdict:
    """Check a draft and write it in one transaction.

    The same form may come twice, or again from the back button: it then corrects its own row. A
    row that somebody else changed since the form was opened is left as it is, and told.

    Parameters
    ----------
    desk, forms
        The records, and what earlier forms left behind.
    draft
        What the form brings.
    at
        The moment, with its zone.

    Returns
    -------
    What became of it; only ``noted`` has changed anything.

    Raises
    ------
    StoreError
        The records can't be read or written; nothing was changed.
    """
    with desk.writing:
        noted = _noted(desk, draft.table, draft.key)
        if not (noted or draft.bare) and not any(v.strip() for v in draft.cells.values()):
            return Verdict(kind="faulty", problems={"": (_NOTHING,)})
        read = one_note(draft.table, draft.key, with_points(draft.table, draft.cells))
        checked = check_reads([read], _named(desk), today=max(at.date(), desk.today))
        if checked.faults:
            return Verdict(kind="faulty", problems=_by_column(checked.faults))
        brought = _brought(checked, draft)
        if all(noted.get(n, "") == v for n, v in brought.items()) and noted:
            forms.keep(draft.form, state_of(noted))
            return Verdict(kind="same")
        now = state_of(noted)
        if now not in (draft.seen, forms.left(draft.form)):
            theirs = {n: noted.get(n, "") for n, v in brought.items() if noted.get(n, "") != v}
            return Verdict(kind="changed", theirs=theirs, seen=now)
        if checked.doubts and not draft.accept:
            return Verdict(kind="unlikely", problems=_by_column(checked.doubts))
        store_checked(desk.records, checked, at=at, by="page")
        forms.keep(draft.form, state_of(_noted(desk, draft.table, draft.key)))
    return Verdict(kind="noted")


def _noted(desk: Desk, table: str, key: Mapping[str, str]) -> dict[str, str]:
    with desk.records.reading() as connection:
        return noted_cells(connection, table, key)


def _named(desk: Desk) -> dict[str, pd.DataFrame]:
    with desk.records.reading() as connection:
        return {name: frame_of(connection, name) for name in _NAMED}


def _brought(checked: Checked, draft: Draft) -> dict[str, str]:
    """Return the cells of a draft as the store would write them."""
    (frame,) = checked.frames
    return {n: str(as_text(frame[n]).iloc[0]) for n in draft.cells if n in frame.columns}


def _by_column(problems: Sequence[Problem]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for problem in problems:
        text = f"{problem.what[:1].upper()}{problem.what[1:]}. {problem.mend}"
        found[problem.column] = (*found.get(problem.column, ()), text)
    return found


def with_points(table: str, cells: Mapping[str, str]) -> dict[str, str]:
    """Return cells with decimal commas in numbers turned to points, as an import reads them."""
    kinds = {c.name: c.kind for c in TABLES[table].columns}
    return {
        n: v.replace(",", ".") if kinds[n] in {"number", "count"} and v.count(",") == 1 else v
        for n, v in cells.items()
    }
