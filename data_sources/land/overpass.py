"""What lies near a place, by the query service Overpass of OpenStreetMap?

The service may give up part of the way and still answer 200, with a line `remark`: such an
answer is refused whole, because what it lacks would look like ground that is free.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, NoReturn

import requests_cache
import shapely
from shapely.geometry.base import BaseGeometry

from data_sources.errors import SourceError, SourceMalformed
from data_sources.land.features import OSM_CREDIT, Feature, LandFeatures, land_features
from data_sources.land.kinds import facts_of, kind_of
from data_sources.session import ask

PROVIDER = "Overpass"
OVERPASS_URL = "https://overpass-api.de/api/interpreter"
KEPT = timedelta(days=30)  # trees and lines change slowly, and the service is shared
_DECIMALS = 3  # of a degree, some 100 m: so much is told of where the yard is
_STEP_M = 100
MOST_M = 10_000  # radius that one question may have
# what is asked for; `kind_of` sorts it afterwards
_WANTED = (
    'nwr["natural"~"^(tree|tree_row|wood|water|bay|grassland|heath)$"]',
    'nwr["landuse"~"^(forest|orchard|vineyard|reservoir|basin|farmland|meadow|grass)$"]',
    'nwr["landuse"~"^(residential|commercial|retail|industrial|school|greenfield)$"]',
    'nwr["landuse"~"^(allotments|village_green|recreation_ground|cemetery)$"]',
    'way["barrier"~"^(hedge|hedge_bank)$"]',
    'way["waterway"]',
    'nwr["building"]',
    'nwr["power"~"^(line|minor_line|tower|pole|portal|substation|transformer)$"]',
    'nwr["leisure"~"^(playground|pitch|track|sports_centre|garden|park)$"]',
    'nwr["amenity"~"^(school|kindergarten|childcare)$"]',
    'way["highway"]',
    'way["railway"]',
)
_LEAST_RING = 4
_HALF_CIRCLE_DEG = 180
_QUARTER_CIRCLE_DEG = 90
# tags that make a closed way an area, as the wiki has it; the others stay lines
_AREA_KEYS = ("amenity", "building", "landuse", "leisure", "natural", "power")
_LINES_ALL_THE_SAME = frozenset({"tree_row"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FetchedLand:
    """The features, when they were given, a line to show when that is long ago, the credit."""

    features: LandFeatures
    fetched_at: datetime
    notice: str
    credit: str = OSM_CREDIT


def overpass_query(
    *, latitude: float, longitude: float, radius_m: float, timeout_s: int = 60
) -> str:
    """Write the query for all that lies round a place.

    Parameters
    ----------
    latitude, longitude
        WGS 84 degrees; rounded to three decimals, some 100 m, before they leave the machine.
    radius_m
        Up to 10,000 [m]; rounded up to whole 100 m, and 100 m more for the rounded place.
    timeout_s
        Patience that the service is asked for [s].

    Raises
    ------
    SourceError
        A place or radius that can't be.
    """
    for name, value, most in (
        ("latitude", latitude, _QUARTER_CIRCLE_DEG),
        ("longitude", longitude, _HALF_CIRCLE_DEG),
    ):
        if not (math.isfinite(value) and abs(value) <= most):
            message = f"{PROVIDER}: {name} {value} is not within -{most} to {most}. Mend it."
            raise SourceError(message)
    if not (math.isfinite(radius_m) and 0 < radius_m <= MOST_M):
        message = f"{PROVIDER}: a radius of {radius_m:g} m is not within 0 to {MOST_M}. Mend it."
        raise SourceError(message)
    reach_m = (math.ceil(radius_m / _STEP_M) + 1) * _STEP_M
    lat, lon = (round(v, _DECIMALS) + 0.0 for v in (latitude, longitude))
    around = f"(around:{reach_m},{lat:.{_DECIMALS}f},{lon:.{_DECIMALS}f})"
    wanted = "\n".join(f"  {what}{around};" for what in _WANTED)
    return f"[out:json][timeout:{timeout_s:d}];\n(\n{wanted}\n);\nout geom;"


def fetch_overpass(
    session: requests_cache.CachedSession,
    *,
    latitude: float,
    longitude: float,
    radius_m: float,
    base_url: str = OVERPASS_URL,
    kept_for: timedelta = KEPT,
) -> FetchedLand:
    """Ask the service for all that lies round a place, or take its last good answer.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`. Give it a contact: the service turns away
        clients that name none.
    latitude, longitude, radius_m
        As for `overpass_query`.
    base_url
        The service, or another that speaks the same.
    kept_for
        Age up to which a kept answer is used without asking again.

    Raises
    ------
    SourceUnavailable, SourceMalformed
        No usable answer, and none kept.
    """
    query = overpass_query(latitude=latitude, longitude=longitude, radius_m=radius_m)
    answer = ask(
        session,
        base_url,
        {"data": query},
        check=_check,
        provider=PROVIDER,
        expire_after=kept_for,
    )
    return FetchedLand(
        features=read_overpass(answer.body), fetched_at=answer.fetched_at, notice=answer.notice
    )


def read_overpass(payload: object) -> LandFeatures:
    """Turn an answer of the service into the common table, without any network.

    Parameters
    ----------
    payload
        The answer's JSON to a query that ends in ``out geom``.

    Returns
    -------
    The features. A line that leaves the asked ground (null points) is split there; an area that
    does is closed by a straight line, and said to be.

    Raises
    ------
    SourceMalformed
        Another shape, or an answer that the service gave up on (`remark`).
    """
    features: list[Feature] = []
    left_out = cut = 0
    for element in _elements(payload):
        tags = _tags(element)
        kind = kind_of(tags)
        if kind is None:
            continue
        shape, was_cut = _geometry(element, tags)
        if shape is None or shape.is_empty:
            left_out += 1
            continue
        cut += was_cut
        name = tags.get("name", "")
        features.append(Feature(kind=kind, geometry=shape, name=name, facts=facts_of(tags)))
    notes = []
    if cut:
        notes.append(f"Things that reach beyond the asked ground and were cut there: {cut}.")
    if left_out:
        notes.append(f"Things sent without a usable shape, left out: {left_out}.")
    return land_features(features, credit=OSM_CREDIT, where=PROVIDER, notes=notes)


def _check(payload: object) -> None:
    _elements(payload)


def _elements(payload: object) -> list[Mapping[str, Any]]:
    if not isinstance(payload, dict):
        _refuse(f"sent a {type(payload).__name__} instead of an answer. Try again later")
    remark = payload.get("remark")
    if remark:
        said = "".join(c if c.isprintable() else " " for c in str(remark))[:200].strip(" .")
        _refuse(f"gave up part of the way ({said}). Ask for a smaller radius, or later")
    elements = payload.get("elements")
    if not isinstance(elements, list) or not all(isinstance(e, dict) for e in elements):
        _refuse("sent an answer without a list of elements. Try again later")
    return elements


def _refuse(what: str) -> NoReturn:
    message = f"{PROVIDER} {what}."
    raise SourceMalformed(message)


def _tags(element: Mapping[str, Any]) -> dict[str, str]:
    tags = element.get("tags")
    return {str(k): str(v) for k, v in tags.items()} if isinstance(tags, dict) else {}


def _geometry(
    element: Mapping[str, Any], tags: Mapping[str, str]
) -> tuple[BaseGeometry | None, bool]:
    """Return the shape of an element, None where it has no usable one, and whether it was cut."""
    if element.get("type") == "node":
        point = _point(element)
        return (None if point is None else shapely.Point(point)), False
    if element.get("type") == "way":
        pieces, cut = _pieces(element.get("geometry"))
        if _is_area(element.get("geometry"), tags):
            return _ring([p for piece in pieces for p in piece]), cut
        return _lines(pieces), cut
    if element.get("type") == "relation":
        return _relation(element.get("members"))
    return None, False


def _point(cell: object) -> tuple[float, float] | None:
    if not isinstance(cell, dict):
        return None
    found = []
    for name in ("lon", "lat"):
        value = cell.get(name)
        if isinstance(value, bool) or not isinstance(value, int | float):
            return None
        try:
            number = float(value)
        except OverflowError:  # a whole number beyond any float
            return None
        if not math.isfinite(number):
            return None
        found.append(number)
    lon, lat = found
    if abs(lon) > _HALF_CIRCLE_DEG or abs(lat) > _QUARTER_CIRCLE_DEG:
        where = f"{lat:.10g}, {lon:.10g}"
        _refuse(f"sent the place {where}, no degrees; it looks like metres. Fetch it again")
    return lon, lat


def _pieces(cells: object) -> tuple[list[list[tuple[float, float]]], bool]:
    """Split a way's points where one is missing; say whether one was."""
    pieces: list[list[tuple[float, float]]] = [[]]
    cut = False
    for cell in cells if isinstance(cells, list) else []:
        point = _point(cell)
        if point is not None:
            pieces[-1].append(point)
            continue
        cut = True
        if pieces[-1]:
            pieces.append([])
    return [p for p in pieces if p], cut


def _lines(pieces: Sequence[Sequence[tuple[float, float]]]) -> BaseGeometry | None:
    lines = [shapely.LineString(p) for p in pieces if len(p) > 1]
    return shapely.union_all(lines) if lines else None


def _ring(points: list[tuple[float, float]]) -> BaseGeometry | None:
    if points and points[0] != points[-1]:
        points = [*points, points[0]]
    return shapely.Polygon(points) if len(points) >= _LEAST_RING else None


def _is_area(cells: object, tags: Mapping[str, str]) -> bool:
    if not isinstance(cells, list) or len(cells) < _LEAST_RING:
        return False
    first, last = _point(cells[0]), _point(cells[-1])
    closed = first == last and first is not None
    wanted = tags.get("area") == "yes" or (
        tags.get("area") != "no"
        and any(k in tags and tags[k] not in _LINES_ALL_THE_SAME for k in _AREA_KEYS)
        and tags.get("power") not in ("line", "minor_line")
    )
    return closed and wanted


def _relation(members: object) -> tuple[BaseGeometry | None, bool]:
    """Build the areas of a multipolygon: outer rings less inner ones."""
    rings: dict[str, list[BaseGeometry]] = {"outer": [], "inner": []}
    cut = False
    for member in members if isinstance(members, list) else []:
        if not isinstance(member, dict) or member.get("type") != "way":
            continue
        pieces, was_cut = _pieces(member.get("geometry"))
        cut |= was_cut
        points = [p for piece in pieces for p in piece]
        if len(points) > 1:
            role = "inner" if member.get("role") == "inner" else "outer"
            rings[role].append(shapely.LineString(points))
    outer = _polygons(rings["outer"])
    if outer is None:
        return None, cut
    inner = _polygons(rings["inner"])
    return (outer if inner is None else shapely.difference(outer, inner)), cut


def _polygons(lines: Iterable[BaseGeometry]) -> BaseGeometry | None:
    noded = shapely.union_all(list(lines))
    found = [p for p in shapely.polygonize([noded]).geoms if not p.is_empty]
    return shapely.union_all(found) if found else None
