"""Find drawn ground that is no ground: geometries that can't be read or lie off the globe."""

import json
import math
from collections.abc import Iterator

import pandas as pd

from swarmwatch.errors import Problem

_TYPES = (
    "Point",
    "MultiPoint",
    "LineString",
    "MultiLineString",
    "Polygon",
    "MultiPolygon",
)


def bad_shapes(frame: pd.DataFrame, *, name: str) -> list[Problem]:
    """Find cells of ``geometry`` that are not a GeoJSON geometry in WGS 84 (RFC 7946).

    Parameters
    ----------
    frame
        A conformed ``keep_out`` table.
    name
        What to call it in messages.

    Returns
    -------
    One problem a cell, by row.
    """
    problems = []
    for i, cell in enumerate(frame["geometry"]):
        what = "" if pd.isna(cell) else _fault(str(cell))
        if what:
            mend = "Draw it on a map and save it as keep_out.geojson, degrees east first."
            problems.append(Problem(table=name, row=i + 2, column="geometry", what=what, mend=mend))
    return problems


def _fault(cell: str) -> str:
    try:
        shape = json.loads(cell)
    except (json.JSONDecodeError, RecursionError):
        return "this is not GeoJSON"
    if not isinstance(shape, dict) or shape.get("type") not in _TYPES:
        return f"this is not a geometry; it may be one of {', '.join(_TYPES)}"
    places = list(_places(shape.get("coordinates")))
    if not places:
        return "this geometry has no coordinates"
    for east, north in places:
        if not (math.isfinite(east) and math.isfinite(north)):
            return "a coordinate is not a number"
        if abs(east) > 180 or abs(north) > 90:
            return f"'{east:g}, {north:g}' is no place in degrees east and north"
    return ""


def _places(coordinates: object) -> Iterator[tuple[float, float]]:
    if not isinstance(coordinates, list):
        return
    if len(coordinates) >= 2 and all(isinstance(c, int | float) for c in coordinates):
        yield float(coordinates[0]), float(coordinates[1])
        return
    for part in coordinates:
        yield from _places(part)
