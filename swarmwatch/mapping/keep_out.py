"""The ground that is barred, with the distance to keep."""

import json
from dataclasses import dataclass

import pandas as pd
import shapely
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.mapping.local_grid import LocalGrid
from swarmwatch.tables import TABLES, conform


@dataclass(frozen=True, slots=True, kw_only=True)
class Barred:
    """Ground where no box may hang, and why, in words."""

    reason: str
    area: BaseGeometry


def barred_ground(
    keep_out: pd.DataFrame, *, grid: LocalGrid | None = None, evidence: Evidence | None = None
) -> list[Barred]:
    """Return the keep-out areas in WGS 84, each widened by the distance to keep.

    Parameters
    ----------
    keep_out
        Table `keep_out`; `geometry` as GeoJSON text or shapely, a geo frame in any system. A
        blank `buffer_m` takes the usual one.
    grid
        Grid on which the distance is measured; for each area one round itself if None.
    evidence
        The numbers; the shipped ones if None.

    Raises
    ------
    RecordsError
        Geometries that can't be read: all of them.
    """
    table = conform(_as_text(keep_out), TABLES["keep_out"])
    numbers = load_evidence() if evidence is None else evidence
    barred, problems = [], []
    for number, (_, row) in enumerate(table.iterrows()):
        kind = str(row["kind"])
        usual = f"placement.buffer_{kind.replace('-', '_')}_m"
        wide = numbers.value(usual) if pd.isna(row["buffer_m"]) else float(row["buffer_m"])
        try:
            document = json.loads(row["geometry"])
            area = _widened(shape(document.get("geometry", document)), grid, wide)
        except (ValueError, TypeError, KeyError, AttributeError, shapely.errors.ShapelyError):
            problems.append(_unreadable(number))
            continue
        reason = kind.replace("-", " ") + (f", {wide:.0f} m kept" if wide else "")
        barred.append(Barred(reason=reason, area=area))
    if problems:
        raise RecordsError(problems)
    return barred


def _as_text(keep_out: pd.DataFrame) -> pd.DataFrame:
    if getattr(keep_out, "crs", None) is not None:
        keep_out = keep_out.to_crs(4326)  # type: ignore[operator] # a geo frame has it
    plain = pd.DataFrame({c: keep_out[c].to_numpy(dtype=object) for c in keep_out.columns})
    if "geometry" in plain:
        plain["geometry"] = [
            shapely.to_geojson(cell) if isinstance(cell, BaseGeometry) else cell
            for cell in plain["geometry"]
        ]
    return plain


def _unreadable(number: int) -> Problem:
    return Problem(
        table="keep_out",
        row=number + 2,
        column="geometry",
        what="this geometry can't be read",
        mend="Write it as GeoJSON in longitude and latitude (WGS 84).",
    )


def _widened(geometry: BaseGeometry, grid: LocalGrid | None, wide_m: float) -> BaseGeometry:
    valid = geometry if geometry.is_valid else shapely.make_valid(geometry)
    if not wide_m or valid.is_empty:
        return valid
    if grid is None:
        west, south, east, north = valid.bounds
        grid = LocalGrid.round_points([south, north], [west, east])
    return grid.geometry_in_degrees(grid.geometry_in_metres(valid).buffer(wide_m, quad_segs=6))
