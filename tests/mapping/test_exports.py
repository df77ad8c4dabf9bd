import json
from datetime import date
from xml.etree import ElementTree as ET

import pandas as pd
import pytest

from swarmwatch.mapping.exports import geojson, geopackage, gpx, kml

ON = date(2026, 5, 14)
KML = {"k": "http://www.opengis.net/kml/2.2"}
NS = {"g": "http://www.topografix.com/GPX/1/1"}
# GPX 1.1 schema: children of wpt come in this order
WPT_ORDER = ["ele", "time", "name", "cmt", "desc", "sym", "type"]
NASTY = "A & B <b>`${x}` \U0001f41d\x00\x01 Łódź"


def waypoints(text):
    return ET.fromstring(text).findall("g:wpt", NS)  # noqa: S314 - our own text


def test_a_gpx_has_one_waypoint_a_spot(map_tables):
    assert len(waypoints(gpx(map_tables["plan"]))) == 5


def test_a_gpx_says_version_1_1_and_who_made_it(map_tables):
    root = ET.fromstring(gpx(map_tables["plan"]))  # noqa: S314 - our own text
    assert (root.get("version"), root.get("creator")) == ("1.1", "swarmwatch")


def test_a_waypoint_stands_where_the_plan_says_to_six_decimals(map_tables):
    first = map_tables["plan"].iloc[0]
    point = waypoints(gpx(map_tables["plan"]))[0]
    assert point.get("lat") == f"{first['latitude']:.6f}"
    assert point.get("lon") == f"{first['longitude']:.6f}"


def test_the_name_is_rank_and_site(map_tables):
    assert waypoints(gpx(map_tables["plan"]))[0].find("g:name", NS).text == "1 Old orchard shed"


def test_the_description_says_ask_first_where_nobody_said_yes(map_tables):
    points = waypoints(gpx(map_tables["plan"], sites=map_tables["sites"]))
    said = [p.find("g:desc", NS).text.startswith("ask first") for p in points]
    assert said == [False, True, True, True, False]


def test_the_description_holds_height_facing_and_bait_box(map_tables):
    boxes = pd.DataFrame({"box": ["B1"], "volume_l": [40]})
    text = gpx(map_tables["plan"], sites=map_tables["sites"], boxes=boxes)
    desc = waypoints(text)[0].find("g:desc", NS).text
    for words in ("2.5 m high", "south-east (150°)", "bait box B1 (40 l)"):
        assert words in desc


def test_the_parts_of_a_waypoint_come_in_the_order_of_the_schema(map_tables):
    text = gpx(map_tables["plan"], elevations_m={"Old orchard shed": 31.4})
    names = [child.tag.split("}")[1] for child in waypoints(text)[0]]
    assert names == sorted(names, key=WPT_ORDER.index)
    assert names[0] == "ele"


def test_odd_characters_leave_a_gpx_well_formed(map_tables):
    plan = map_tables["plan"].assign(site=NASTY, because=NASTY, box=NASTY)
    assert waypoints(gpx(plan))[0].find("g:name", NS).text == "1 A & B <b>`${x}` \U0001f41d Łódź"


def test_an_empty_plan_is_a_gpx_without_waypoints(map_tables):
    assert waypoints(gpx(map_tables["plan"].head(0))) == []


def test_a_gpx_thanks_whoever_made_the_data_before_its_first_waypoint(map_tables):
    root = ET.fromstring(gpx(map_tables["plan"], attribution="Thanks <to> all"))  # noqa: S314
    assert root[0].tag.endswith("metadata")
    # GPX 1.1 schema: children of metadata come in this order
    assert [child.tag.split("}")[1] for child in root[0]] == ["name", "desc", "copyright"]
    assert root.find("g:metadata/g:desc", NS).text == "Thanks <to> all"
    assert root.find("g:metadata/g:copyright", NS).get("author") == "Thanks <to> all"


def test_geopandas_reads_the_geojson_at_the_same_places(map_tables, tmp_path):
    # reference reader: GDAL through geopandas
    import geopandas as gpd

    file = tmp_path / "spots.geojson"
    file.write_text(geojson(map_tables["plan"]), encoding="utf-8")
    frame = gpd.read_file(file)
    assert frame.crs.to_epsg() == 4326
    assert list(frame.geometry.x) == pytest.approx(list(map_tables["plan"]["longitude"]), abs=1e-6)
    assert list(frame.geometry.y) == pytest.approx(list(map_tables["plan"]["latitude"]), abs=1e-6)


def test_gdal_reads_the_gpx_at_the_same_places(map_tables, tmp_path):
    import geopandas as gpd

    file = tmp_path / "spots.gpx"
    file.write_text(gpx(map_tables["plan"]), encoding="utf-8")
    frame = gpd.read_file(file, layer="waypoints")
    assert list(frame["name"])[1] == "2 Churchyard lime tree"
    assert list(frame.geometry.y) == pytest.approx(list(map_tables["plan"]["latitude"]), abs=1e-6)


def test_a_geojson_has_no_crs_member(map_tables):
    # RFC 7946 section 4: the member of the older draft is gone, WGS 84 is meant
    assert "crs" not in json.loads(geojson(map_tables["plan"]))


def test_a_geojson_names_longitude_first(map_tables):
    # RFC 7946 section 3.1.1
    document = json.loads(geojson(map_tables["plan"]))
    first = map_tables["plan"].iloc[0]
    assert document["features"][0]["geometry"]["coordinates"] == [
        round(first["longitude"], 6),
        round(first["latitude"], 6),
    ]


def test_the_attribution_is_a_member_of_the_geojson(map_tables):
    document = json.loads(geojson(map_tables["plan"], attribution="Thanks to all"))
    assert document["attribution"] == "Thanks to all"


def test_a_geojson_says_which_spots_to_ask_about(map_tables):
    document = json.loads(geojson(map_tables["plan"], sites=map_tables["sites"]))
    asked = [f["properties"]["ask_first"] for f in document["features"]]
    assert asked == [False, True, True, True, False]


def whole(tables, **more):
    """Arguments of an export with all its layers."""
    names = ("apiaries", "sites", "keep_out")
    return {name: tables[name] for name in names} | more


def folders(text):
    """Return the placemarks of a KML by folder."""
    root = ET.fromstring(text)  # noqa: S314 - our own text
    return {
        folder.find("k:name", KML).text: folder.findall("k:Placemark", KML)
        for folder in root.findall(".//k:Folder", KML)
    }


def test_a_kml_has_a_folder_each_for_spots_yards_and_keep_out(map_tables):
    found = folders(kml(map_tables["plan"], **whole(map_tables)))
    assert {name: len(marks) for name, marks in found.items()} == {
        "Spots for bait boxes": 5,
        "Yards": 2,
        "Keep out": 2,
    }


def test_a_kml_writes_longitude_first_to_six_decimals(map_tables):
    # OGC 07-147r2, 16.10: longitude, latitude
    first = map_tables["plan"].iloc[0]
    mark = folders(kml(map_tables["plan"]))["Spots for bait boxes"][0]
    assert mark.find("k:Point/k:coordinates", KML).text == (
        f"{first['longitude']:.6f},{first['latitude']:.6f}"
    )


def test_a_kml_says_ask_first(map_tables):
    marks = folders(kml(map_tables["plan"], **whole(map_tables)))["Spots for bait boxes"]
    said = [m.find("k:description", KML).text.startswith("ask first") for m in marks]
    assert said == [False, True, True, True, False]


def test_no_name_in_a_kml_is_markup_of_xml_or_of_a_viewer(map_tables):
    plan = map_tables["plan"].assign(site=NASTY, box=NASTY, warnings=NASTY)
    mark = folders(kml(plan))["Spots for bait boxes"][0]
    assert mark.find("k:name", KML).text == "1 A & B <b>`${x}` \U0001f41d Łódź"
    assert "&lt;b&gt;" in mark.find("k:description", KML).text
    assert "<b>" not in mark.find("k:description", KML).text


def test_a_kml_thanks_whoever_made_the_data(map_tables):
    root = ET.fromstring(kml(map_tables["plan"], attribution="Thanks <all>"))  # noqa: S314
    assert root.find("k:Document/k:description", KML).text == "Thanks &lt;all&gt;"


def test_gdal_reads_the_kml_at_the_same_places(map_tables, tmp_path):
    import geopandas as gpd

    file = tmp_path / "plan.kml"
    file.write_text(kml(map_tables["plan"], **whole(map_tables)), encoding="utf-8")
    frame = gpd.read_file(file, layer="Spots for bait boxes")
    assert frame.crs.to_epsg() == 4326
    assert list(frame.geometry.x) == pytest.approx(list(map_tables["plan"]["longitude"]), abs=1e-6)
    areas = gpd.read_file(file, layer="Keep out").geometry
    assert areas.geom_type.isin(["Polygon", "MultiPolygon"]).all()
    assert areas.is_valid.all()


def test_keep_out_ground_with_a_hole_and_of_several_parts_is_whole_in_a_kml(map_tables, tmp_path):
    import geopandas as gpd
    import shapely

    ring = shapely.box(5.0, 52.0, 5.01, 52.01).difference(shapely.box(5.004, 52.004, 5.006, 52.006))
    area = shapely.MultiPolygon([ring, shapely.box(5.02, 52.0, 5.03, 52.01)])
    keep_out = pd.DataFrame(
        [{"kind": "no-permission", "geometry": shapely.to_geojson(area), "buffer_m": 0}]
    )
    file = tmp_path / "plan.kml"
    file.write_text(kml(map_tables["plan"], keep_out=keep_out), encoding="utf-8")
    (read,) = gpd.read_file(file, layer="Keep out").geometry
    assert shapely.force_2d(read).symmetric_difference(area).area < 1e-9


@pytest.fixture(scope="module")
def package(map_tables, tmp_path_factory):
    """The village's plan as a GeoPackage on disk."""
    file = tmp_path_factory.mktemp("package") / "plan.gpkg"
    more = whole(map_tables, made_on=ON, attribution="Thanks to all")
    file.write_bytes(geopackage(map_tables["plan"], **more))
    return file


def test_geopandas_reads_the_layers_of_the_geopackage(package, map_tables):
    import geopandas as gpd

    layers = {n: gpd.read_file(package, layer=n) for n in gpd.list_layers(package)["name"]}
    assert {name: len(frame) for name, frame in layers.items()} == {
        "spots": 5,
        "yards": 2,
        "keep_out": 2,
    }
    assert all(frame.crs.to_epsg() == 4326 for frame in layers.values())
    spots = layers["spots"]
    assert list(spots["rank"]) == [1, 2, 3, 4, 5]
    assert list(spots["ask_first"]) == [False, True, True, True, False]
    assert list(spots.geometry.y) == pytest.approx(list(map_tables["plan"]["latitude"]), abs=1e-6)


def test_keep_out_in_the_geopackage_is_as_wide_as_asked(package):
    # the village keeps 40 m of its power line
    import geopandas as gpd

    line = gpd.read_file(package, layer="keep_out").to_crs(32631).iloc[0]
    # a strip: its area over half its outline is about its width
    assert 2 * line.geometry.area / line.geometry.length == pytest.approx(80, rel=0.06)


def test_a_geopackage_thanks_whoever_made_the_data(package):
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(package)) as opened:
        said = opened.execute("SELECT DISTINCT description FROM gpkg_contents").fetchall()
    assert said == [("Thanks to all",)]


def test_two_geopackages_of_one_plan_are_equal_to_the_byte(package, map_tables):
    more = whole(map_tables, made_on=ON, attribution="Thanks to all")
    assert geopackage(map_tables["plan"], **more) == package.read_bytes()


def test_an_empty_plan_is_a_geopackage_with_empty_layers(map_tables, tmp_path):
    import geopandas as gpd

    file = tmp_path / "plan.gpkg"
    file.write_bytes(geopackage(map_tables["plan"].head(0), made_on=ON))
    assert [len(gpd.read_file(file, layer=n)) for n in ("spots", "yards", "keep_out")] == [0, 0, 0]


def test_odd_characters_come_back_from_a_geopackage(map_tables, tmp_path):
    import geopandas as gpd

    file = tmp_path / "plan.gpkg"
    file.write_bytes(geopackage(map_tables["plan"].assign(site=NASTY), made_on=ON))
    assert gpd.read_file(file, layer="spots")["site"][0] == "A & B <b>`${x}` \U0001f41d Łódź"
