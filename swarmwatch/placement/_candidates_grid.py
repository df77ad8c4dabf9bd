"""Metres round one place, for what is drawn in degrees."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Shapes = NDArray[np.object_]


def as_shapes(shapes: Iterable[BaseGeometry]) -> Shapes:
    """Return geometries as an array (n,) of objects."""
    found = list(shapes)
    array = np.empty(len(found), dtype=object)
    array[:] = found
    return array


@dataclass(frozen=True)
class FlatGrid:
    """An azimuthal equidistant grid: distances from its middle are true, near it all are."""

    latitude: float
    longitude: float

    @classmethod
    def under(cls, area: BaseGeometry) -> "FlatGrid":
        """Return the grid whose middle is that of an area in WGS 84."""
        west, south, east, north = area.bounds
        return cls((south + north) / 2, (west + east) / 2)

    @cached_property
    def _transformer(self) -> Transformer:
        flat = f"+proj=aeqd +lat_0={self.latitude} +lon_0={self.longitude} +datum=WGS84"
        return Transformer.from_crs("EPSG:4326", flat, always_xy=True)

    def metres(self, shapes: Shapes | Sequence[BaseGeometry]) -> Shapes:
        """Return WGS 84 geometries on the grid."""
        return self._moved(shapes, "FORWARD")

    def degrees(self, shapes: Shapes | Sequence[BaseGeometry]) -> Shapes:
        """Return geometries of the grid in WGS 84."""
        return self._moved(shapes, "INVERSE")

    def points(self, latitude: ArrayLike, longitude: ArrayLike) -> Shapes:
        """Return places in WGS 84 [deg] as points on the grid."""
        lon, lat = np.asarray(longitude, dtype=np.float64), np.asarray(latitude, dtype=np.float64)
        return np.asarray(shapely.points(*self._transformer.transform(lon, lat)), dtype=object)

    def places(self, xy: Floats) -> tuple[Floats, Floats]:
        """Return (latitude, longitude) of (n, 2) metres."""
        lon, lat = self._transformer.transform(xy[:, 0], xy[:, 1], direction="INVERSE")
        return np.asarray(lat, dtype=np.float64), np.asarray(lon, dtype=np.float64)

    def _moved(self, shapes: Shapes | Sequence[BaseGeometry], direction: str) -> Shapes:
        def move(points: Floats) -> Floats:
            return np.column_stack(
                self._transformer.transform(points[:, 0], points[:, 1], direction=direction)
            )

        return np.asarray(shapely.transform(as_shapes(shapes), move), dtype=object)
