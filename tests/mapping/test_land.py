import json

import geopandas as gpd
import pytest
from shapely.geometry import Point, Polygon

from swarmwatch.errors import RecordsError
from swarmwatch.mapping.land import UNKNOWN_STYLE, read_land


def collection(*features, **members):
    return json.dumps({"type": "FeatureCollection", "features": list(features), **members})


def feature(kind, coordinates, shape="Polygon"):
    return {
        "type": "Feature",
        "properties": {"kind": kind},
        "geometry": {"type": shape, "coordinates": coordinates},
    }


SQUARE = [[[5.0, 52.0], [5.1, 52.0], [5.1, 52.1], [5.0, 52.1], [5.0, 52.0]]]
BOW_TIE = [[[5.0, 52.0], [5.1, 52.1], [5.1, 52.0], [5.0, 52.1], [5.0, 52.0]]]


def test_a_wood_is_read_with_its_kind():
    (wood,) = read_land(collection(feature("wood", SQUARE))).features
    assert (wood.kind, wood.geometry.area) == ("wood", pytest.approx(0.01, abs=1e-9))


@pytest.mark.parametrize("word", ["Tree Row", "tree_row", "tree-row"])
def test_a_kind_is_read_in_any_spelling(word):
    (row,) = read_land(collection(feature(word, SQUARE))).features
    assert row.kind == "tree-row"


def test_an_unknown_kind_is_kept_and_drawn_grey():
    (odd,) = read_land(collection(feature("moon-base", SQUARE))).features
    assert odd.style is UNKNOWN_STYLE


def test_a_shape_that_crosses_itself_is_made_valid():
    (mended,) = read_land(collection(feature("water", BOW_TIE))).features
    assert mended.geometry.is_valid
    assert mended.geometry.area == pytest.approx(0.005, abs=1e-9)


def test_woods_are_drawn_before_roads():
    land = read_land(collection(feature("road", SQUARE[0], "LineString"), feature("wood", SQUARE)))
    assert [f.kind for f in land.features] == ["wood", "road"]


def test_a_feature_without_geometry_is_passed_over():
    empty = {"type": "Feature", "properties": {"kind": "wood"}, "geometry": None}
    assert read_land(collection(empty)).features == ()


def test_the_attribution_is_kept():
    assert read_land(collection(attribution="Thanks")).attribution == "Thanks"


def test_metres_are_refused_as_degrees():
    with pytest.raises(RecordsError, match="no longitude and latitude"):
        read_land(collection(feature("wood", [180_000, 520_000], "Point")))


def test_every_bad_feature_is_named():
    bad = {"type": "Feature", "properties": {}, "geometry": {"type": "Cube"}}
    with pytest.raises(RecordsError) as caught:
        read_land(collection(bad, feature("wood", SQUARE), bad))
    assert [p.table for p in caught.value.problems] == ["land feature 1", "land feature 3"]


def test_a_projected_geojson_is_refused():
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::27700"}}
    with pytest.raises(RecordsError, match="another coordinate system"):
        read_land(collection(feature("wood", SQUARE), crs=crs))


@pytest.mark.parametrize("name", ["urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326"])
def test_a_geojson_that_names_wgs_84_is_read(name):
    crs = {"type": "name", "properties": {"name": name}}
    assert len(read_land(collection(feature("wood", SQUARE), crs=crs)).features) == 1


@pytest.mark.parametrize(("text", "why"), [("woods", "not JSON"), ("[]", "not a GeoJSON")])
def test_what_is_no_geojson_is_refused(text, why):
    with pytest.raises(RecordsError, match=why):
        read_land(text)


def test_a_projected_frame_is_turned_to_degrees():
    frame = gpd.GeoDataFrame({"kind": ["tree"]}, geometry=[Point(5, 52)], crs=4326).to_crs(28992)
    (tree,) = read_land(frame).features
    assert (tree.geometry.x, tree.geometry.y) == pytest.approx((5, 52), abs=1e-7)


def test_a_frame_without_coordinate_system_is_refused():
    frame = gpd.GeoDataFrame({"kind": ["wood"]}, geometry=[Polygon(SQUARE[0])])
    with pytest.raises(RecordsError, match="no coordinate system"):
        read_land(frame)
