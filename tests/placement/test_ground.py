"""Where boxes may hang: circles, drawn polygons, and grounds that are none.

Distances and areas are checked against the geodesics of PROJ (pyproj's Geod, WGS 84).
"""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.placement.ground import (
    Ground,
    bounds_of,
    ground_drawn,
    ground_of,
    ground_round,
    outside_ground,
    refuse_far_ground,
    share_beyond,
)

EVIDENCE = load_evidence()
EARTH = Geod(ellps="WGS84")
LAT, LON = 60.17, 24.94
ROUND = ground_round(LAT, LON, 300, evidence=EVIDENCE)
FIELD = box(24.93, 60.16, 24.95, 60.18)
BOW = Polygon([(24.93, 60.16), (24.95, 60.18), (24.95, 60.16), (24.93, 60.18)])


def off(latitude, longitude, bearing_deg, metres):
    """Return latitude and longitude of the place so far off."""
    lon, lat, _ = EARTH.fwd(longitude, latitude, bearing_deg, metres)
    return lat, lon


def within(ground, latitude, longitude):
    return ground.area.covers(Point(longitude, latitude))


@settings(max_examples=50)
@given(
    latitude=st.floats(-84, 84),
    longitude=st.floats(-170, 170),
    radius_m=st.floats(20, 20_000),
    bearing_deg=st.floats(0, 360),
)
def test_a_circle_is_one_of_geodesics(latitude, longitude, radius_m, bearing_deg):
    ground = ground_round(latitude, longitude, radius_m, evidence=EVIDENCE)
    # a circle of 96 corners lies up to 0.054 % inside the true one
    assert within(ground, *off(latitude, longitude, bearing_deg, radius_m * 0.999))
    assert not within(ground, *off(latitude, longitude, bearing_deg, radius_m * 1.001))


def test_the_area_of_a_circle_is_that_of_the_book():
    ground = ground_round(LAT, LON, 500, evidence=EVIDENCE)
    area_m2, _ = EARTH.geometry_area_perimeter(ground.area)
    assert abs(area_m2) == pytest.approx(math.pi * 500**2, rel=0.002)


def test_yards_far_apart_have_a_ground_in_pieces():
    ground = ground_round([60.17, 60.19], [24.94, 24.94], [50, 80], evidence=EVIDENCE)
    assert len(ground.area.geoms) == 2


@pytest.mark.parametrize("radius_m", [0, -5, math.nan, math.inf, 20_001])
def test_a_radius_that_makes_no_sense_is_refused(radius_m):
    with pytest.raises(UsageError, match=r"makes no ground\. Give metres, up to 20000"):
        ground_round(LAT, LON, radius_m, evidence=EVIDENCE)


def test_no_place_is_no_ground():
    with pytest.raises(UsageError, match="Add a yard, or draw a polygon"):
        ground_round([], [], 500, evidence=EVIDENCE)


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(385_000, 6_672_000), (math.nan, 24.94), (91, 0)]
)
def test_a_place_in_metres_is_refused(latitude, longitude):
    with pytest.raises(UsageError, match="is no latitude and longitude; it may be in metres"):
        ground_round(latitude, longitude, 500, evidence=EVIDENCE)


@pytest.mark.parametrize("latitude", [85.1, -89.999, 90])
def test_near_a_pole_there_is_no_ground(latitude):
    with pytest.raises(UsageError, match="beyond 85 degrees no plan is made"):
        ground_round(latitude, 10, 500, evidence=EVIDENCE)


def test_a_polygon_near_a_pole_is_refused():
    with pytest.raises(UsageError, match=r"my\.geojson: beyond 85 degrees"):
        ground_drawn([box(10, 84, 11, 86)], name="my.geojson")


@pytest.mark.parametrize("longitude", [179.9999, -179.9999, 180])
def test_a_circle_across_the_date_line_is_refused(longitude):
    with pytest.raises(UsageError, match="lies across the 180th meridian"):
        ground_round(-17.8, longitude, 500, evidence=EVIDENCE)


def test_grounds_on_both_sides_of_the_date_line_are_refused():
    sides = [ground_round(-17.8, lon, 500, evidence=EVIDENCE) for lon in (179.9, -179.9)]
    with pytest.raises(UsageError, match="Give the ground of one side"):
        ground_of(sides)


def test_a_ground_beside_the_date_line_is_none_across_it():
    assert ground_round(-17.8, 179.99, 500, evidence=EVIDENCE).area.bounds[2] < 180


def test_a_drawn_polygon_is_taken_as_it_is():
    ground = ground_drawn([None, FIELD], name="my.geojson")
    assert ground.area.equals(FIELD)
    assert ground.notes == ()


def test_a_self_crossing_polygon_is_read_as_its_pieces_and_told():
    ground = ground_drawn([BOW], name="my.geojson")
    (note,) = ground.notes
    assert "my.geojson: the polygon crosses itself at 60.17000, 24.94000" in note
    assert "2 pieces" in note
    # two triangles, together half of the rectangle round them
    area_m2, _ = EARTH.geometry_area_perimeter(FIELD)
    hectares = float(note.partition("pieces, ")[2].partition(" ha")[0])
    assert hectares == pytest.approx(abs(area_m2) / 2 / 10_000, rel=0.005)
    assert ground.area.is_valid


@pytest.mark.parametrize("shape", [LineString([(24.9, 60.1), (24.9, 60.2)]), Point(24.9, 60.1)])
def test_a_shape_that_encloses_nothing_is_refused(shape):
    with pytest.raises(UsageError, match=r"encloses no ground\. Draw a closed polygon"):
        ground_drawn([FIELD, shape], name="my.geojson")


@pytest.mark.parametrize("shapes", [[], [None]])
def test_a_file_without_polygon_is_refused(shapes):
    with pytest.raises(UsageError, match="there is no polygon in it"):
        ground_drawn(shapes, name="my.geojson")


@pytest.mark.parametrize(
    "flat", [Polygon([(24.9, 60.1), (24.9, 60.2), (24.9, 60.1)]), MultiPolygon()]
)
def test_a_polygon_without_area_is_refused(flat):
    with pytest.raises(UsageError, match="polygon 1 has no area"):
        ground_drawn([flat], name="my.geojson")


def test_a_polygon_in_metres_is_refused():
    with pytest.raises(UsageError, match=r"385000, 6672000, .*it may be in metres"):
        ground_drawn([box(385_000, 6_672_000, 386_000, 6_673_000)], name="my.geojson")


def test_a_ground_far_from_all_yards_is_refused_with_the_distance():
    far = Ground(area=box(5.0, 52.0, 5.01, 52.01))
    _, _, metres = EARTH.inv(LON, LAT, 5.005, 52.005)
    with pytest.raises(UsageError, match=r"lies [\d,]+ km from all your yards\.") as caught:
        refuse_far_ground(far, latitude=[LAT], longitude=[LON], evidence=EVIDENCE)
    told_km = float(str(caught.value).split()[3].replace(",", ""))
    assert told_km == pytest.approx(metres / 1000, rel=0.01)


def test_swapped_coordinates_are_seen():
    turned = Ground(area=box(60.16, 24.93, 60.18, 24.95))
    with pytest.raises(UsageError, match="latitude and longitude look swapped"):
        refuse_far_ground(turned, latitude=[LAT], longitude=[LON], evidence=EVIDENCE)


@pytest.mark.parametrize("yards", [([LAT], [LON]), ([], []), ([10.0, LAT], [10.0, LON])])
def test_a_ground_near_a_yard_passes_and_so_does_one_of_a_keeper_without_any(yards):
    latitude, longitude = yards
    refuse_far_ground(Ground(area=FIELD), latitude=latitude, longitude=longitude, evidence=EVIDENCE)


@settings(max_examples=25)
@given(beyond_m=st.floats(1, 5000))
def test_the_bounds_reach_so_far_beyond(beyond_m):
    west, south, east, north = bounds_of(Ground(area=FIELD), beyond_m=beyond_m)
    for lat, lon, at_lat, at_lon in (
        (60.17, west, 60.17, 24.93), (60.17, east, 60.17, 24.95),
        (south, 24.94, 60.16, 24.94), (north, 24.94, 60.18, 24.94),
    ):  # fmt: skip
        _, _, metres = EARTH.inv(lon, lat, at_lon, at_lat)
        # the box in degrees is as wide as at its widest, and a degree shrinks towards the pole
        assert beyond_m * 0.99 - 1 <= metres <= beyond_m * 1.05 + 2


@settings(max_examples=40)
@given(east_m=st.floats(-900, 900), north_m=st.floats(-900, 900))
def test_sites_outside_the_ground_are_told_with_the_distance(east_m, north_m):
    away_m = math.hypot(east_m, north_m)
    lat, lon = off(LAT, LON, math.degrees(math.atan2(east_m, north_m)), away_m)
    sites = pd.DataFrame({"site": ["oak"], "latitude": [lat], "longitude": [lon]})
    told = outside_ground(sites, ROUND)
    if away_m < 299.5:
        assert told == {}
    elif away_m > 301:
        metres = float(told["oak"].split(" m outside")[0])
        assert metres == pytest.approx(away_m - 300, abs=1)


def test_no_sites_are_outside_of_nothing():
    none = pd.DataFrame({"site": [], "latitude": [], "longitude": []})
    assert outside_ground(none, Ground(area=FIELD)) == {}


@settings(max_examples=25)
@given(share=st.floats(0.05, 0.95))
def test_the_share_of_the_ground_beyond_a_map_is_that_of_its_area(share):
    west, south, east, north = FIELD.bounds
    ends = east - share * (east - west)
    shapes = [Point(west, south), LineString([(ends, south), (ends, north)])]
    assert share_beyond(Ground(area=FIELD), shapes) == pytest.approx(share, abs=0.002)


def test_a_map_without_anything_leaves_all_the_ground_beyond():
    assert share_beyond(Ground(area=FIELD), np.array([Point()])) == 1
