import numpy as np
import pytest
from pyproj import Geod
from shapely.geometry import Point

from swarmwatch.mapping.local_grid import LocalGrid

GRID = LocalGrid(51.5, -0.12)
EARTH = Geod(ellps="WGS84")


@pytest.mark.parametrize("bearing_deg", [0, 45, 90, 180, 300])
def test_distance_and_bearing_are_those_on_the_ellipsoid(bearing_deg):
    # reference: Karney's geodesic of GeographicLib in pyproj, an independent route to the answer
    lon, lat, _ = EARTH.fwd(-0.12, 51.5, bearing_deg, 3000)
    ((east, north),) = GRID.metres([lat], [lon])
    assert np.hypot(east, north) == pytest.approx(3000, abs=0.01)
    assert np.degrees(np.arctan2(east, north)) % 360 == pytest.approx(bearing_deg, abs=0.03)


def test_the_grid_is_centred_on_the_middle_of_the_points():
    grid = LocalGrid.round_points([51.0, 52.0], [4.0, 6.0])
    assert (grid.latitude, grid.longitude) == (51.5, 5.0)


def test_to_metres_and_back_is_the_same_place():
    point = Point(-0.1, 51.52)
    back = GRID.geometry_in_degrees(GRID.geometry_in_metres(point))
    assert back.distance(point) < 1e-9
