"""Find cells that don't fit together, or that no keeper is likely to have meant.

Each rule takes a conformed frame and gives one Problem a cell. A fault can't be true; a doubt may
be, and is asked about before it is kept.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import Problem
from swarmwatch.tables.keys import as_text
from swarmwatch.tables.model import Table
from swarmwatch.tables.shapes import bad_shapes

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

# pairs of columns of which the first may not be greater than the second, by table
_ORDERED = {
    "events": (("date_from", "date"),),
    "outcomes": (("date_from", "date"),),
    "weather": (("temp_min_c", "temp_max_c"),),
    "sources": (("swarms_low", "swarms_expected"), ("swarms_expected", "swarms_high")),
    "hangings": (("hung_on", "taken_on"),),
    "catches": (("caught_on", "moved_on"),),
    "inspections": (("combs_brood", "combs"),),
}
_YEARS = ("queen_year", "season")
_KM_A_DEGREE = 111.2  # of latitude, on a sphere of 6,371 km
_FAR_KM = 300
_NEAR_KM = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What the cells of one table are held against.

    `colonies` is a conformed table of every colony known, `hives` the frame of
    `swarmwatch.hives.hive_types`, `yards` the latitude and longitude of every yard known,
    (n_yards, 2) [degrees].
    """

    today: date
    colonies: pd.DataFrame
    hives: pd.DataFrame
    yards: Floats


def faults(
    frame: pd.DataFrame, table: Table, around: Surroundings, *, name: str = ""
) -> list[Problem]:
    """Find what can't be: days to come, spans that end before they begin, more bees than combs.

    Parameters
    ----------
    frame
        A conformed frame.
    table
        Its table.
    around
        What the cells are held against.
    name
        What to call the table in messages.

    Returns
    -------
    One problem a cell, by row.
    """
    name = name or table.name
    problems = _future(frame, table, around.today, name)
    for lesser, greater in _ORDERED.get(table.name, ()):
        problems += _out_of_order(frame, lesser, greater, name)
    if table.name == "inspections":
        most, certain = _room_for_bees(frame, around)
        problems += _too_many_bees(frame, most, certain, name)
    if table.name == "keep_out":
        problems += bad_shapes(frame, name=name)
    return _by_row(problems, table)


def doubts(
    frame: pd.DataFrame, table: Table, around: Surroundings, *, name: str = ""
) -> list[Problem]:
    """Find what is unlikely: values out of all proportion, places at 0, 0 or turned round.

    Parameters and returned problems are as in `faults`.
    """
    name = name or table.name
    problems = []
    for column in table.columns:
        if column.least is None and column.most is None:
            continue
        cells = _floats(frame, column.name)
        low = -np.inf if column.least is None else column.least
        high = np.inf if column.most is None else column.most
        flags = (cells < low) | (cells >= high)
        problems += _each(
            frame,
            column.name,
            flags,
            name=name,
            what="'{}' is unlikely",
            mend="Check the unit and the decimal point",
        )
    if "latitude" in table.names:
        problems += _odd_places(
            frame, around.yards, name, yards_themselves=table.name == "apiaries"
        )
    if table.name == "inspections":
        most, certain = _room_for_bees(frame, around)
        problems += _too_many_bees(frame, most, ~certain, name)
    return _by_row(problems, table)


def _future(frame: pd.DataFrame, table: Table, today: date, name: str) -> list[Problem]:
    problems = []
    may_come = np.zeros(len(frame), dtype=bool)
    if table.name == "weather":
        may_come = (frame["kind"] != "observed").to_numpy(dtype=bool)
    for column in table.columns:
        if column.kind == "date":
            flags = (frame[column.name] > pd.Timestamp(today)).to_numpy(dtype=bool) & ~may_come
        elif column.name in _YEARS:
            flags = _floats(frame, column.name) > today.year
        else:
            continue
        problems += _each(
            frame,
            column.name,
            flags,
            name=name,
            what="'{}' is in the future",
            mend="Check the year, month and day",
        )
    return problems


def _out_of_order(frame: pd.DataFrame, lesser: str, greater: str, name: str) -> list[Problem]:
    flags = (frame[lesser] > frame[greater]).fillna(value=False).to_numpy(dtype=bool)
    other = as_text(frame[greater]).to_numpy()
    word = "later" if pd.api.types.is_datetime64_any_dtype(frame[lesser].dtype) else "more"
    return _each(
        frame,
        lesser,
        flags,
        name=name,
        what=lambda i, value: f"'{value}' is {word} than {greater}, '{other[i]}'",
        mend="Mend one of the two",
    )


def _room_for_bees(frame: pd.DataFrame, around: Surroundings) -> tuple[Floats, Flags]:
    """Return twice the combs that are in each hive, and where nothing of it was left blank."""
    colonies = around.colonies.set_index("colony")
    types = around.hives["combs_a_box"]
    brood = frame["colony"].map(colonies["hive_type"])
    boxes = frame["colony"].map(colonies["super_type"])
    boxes = boxes.where(boxes.notna(), brood.map(around.hives["default_super"]))
    boxes = boxes.where(boxes.notna(), brood)
    a_super = boxes.map(types).to_numpy(dtype=float, na_value=np.nan)
    combs, foundation, supers = (_floats(frame, n) for n in ("combs", "combs_foundation", "supers"))
    in_supers = np.where(supers == 0, 0, supers * a_super)
    certain = ~np.isnan(foundation) & ~np.isnan(in_supers)
    return 2 * (combs + np.nan_to_num(foundation) + np.nan_to_num(in_supers)), certain


def _too_many_bees(frame: pd.DataFrame, most: Floats, where: Flags, name: str) -> list[Problem]:
    flags = (_floats(frame, "combs_bees") > most) & where
    return _each(
        frame,
        "combs_bees",
        flags,
        name=name,
        what=lambda i, value: (
            f"'{value}' is more than twice the {most[i] / 2:g} combs written down"
        ),
        mend="Check combs_bees, combs, combs_foundation and supers",
    )


def _odd_places(
    frame: pd.DataFrame, yards: Floats, name: str, *, yards_themselves: bool
) -> list[Problem]:
    latitude, longitude = _floats(frame, "latitude"), _floats(frame, "longitude")
    problems = _each(
        frame,
        "latitude",
        (latitude == 0) & (longitude == 0),
        name=name,
        what="0, 0 is a place in the Atlantic",
        mend="Write the coordinates of the place",
    )
    if len(yards):
        straight = _distances_km(latitude, longitude, yards)
        turned = _distances_km(longitude, latitude, yards)
        if yards_themselves:  # a yard is held against the others only
            turned[straight == 0] = np.inf
            straight[straight == 0] = np.inf
        problems += _each(
            frame,
            "latitude",
            (straight.min(axis=1) > _FAR_KM) & (turned.min(axis=1) < _NEAR_KM),
            name=name,
            what="latitude and longitude look swapped: this is far from your other yards",
            mend="Write degrees north as latitude and degrees east as longitude",
        )
    return problems


def _distances_km(latitude: Floats, longitude: Floats, yards: Floats) -> Floats:
    """Return (n_places, n_yards) distances, near enough to tell 100 km from 300."""
    north = (latitude[:, None] - yards[None, :, 0]) * _KM_A_DEGREE
    shrink = np.cos(np.radians(yards[None, :, 0]))
    east = (longitude[:, None] - yards[None, :, 1]) * _KM_A_DEGREE * shrink
    distance: Floats = np.hypot(north, east)
    return distance


def _floats(frame: pd.DataFrame, column: str) -> Floats:
    return frame[column].to_numpy(dtype=float, na_value=np.nan)


def _each(
    frame: pd.DataFrame,
    column: str,
    flags: Flags,
    *,
    name: str,
    what: str | Callable[[int, str], str],
    mend: str,
) -> list[Problem]:
    found = np.flatnonzero(flags)
    values = as_text(frame[column].iloc[found])
    return [
        Problem(
            table=name,
            row=int(i) + 2,
            column=column,
            what=what.format(value) if isinstance(what, str) else what(int(i), value),
            mend=f"{mend}.",
        )
        for i, value in zip(found, values, strict=True)
    ]


def _by_row(problems: list[Problem], table: Table) -> list[Problem]:
    order = {c: i for i, c in enumerate(table.names)}
    return sorted(problems, key=lambda p: (p.row, order.get(p.column, -1)))
