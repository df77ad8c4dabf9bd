"""The ground on which the keeper may hang boxes: drawn, or so far round yards and addresses."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence
from swarmwatch.placement._candidates_grid import FlatGrid
from swarmwatch.placement.dispersal import distances_m

Floats = NDArray[np.float64]

# numerical: nearer to a pole or across the 180th meridian the map and its sheet tear
_POLEWARD_DEG = 85
_HALF_CIRCLE_DEG = 180
_M_PER_KM = 1000
_M2_PER_HA = 10_000
_AREAS = ("Polygon", "MultiPolygon")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """Where boxes may hang: `area` in WGS 84, and what to tell of how it was read."""

    area: BaseGeometry
    notes: tuple[str, ...] = ()


def ground_round(
    latitude: ArrayLike, longitude: ArrayLike, radius_m: ArrayLike, *, evidence: Evidence
) -> Ground:
    """Return the ground within a radius of each of some places.

    Parameters
    ----------
    latitude, longitude
        (n,) WGS 84 [deg].
    radius_m
        (n,) or one [m].

    Raises
    ------
    UsageError
        No place, a place that is none, or a radius that makes no sense.
    """
    lat, lon, radius = (
        np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in (latitude, longitude, radius_m)
    )
    if not lat.size:
        message = "There is no place to draw the ground round. Add a yard, or draw a polygon."
        raise UsageError(message)
    most_m = evidence.value("candidates.ground_most_m")
    wrong = radius[~((radius > 0) & (radius <= most_m))]
    if wrong.size:
        message = f"A radius of {wrong[0]:g} m makes no ground. Give metres, up to {most_m:g}."
        raise UsageError(message)
    _refuse_places(lat, lon)
    circles = []
    for at_lat, at_lon, wide_m in zip(lat, lon, np.broadcast_to(radius, lat.shape), strict=True):
        grid = FlatGrid(float(at_lat), float(at_lon))
        circle = shapely.Point(0, 0).buffer(float(wide_m), quad_segs=24)
        circles.append(grid.degrees([circle])[0])
    return ground_of([Ground(area=shapely.union_all(circles))])


def ground_drawn(shapes: Iterable[BaseGeometry | None], *, name: str) -> Ground:
    """Return the ground of drawn polygons in WGS 84, mended where one crosses itself.

    Parameters
    ----------
    shapes
        Polygons; a polygon that crosses itself is read as the pieces it encloses, and said to be.
    name
        The file, for messages.

    Raises
    ------
    UsageError
        No polygon, or one without area.
    """
    parts, notes = [], []
    for number, shape in enumerate((s for s in shapes if s is not None), start=1):
        if shape.geom_type not in _AREAS:
            message = (
                f"{name}: shape {number} is a {shape.geom_type}, which encloses no ground. "
                "Draw a closed polygon."
            )
            raise UsageError(message)
        if not shape.is_empty:
            _refuse_bounds(shape, name)
        whole = shape
        if not shape.is_valid:
            whole = _areas_of(shapely.make_valid(shape))
            if not whole.is_empty:
                notes.append(_mended(shape, whole, name))
        if whole.is_empty or not whole.area:
            message = f"{name}: polygon {number} has no area. Draw it anew."
            raise UsageError(message)
        parts.append(shapely.force_2d(whole))
    if not parts:
        message = f"{name}: there is no polygon in it. Draw the ground where you may hang boxes."
        raise UsageError(message)
    return Ground(area=shapely.union_all(parts), notes=tuple(notes))


def ground_of(parts: Sequence[Ground]) -> Ground:
    """Return several grounds as one.

    Raises
    ------
    UsageError
        It lies across the 180th meridian or at a pole.
    """
    area = shapely.union_all([p.area for p in parts])
    _refuse_bounds(area, "The ground")
    return Ground(area=area, notes=tuple(n for p in parts for n in p.notes))


def bounds_of(ground: Ground, *, beyond_m: float) -> tuple[float, float, float, float]:
    """Return (west, south, east, north) [deg] of the ground and so much beyond it [m]."""
    grid = FlatGrid.under(ground.area)
    wide = grid.degrees([grid.metres([ground.area])[0].buffer(beyond_m)])[0]
    west, south, east, north = wide.bounds
    return west, south, east, north


def discs_over(ground: Ground, *, beyond_m: float) -> list[tuple[float, float, float]]:
    """Return discs (latitude, longitude [deg], radius [m]) over the ground and so much beyond [m].

    One for each part that hangs together, parts nearer than twice `beyond_m` as one.
    """
    grid = FlatGrid.under(ground.area)
    wide = shapely.get_parts(grid.metres([ground.area])[0].buffer(beyond_m))
    circles = shapely.minimum_bounding_circle(wide)
    latitude, longitude = grid.places(shapely.get_coordinates(shapely.centroid(circles)))
    radius_m = shapely.minimum_bounding_radius(wide)
    return list(zip(latitude.tolist(), longitude.tolist(), radius_m.tolist(), strict=True))


def share_beyond(ground: Ground, shapes: Iterable[BaseGeometry]) -> float:
    """Return which share [-] of the ground lies beyond the outermost of some shapes (WGS 84)."""
    found = [s.bounds for s in shapes if not s.is_empty]
    if not found:
        return 1.0
    bounds = np.asarray(found)
    covered = shapely.box(*bounds[:, :2].min(axis=0), *bounds[:, 2:].max(axis=0))
    grid = FlatGrid.under(ground.area)
    whole, left = grid.metres([ground.area, shapely.difference(ground.area, covered)])
    return float(left.area / whole.area)


def refuse_far_ground(
    ground: Ground, *, latitude: ArrayLike, longitude: ArrayLike, evidence: Evidence
) -> None:
    """Refuse a ground far from every yard; say so if its coordinates look swapped.

    Raises
    ------
    UsageError
        With the distance.
    """
    lat, lon = (np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in (latitude, longitude))
    if not lat.size:
        return
    reach_m = evidence.value("placement.plausible_reach_m")
    middle = ground.area.representative_point()
    away_m = _nearest_m(middle.y, middle.x, lat, lon)
    if away_m <= reach_m:
        return
    turned = abs(middle.x) <= 90 and _nearest_m(middle.x, middle.y, lat, lon) <= reach_m
    why = "; latitude and longitude look swapped in it" if turned else ""
    message = (
        f"The ground lies {away_m / _M_PER_KM:,.0f} km from all your yards{why}. GeoJSON has "
        "longitude first, then latitude, in degrees."
    )
    raise UsageError(message)


def outside_ground(sites: pd.DataFrame, ground: Ground) -> dict[str, str]:
    """Return for each site that lies outside the ground by how much, in words.

    Parameters
    ----------
    sites
        With `site`, `latitude`, `longitude`.
    """
    if not len(sites):
        return {}
    grid = FlatGrid.under(ground.area)
    points = grid.points(sites["latitude"].to_numpy(float), sites["longitude"].to_numpy(float))
    away_m = shapely.distance(points, grid.metres([ground.area])[0])
    return {
        str(name): f"{away:,.0f} m outside the ground where boxes may hang"
        for name, away in zip(sites["site"], away_m, strict=True)
        if round(float(away)) > 0
    }


def _nearest_m(latitude: float, longitude: float, lat: Floats, lon: Floats) -> float:
    away_m = distances_m(
        from_latitude=[latitude], from_longitude=[longitude], to_latitude=lat, to_longitude=lon
    )
    return float(away_m.min())


def _refuse_places(latitude: Floats, longitude: Floats) -> None:
    for lat, lon in zip(latitude, longitude, strict=True):
        if not (abs(lat) <= 90 and abs(lon) <= _HALF_CIRCLE_DEG):
            message = (
                f"{lat:.10g}, {lon:.10g} is no latitude and longitude; it may be in metres. Give "
                "degrees (WGS 84)."
            )
            raise UsageError(message)
        if abs(lat) > _POLEWARD_DEG:
            raise UsageError(_pole(f"{lat:g}, {lon:g}"))


def _refuse_bounds(area: BaseGeometry, name: str) -> None:
    west, south, east, north = area.bounds
    if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
        message = (
            f"{name}: it lies at {west:.10g}, {south:.10g}, which is no longitude and latitude; "
            "it may be in metres. Save it in WGS 84 (EPSG:4326)."
        )
        raise UsageError(message)
    if east - west > _HALF_CIRCLE_DEG / 2:
        message = (
            f"{name}: it lies across the 180th meridian or spans {east - west:.0f} degrees; maps "
            "tear there. Give the ground of one side."
        )
        raise UsageError(message)
    if max(abs(south), abs(north)) > _POLEWARD_DEG:
        raise UsageError(_pole(name))


def _pole(name: str) -> str:
    return f"{name}: beyond {_POLEWARD_DEG} degrees no plan is made: no colonies, and maps tear."


def _areas_of(shape: BaseGeometry) -> BaseGeometry:
    pieces = shapely.get_parts(shape)
    return shapely.union_all([p for p in pieces if p.geom_type in _AREAS])


def _mended(drawn: BaseGeometry, whole: BaseGeometry, name: str) -> str:
    why = shapely.is_valid_reason(drawn).partition("[")[2].rstrip("]").split()
    at = f" at {float(why[1]):.5f}, {float(why[0]):.5f}" if len(why) > 1 else ""
    pieces = len(shapely.get_parts(whole))
    hectares = FlatGrid.under(whole).metres([whole])[0].area / _M2_PER_HA
    return (
        f"{name}: the polygon crosses itself{at}; it was read as {pieces} pieces, "
        f"{hectares:.1f} ha in all. Look at it on the map, and draw it anew if that is wrong."
    )
