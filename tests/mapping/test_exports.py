import json
from xml.etree import ElementTree as ET

import pandas as pd
import pytest

from swarmwatch.mapping.exports import geojson, gpx

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
