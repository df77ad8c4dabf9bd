"""Which fields does the paper of an inspection ask for, in the order of opening a hive?"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from swarmwatch.records.inspecting import questions
from swarmwatch.tables.inputs import INSPECTIONS


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One box on the paper: its column, what stands above it, its share of a row's width."""

    column: str
    label: str
    share: float
    words: tuple[str, ...] = ()
    heavy: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Fields that are met together, and where."""

    where: str
    fields: tuple[Field, ...]


# (column, label for combs, label for bars, weight of its width)
_ROWS: tuple[tuple[str, tuple[tuple[str, str, str, float], ...]], ...] = (
    (
        "Outside",
        (
            ("bees_outside", "Bees hang outside", "", 1.2),
            ("drones", "Drones", "", 1.2),
            ("piping", "Piping heard", "", 0.8),
        ),
    ),
    (
        "From above",
        (
            ("supers", "Honey boxes on", "", 1),
            ("combs_bees", "Combs with bees", "Bars with bees", 1),
            ("bees_how", "Counted as", "", 1.4),
            ("combs", "Drawn combs below", "Drawn bars in use", 1),
            ("combs_foundation", "Foundation", "", 0.9),
        ),
    ),
    (
        "Queen cells",
        (
            (
                "oldest_queen_cell",
                "OLDEST stage in any queen cell; none: write 0 at right",
                "",
                3.2,
            ),
            ("queen_cells_capped", "capped", "", 0.8),
            ("queen_cells_larva", "with larva", "", 0.8),
            ("queen_cells_egg", "with egg", "", 0.8),
        ),
    ),
    (
        "",
        (
            ("queen_cells_emerged", "queen out, tip open", "", 1),
            ("queen_cells_torn", "torn at the side", "", 1),
            ("queen_cell_place", "where on the comb", "", 1.4),
            ("queen_cups", "empty cups", "", 0.8),
            ("combs_looked", "brood combs viewed", "brood bars viewed", 1),
        ),
    ),
    (
        "Brood, queen",
        (
            ("eggs_seen", "Eggs seen", "", 1),
            ("queen_seen", "Queen seen", "", 1),
            ("combs_brood", "Combs with brood", "Bars with brood", 1),
            ("combs_brood_capped", "of them capped", "", 1),
            ("combs_drone", "of them drone", "", 1),
        ),
    ),
    (
        "Room, health",
        (
            ("combs_honey", "Combs of honey", "Bars of honey", 0.8),
            ("combs_empty", "Room to lay, combs", "Room to lay, bars", 0.9),
            ("nectar_in_brood", "Nectar in the brood", "", 1.3),
            ("brood_health", "Brood looks", "", 1.5),
            ("comb_straight", "Combs straight", "", 0.7),
        ),
    ),
)


def rows_of(*, bars: bool) -> tuple[Row, ...]:
    """Return the rows of one colony's form.

    Parameters
    ----------
    bars
        Whether it lives on bars in one long box: foundation and supers are left out there, and
        whether combs are straight is asked.
    """
    asked = set(questions(bars=bars))
    if not bars:
        asked.discard("comb_straight")
    rows = []
    for where, fields in _ROWS:
        kept = [f for f in fields if f[0] in asked]
        whole = sum(weight for *_, weight in kept)
        rows.append(
            Row(
                where=where,
                fields=tuple(
                    Field(
                        column=column,
                        label=(on_bars or label) if bars else label,
                        share=weight / whole,
                        words=INSPECTIONS.column(column).words,
                        heavy=column == "oldest_queen_cell",
                    )
                    for column, label, on_bars, weight in kept
                ),
            )
        )
    return tuple(rows)


def last_words(field: Field, last: Mapping[Hashable, Any] | None) -> str:
    """Return the value of the last inspection as the paper shows it, "" where none was noted."""
    if last is None or pd.isna(last[field.column]):
        return ""
    value = last[field.column]
    return f"was {value}" if field.words else f"was {float(value):g}"
