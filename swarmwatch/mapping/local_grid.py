"""Where a place lies in metres, on a flat grid round the data."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LocalGrid:
    """A transverse Mercator grid centred on one point; up is true north there, a metre a metre.

    Zones of a national or UTM grid lean by degrees away from their middle line; web Mercator's
    metres are too long by 1 / cos(latitude).
    """

    latitude: float
    longitude: float

    @classmethod
    def round_points(cls, latitudes: Iterable[float], longitudes: Iterable[float]) -> "LocalGrid":
        """Return the grid centred on the middle of the points (WGS 84 degrees)."""
        lat = np.asarray([*latitudes], dtype=np.float64)
        lon = np.asarray([*longitudes], dtype=np.float64)
        return cls(float((lat.min() + lat.max()) / 2), float((lon.min() + lon.max()) / 2))

    @cached_property
    def _to_metres(self) -> Transformer:
        grid = f"+proj=tmerc +lat_0={self.latitude} +lon_0={self.longitude} +k=1 +datum=WGS84"
        return Transformer.from_crs("EPSG:4326", grid, always_xy=True)

    def metres(self, latitudes: Iterable[float], longitudes: Iterable[float]) -> Floats:
        """Return (n, 2) metres east and north of the centre."""
        east, north = self._to_metres.transform(
            np.asarray([*longitudes], dtype=np.float64), np.asarray([*latitudes], dtype=np.float64)
        )
        return np.column_stack([east, north])

    def degrees(self, east: Iterable[float], north: Iterable[float]) -> tuple[Floats, Floats]:
        """Return (n,) latitudes and (n,) longitudes of points on the grid [degrees]."""
        longitude, latitude = self._to_metres.transform(
            np.asarray([*east], dtype=np.float64),
            np.asarray([*north], dtype=np.float64),
            direction="INVERSE",
        )
        return latitude, longitude

    def geometry_in_metres(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return a WGS 84 geometry on the grid."""
        return _moved(geometry, self._to_metres, inverse=False)

    def geometry_in_degrees(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return a geometry of the grid in WGS 84."""
        return _moved(geometry, self._to_metres, inverse=True)


def _moved(geometry: BaseGeometry, transformer: Transformer, *, inverse: bool) -> BaseGeometry:
    def move(points: Floats) -> Floats:
        direction = "INVERSE" if inverse else "FORWARD"
        x, y = transformer.transform(points[:, 0], points[:, 1], direction=direction)
        return np.column_stack([x, y])

    return shapely.transform(geometry, move)
