"""Which sites lie in ground where no box may hang."""

import json

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.evidence import Evidence
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]


def kept_out(sites: pd.DataFrame, keep_out: pd.DataFrame, evidence: Evidence) -> list[str]:
    """Return for each site why it is kept out, "" where it is not.

    Parameters
    ----------
    sites
        With `latitude` and `longitude`, WGS 84 [deg].
    keep_out
        `kind`, `geometry` (GeoJSON text or shapely, WGS 84; a geo frame with another system is
        turned), `buffer_m` [m]; a blank buffer takes the evidence's for its kind.
    evidence
        The numbers ``placement.buffer_*``.

    Raises
    ------
    RecordsError
        A kind that is not known, or a geometry that can't be read.
    """
    frame, shapes = read_keep_out(keep_out)
    reasons = [""] * len(sites)
    if not len(sites):
        return reasons
    latitude, longitude = (sites[c].to_numpy(dtype=float) for c in ("latitude", "longitude"))
    to_metres = _to_metres(float(np.median(latitude)), float(np.median(longitude)))
    points = shapely.points(*to_metres.transform(longitude, latitude))
    for (kind, buffer_m), geometry in zip(
        frame[["kind", "buffer_m"]].itertuples(index=False), shapes, strict=True
    ):
        usual = evidence.value(f"placement.buffer_{kind.replace('-', '_')}_m")
        wide_m = usual if pd.isna(buffer_m) else float(buffer_m)
        flat = shapely.transform(
            geometry, lambda xy: np.column_stack(to_metres.transform(xy[:, 0], xy[:, 1]))
        )
        shapely.prepare(flat)
        for i in np.flatnonzero(shapely.dwithin(flat, points, wide_m)):
            away_m = float(shapely.distance(points[i], flat))
            reasons[i] = reasons[i] or _reason(kind, away_m, wide_m)
    return reasons


def _reason(kind: str, away_m: float, wide_m: float) -> str:
    word = kind.replace("-", " ")
    return f"{word} {away_m:.0f} m away, {wide_m:g} m are kept" if wide_m else f"inside: {word}"


def _to_metres(latitude: float, longitude: float) -> Transformer:
    flat = f"+proj=aeqd +lat_0={latitude} +lon_0={longitude} +datum=WGS84"
    return Transformer.from_crs("EPSG:4326", flat, always_xy=True)


def read_keep_out(keep_out: pd.DataFrame) -> tuple[pd.DataFrame, list[BaseGeometry]]:
    """Return the table conformed, and its geometries in WGS 84; as for `kept_out`."""
    if getattr(keep_out, "crs", None) is not None:
        keep_out = keep_out.to_crs(4326)  # type: ignore[operator]  # a geo frame has it
    plain = pd.DataFrame({c: keep_out[c].to_numpy(dtype=object) for c in keep_out.columns})
    cells = list(plain["geometry"]) if "geometry" in plain else []
    if cells:
        plain["geometry"] = ["" if _blank(c) else "a geometry" for c in cells]
    frame = conform(plain, TABLES["keep_out"])
    shapes: list[BaseGeometry] = []
    problems: list[Problem] = []
    for i, cell in enumerate(cells):
        try:
            shapes.append(_as_shape(cell))
        except (ValueError, TypeError, KeyError, AttributeError, shapely.errors.ShapelyError):
            problems.append(
                Problem(
                    table="keep_out",
                    row=i + 2,
                    column="geometry",
                    what=f"{str(cell)[:60]!r} is not a GeoJSON geometry in degrees",
                    mend="Export the layer as GeoJSON in WGS 84 and give its geometry.",
                )
            )
    if problems:
        raise RecordsError(problems)
    return frame, shapes


def _blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, float) and np.isnan(cell)) or cell == ""


def _as_shape(cell: object) -> BaseGeometry:
    if isinstance(cell, BaseGeometry):
        found = cell
    else:
        document = json.loads(str(cell))
        found = shape(document.get("geometry", document))
    if found.is_empty or not np.isfinite(found.bounds).all():
        raise ValueError
    west, south, east, north = found.bounds
    if (
        west < -_WHOLE_CIRCLE_DEG
        or east > _WHOLE_CIRCLE_DEG
        or south < -_POLE_DEG
        or north > _POLE_DEG
    ):
        raise ValueError
    return shapely.make_valid(found)


_WHOLE_CIRCLE_DEG = 360
_POLE_DEG = 90
