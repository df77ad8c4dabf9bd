"""What each field of a form is called and asks for, in one line, for hives of combs or of bars."""

from collections.abc import Mapping
from dataclasses import dataclass

from swarmwatch.records.inspecting import questions
from swarmwatch.tables import TABLES

_STAGES = {
    "egg": "egg",
    "small-larva": "small larva",
    "large-larva": "large larva",
    "capped": "capped",
    "ripe": "ripe: brown or thin tip",
    "emerged": "queen is out",
}
_ZERO = "0: looked, found none."


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field: its column, its label, a line that explains it, and its choices, if it has any.

    `kind` is ``number``, ``count``, ``date``, ``choice``, ``name`` or ``text``; `choices` are pairs
    of the stored word and the one shown, with the blank first; `blank` says what a blank means.
    """

    name: str
    label: str
    line: str
    kind: str
    choices: tuple[tuple[str, str], ...] = ()
    blank: str = "not looked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Fields that are met together."""

    title: str
    fields: tuple[Field, ...]


# in the order in which a hive shows them to whoever opens it
_INSPECTION: dict[str, dict[str, tuple[str, str]]] = {
    "Before you open": {
        "bees_outside": ("Bees hanging outside", "A beard of idle bees at the entrance."),
        "piping": ("Queens piping", "A drawn-out tooting or quacking, by ear at the wall."),
        "supers": ("Honey boxes on", f"How many boxes above the brood. {_ZERO}"),
    },
    "Bees and room": {
        "combs": ("Drawn combs", "Finished combs in the brood boxes, with or without brood."),
        "combs_foundation": ("Foundation", f"Combs in the brood boxes not drawn yet. {_ZERO}"),
        "combs_bees": ("Combs covered with bees", "In the whole hive; quarters count: 7.25."),
        "bees_how": ("How you counted the bees", "Gaps seen from above, or comb by comb."),
        "drones": ("Drones", "Drones on the combs."),
    },
    "Brood nest": {
        "combs_looked": ("Brood combs looked at", "How many you viewed: few of many can miss."),
        "combs_brood": ("Combs with brood", f"Eggs, larvae or capped brood. {_ZERO}"),
        "combs_brood_capped": ("Of them capped", f"How many combs' worth is capped. {_ZERO}"),
        "combs_drone": ("Of them drone", f"How many combs' worth is drone brood. {_ZERO}"),
        "combs_empty": ("Combs with room to lay", f"Drawn, empty cells in reach of her. {_ZERO}"),
        "nectar_in_brood": ("Nectar where brood should be", "Shiny cells among the brood."),
        "combs_honey": ("Combs of honey", f"Combs' worth of honey. {_ZERO}"),
        "eggs_seen": ("Worker eggs", "One egg to a cell: a queen laid within three days."),
        "queen_seen": ("Queen", "Did you see her?"),
    },
    "Queen cells": {
        "oldest_queen_cell": ("Oldest stage in a queen cell", "It decides most: look first."),
        "queen_cups": ("Empty cups", f"Nothing in them: they mean nearly nothing. {_ZERO}"),
        "queen_cells_egg": ("Cells with an egg", _ZERO),
        "queen_cells_larva": ("Cells with a larva", f"A larva, or jelly. {_ZERO}"),
        "queen_cells_capped": ("Capped cells", _ZERO),
        "queen_cells_emerged": ("Cells open at the tip", f"The queen is out. {_ZERO}"),
        "queen_cells_torn": ("Cells torn at the side", f"By bees, not by you. {_ZERO}"),
        "queen_cell_place": ("Where the cells are", "At the comb's edge or on its face."),
    },
    "Closing up": {
        "brood_health": ("How the brood looks", "Sunken, stringy, smelly, spotty: unsure is fine."),
        "comb_straight": ("Combs straight", "They lift without tearing their neighbours."),
        "note": ("Note", "Anything else."),
    },
}
_ON_BARS = {
    "combs": ("Drawn bars", "Bars with finished comb, with or without brood."),
    "combs_bees": ("Bars covered with bees", "In the whole hive; quarters count: 7.25."),
    "bees_how": ("How you counted the bees", "Gaps seen from above, or bar by bar."),
    "combs_looked": ("Brood bars looked at", "How many you viewed: few of many can miss."),
    "combs_brood": ("Bars with brood", f"Eggs, larvae or capped brood. {_ZERO}"),
    "combs_brood_capped": ("Of them capped", f"How many bars' worth is capped. {_ZERO}"),
    "combs_drone": ("Of them drone", f"How many bars' worth is drone brood. {_ZERO}"),
    "combs_empty": ("Bars with room to lay", f"Drawn, empty cells in reach of her. {_ZERO}"),
    "combs_honey": ("Bars of honey", f"Bars' worth of honey. {_ZERO}"),
}
_CHECK: dict[str, tuple[str, str]] = {
    "scouts": ("Scouts at once", f"Most bees at the entrance at one time. {_ZERO}"),
    "pollen_in": ("Pollen carried in", "Bees with pollen on their legs: a swarm lives there."),
    "occupied": ("A swarm lives there", "Steady traffic, a hum inside. Look from the ground."),
    "tenant": ("Somebody else inside", "Leave birds, bats and wasps alone."),
    "note": ("Note", "Anything else."),
}
_SHOWN = {
    "bees_how": {"seams": "gaps from above", "packed": "packed solid", "loose": "bees are on it"},
    "oldest_queen_cell": _STAGES,
    "brood_health": {"suspect": "suspect: looks sick"},
    "tenant": {"wax-moth": "wax moth"},
}


def inspection_groups(*, bars: bool) -> tuple[Group, ...]:
    """Return the fields of an inspection, grouped in the order in which one meets them."""
    asked = set(questions(bars=bars))
    groups = []
    for title, words in _INSPECTION.items():
        said = words | ({n: w for n, w in _ON_BARS.items() if n in words} if bars else {})
        fields = [_field("inspections", n, *w) for n, w in said.items() if n in asked]
        groups.append(Group(title=title, fields=tuple(fields)))
    return tuple(groups)


def check_group() -> Group:
    """Return the fields of a look at a bait box."""
    fields = tuple(_field("checks", name, *words) for name, words in _CHECK.items())
    return Group(title="What you see from the ground", fields=fields)


def names_of(groups: tuple[Group, ...]) -> tuple[str, ...]:
    """Return the columns that some groups ask for."""
    return tuple(field.name for group in groups for field in group.fields)


def field_of(
    table: str,
    name: str,
    label: str,
    line: str,
    *,
    shown: Mapping[str, str],
    blank: str = "not looked",
) -> Field:
    """Return the field of a column; `shown` are its words as they are read, by the stored one."""
    column = TABLES[table].column(name)
    if not column.words:
        kind = "name" if column.kind == "text" and name != "note" else column.kind
        return Field(name=name, label=label, line=line, kind=kind, blank=blank)
    choices = (("", blank), *((word, shown.get(word, word)) for word in column.words))
    return Field(name=name, label=label, line=line, kind="choice", choices=choices, blank=blank)


def _field(table: str, name: str, label: str, line: str) -> Field:
    return field_of(table, name, label, line, shown=_SHOWN.get(name, {}))
