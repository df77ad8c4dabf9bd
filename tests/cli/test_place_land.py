"""`swarmwatch place --land`: spots from a map, the folder to walk out with, and bad input.

The village and its map are invented. Distances are laid out by geodesics (pyproj's Geod).
"""

import contextlib
import csv
import io
import json
import math
import re
from datetime import UTC, datetime
from types import SimpleNamespace

import geopandas
import pandas as pd
import pytest
from pyproj import Geod
from shapely.geometry import LineString, Point, Polygon, box, mapping

from swarmwatch.cli.main import main
from swarmwatch.cli.map_files import PLAN_FILES
from swarmwatch.records import open_records
from swarmwatch.tables import TABLES

EARTH = Geod(ellps="WGS84")
LAT, LON = 60.17, 24.94
CREDIT = "Invented Survey of the Village"


def at(east_m, north_m):
    bearing = math.degrees(math.atan2(east_m, north_m))
    lon, lat, _ = EARTH.fwd(LON, LAT, bearing, math.hypot(east_m, north_m))
    return lon, lat


def line(*places):
    return LineString([at(*p) for p in places])


def rectangle(west_m, south_m, east_m, north_m):
    corners = [(west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, north_m)]
    return Polygon([at(*p) for p in corners])


LAND = [
    ("tree", Point(at(250, 20))),
    ("tree", Point(at(-260, -40))),
    ("tree", Point(at(40, -305))),  # by the wire
    ("tree-row", line((-60, 240), (60, 260))),
    ("wood", rectangle(-420, 150, -330, 260)),
    ("building", rectangle(140, -150, 170, -130)),
    ("power-line", line((-600, -300), (600, -300))),
    ("path", line((-20, -600), (-20, 600))),
    ("built-up", rectangle(-500, -500, 500, 500)),
]
SITES = {
    "site": ["gate oak", "wire post", "far barn"],
    "place": [(300, -60), (200, -296), (900, 0)],
    "permission": ["yes", "yes", "yes"],
}


def geojson(path, *features, **more):
    drawn = [
        {"type": "Feature", "properties": {"kind": kind}, "geometry": mapping(shape)}
        for kind, shape in features
    ]
    document = {"type": "FeatureCollection", "features": drawn, **more}
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def keep(path, sites=SITES):
    """Make records of one yard with two colonies, and some sites."""
    places = [at(*p) for p in sites["place"]]
    table = pd.DataFrame(
        {
            "site": sites["site"],
            "latitude": [p[1] for p in places],
            "longitude": [p[0] for p in places],
            "permission": sites["permission"],
        }
    )
    tables = {
        "apiaries": pd.DataFrame({"apiary": ["home"], "latitude": [LAT], "longitude": [LON]}),
        "colonies": pd.DataFrame(
            {"colony": ["a", "b"], "apiary": "home", "hive_type": "langstroth-deep-10"}
        ),
    } | ({"sites": table} if len(table) else {})
    with open_records(path, create=True) as store:
        store.store(tables, at=datetime(2026, 4, 1, 18, tzinfo=UTC), by="test")
    return path


@pytest.fixture(scope="module")
def village(tmp_path_factory):
    """Records, and a map of the village, for all tests that only read them."""
    folder = tmp_path_factory.mktemp("village")
    return SimpleNamespace(
        records=keep(folder / "bees.sqlite"),
        land=geojson(folder / "land.geojson", *LAND, attribution=CREDIT),
    )


@pytest.fixture(scope="module")
def place(village):
    """Run ``swarmwatch place`` on the village; return exit code and what was said, on one line."""

    def go(*words, records=village.records, land=village.land):
        fixed = ["--records", records, "--on", "2026-04-02"]
        mapped = ["--land", land] if land else []
        out, err, code = io.StringIO(), io.StringIO(), 0
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                main(["place", *map(str, [*fixed, *mapped, *words])])
            except SystemExit as done:
                code = done.code or 0
        said = [" ".join(stream.getvalue().split()) for stream in (out, err)]
        return SimpleNamespace(code=code, out=said[0], err=said[1], raw=out.getvalue())

    return go


@pytest.fixture(scope="module")
def said(place, tmp_path_factory):
    """What is said of three boxes, and the folder that their plan is written to."""
    folder = tmp_path_factory.mktemp("walk") / "out"
    words = ("--within", "500", "--boxes", "3", "--spacing", "150", "--paper", "letter")
    return SimpleNamespace(**vars(place(*words, "--to", folder)), folder=folder)


def refused(result):
    """Return what was said on stderr of a call that was refused, as one plain line."""
    assert result.code == 2
    assert result.out == ""
    assert "fault of its own" not in result.err
    return result.err


def test_spots_of_the_map_are_planned_with_where_they_are(said):
    assert said.code == 0
    assert "Where: 60." in said.out
    assert "from a map: tree" in said.out
    assert "ASK FIRST; after a yes" in said.out


def test_the_text_tells_what_the_map_gave_what_it_lacks_and_whom_to_thank(said):
    out = said.out
    assert "The map: The map shows" in out
    assert "removed: power line, 10 m kept: 1" in out
    assert "Not mapped on or near the ground: play area, school, water, hedge. There may be" in out
    assert "go and look, for overhead lines first, then ask" in out
    assert f"Map: {CREDIT}" in out


def test_it_says_what_one_box_more_would_add(said):
    assert "One box more, at the best site left, would add " in said.out


def test_more_boxes_than_sites_is_said_and_not_refused(place):
    many = place("--within", "500", "--boxes", "40", "--spacing", "0")
    assert many.code == 0
    assert "40 boxes asked for, " in many.out
    assert "placed: no more sites are left" in many.out
    assert "One box more" not in many.out


def test_spots_that_only_the_spacing_keeps_out_are_counted(place):
    many = json.loads(place("--within", "500", "--boxes", "40", "--json").raw)
    free = json.loads(place("--within", "500", "--boxes", "40", "--spacing", "0", "--json").raw)
    left_out = len(free["rows"]) - len(many["rows"])
    assert left_out > 0
    assert f"placed: {left_out} spots of the map left out, nearer than 500 m" in many["notes"][0]


def test_a_site_under_a_power_line_is_refused_with_the_distance(said):
    assert "wire post: power line 4 m away, 10 m are kept" in said.out


def test_a_site_outside_the_reach_is_refused_with_the_distance(said):
    assert "far barn: 400 m outside the ground where boxes may hang" in said.out


def test_a_site_beyond_any_reach_is_refused_with_the_distance(place, tmp_path):
    sites = {"site": ["moon"], "place": [(900_000, 0)], "permission": ["yes"]}
    records = keep(tmp_path / "bees.sqlite", sites)
    told = refused(place(records=records, land=None))
    assert "'moon' lies 900 km from all yards and sources" in told


def test_two_sites_on_one_spot_get_one_box(place, tmp_path):
    spots = [(300, -60), (300.4, -60), (200, 150)]
    sites = {"site": ["oak", "the oak", "ash"], "place": spots, "permission": ["yes"] * 3}
    records = keep(tmp_path / "bees.sqlite", sites)
    document = json.loads(place("--boxes", 3, "--json", records=records, land=None).raw)
    placed = [row["site"] for row in document["rows"]]
    assert len(placed) == 2
    assert "ash" in placed
    assert "3 boxes asked for, 2 placed" in " ".join(document["notes"])


def test_no_candidate_left_says_which_rule_removed_how_many(place, tmp_path):
    records = keep(tmp_path / "bees.sqlite", {"site": [], "place": [], "permission": []})
    land = geojson(
        tmp_path / "bare.geojson",
        ("tree", Point(at(100, -302))),
        ("tree", Point(at(-25, 0))),
        ("tree", Point(at(-25, 90))),
        ("power-line", line((-600, -300), (600, -300))),
        ("path", line((-20, -600), (-20, 600))),
    )
    told = refused(place("--within", "500", records=records, land=land))
    assert "power line, 10 m kept: 1; path, 20 m kept: 2; 0 are left" in told


def polygon_file(path, shape):
    return geojson(path, ("ground", shape))


def test_a_polygon_with_coordinates_swapped_is_seen(place, tmp_path):
    ground = polygon_file(tmp_path / "ground.geojson", box(LAT, LON, LAT + 0.01, LON + 0.01))
    assert "latitude and longitude look swapped in it" in refused(place("--within", ground))


def test_a_polygon_in_metres_is_refused(place, tmp_path):
    ground = polygon_file(tmp_path / "ground.geojson", box(385_000, 6_672_000, 386_000, 6_673_000))
    told = refused(place("--within", ground))
    assert "385000, 6672000, which is no longitude and latitude; it may be in metres" in told


def test_a_projected_polygon_file_without_its_system_is_refused(place, tmp_path):
    shapes = [box(385_000, 6_672_000, 386_000, 6_673_000)]
    with pytest.warns(UserWarning, match="crs"):
        geopandas.GeoDataFrame({"a": [1]}, geometry=shapes).to_file(tmp_path / "ground.gpkg")
    told = refused(place("--within", tmp_path / "ground.gpkg"))
    assert "no coordinate system (it begins at 385000" in told


def test_a_projected_map_without_its_system_is_refused(place, tmp_path):
    frame = geopandas.GeoDataFrame({"kind": ["tree"]}, geometry=[Point(385_000, 6_672_000)])
    with pytest.warns(UserWarning, match="crs"):
        frame.to_file(tmp_path / "land.gpkg")
    told = refused(place("--within", "500", land=tmp_path / "land.gpkg"))
    assert "no coordinate system" in told


def test_a_map_with_coordinates_swapped_is_seen(place, tmp_path):
    land = geojson(tmp_path / "land.geojson", ("tree", Point(LAT, LON)))
    told = refused(place("--within", "500", land=land))
    assert "latitude and longitude look swapped in it" in told


def test_a_self_crossing_polygon_is_read_as_its_pieces_and_told(place, tmp_path):
    bow = Polygon([at(*p) for p in ((200, -100), (400, 100), (400, -100), (200, 100))])
    out = place("--within", polygon_file(tmp_path / "ground.geojson", bow)).out
    assert "The map shows 1 spot within the ground (1 on trees)" in out
    assert "the polygon crosses itself at 60.17" in out
    assert "Look at it on the map, and draw it anew if that is wrong" in out


@pytest.mark.parametrize(
    ("address", "words"),
    [
        pytest.param("-17.8,179.9999", "lies across the 180th meridian", id="the-date-line"),
        pytest.param("86,24.94", "beyond 85 degrees no plan is made", id="a-pole"),
        pytest.param("6672000,385000", "it may be in metres", id="metres"),
    ],
)
def test_a_ground_at_the_date_line_or_a_pole_or_in_metres_is_refused(place, address, words):
    assert words in refused(place("--address", address))


@pytest.mark.parametrize("address", ["", "60.17", "60.17,24.94,80,9", "Mill Lane 4", "a,b"])
def test_an_address_that_is_none_says_how_to_write_it(place, address):
    assert "such as 60.171,24.944,80" in refused(place("--address", address))


def test_json_tells_of_the_ground_of_my_yards_and_a_friends_address(place):
    lon, lat = at(250, 20)
    facts = json.loads(place("--address", f"{lat:.6f},{lon:.6f},40", "--json").raw)["land"]
    assert facts["found"] == {"tree": 1}
    assert sum(facts["found"].values()) == sum(facts["removed"].values()) + facts["left"]
    assert facts["credit"] == CREDIT
    assert set(facts["outside"]) == {"wire post", "far barn", "gate oak"}


def test_a_radius_that_makes_no_sense_is_refused(place):
    assert "makes no ground. Give metres" in refused(place("--within", "0"))
    assert "makes no ground. Give metres" in refused(place("--within", "nan"))


def test_within_that_is_neither_metres_nor_a_polygon_file_says_so(place):
    assert "neither metres, such as 800, nor a file" in refused(place("--within", "the meadow"))


def test_a_polygon_file_that_is_not_there_is_named(place):
    assert "nowhere.geojson" in refused(place("--within", "nowhere.geojson"))


def test_a_map_needs_a_ground(place):
    assert "--within METRES round your yards" in refused(place())


def test_a_ground_needs_a_map(place):
    assert "Give it with --land" in refused(place("--within", "500", land=None))


def test_metres_round_the_yards_need_a_yard(place, tmp_path):
    open_records(tmp_path / "bees.sqlite", create=True).close()
    told = refused(place("--within", "500", records=tmp_path / "bees.sqlite"))
    assert "No yard yet to draw the ground round" in told


def node(east_m, north_m):
    lon, lat = at(east_m, north_m)
    return {"lat": lat, "lon": lon}


OVERPASS = {
    "elements": [
        {"type": "node", **node(250, 20), "tags": {"natural": "tree"}},
        {
            "type": "way",
            "tags": {"barrier": "hedge"},
            "geometry": [node(100, 99), node(150, 99), None, node(200, 99), node(250, 99)],
        },
    ]
}


def saved(path, answer):
    path.write_text(json.dumps(answer), encoding="utf-8")
    return path


def test_a_kept_overpass_answer_serves_as_a_map_and_tells_its_cuts_and_where_it_ends(
    place, tmp_path
):
    out = place("--within", "500", land=saved(tmp_path / "answer.json", OVERPASS)).out
    assert "(1 on trees, 2 along hedges)" in out
    assert "reach beyond the asked ground and were cut there: 1" in out
    assert "of the ground lies beyond all that the file shows, which may end there" in out
    assert "Map: © OpenStreetMap contributors, ODbL" in out


def test_a_partial_overpass_answer_is_refused_whole(place, tmp_path):
    partial = {**OVERPASS, "remark": "runtime error: Query timed out"}
    told = refused(place("--within", "500", land=saved(tmp_path / "answer.json", partial)))
    assert "gave up part of the way" in told


@pytest.mark.parametrize("name", ["map.html", "sites.csv"])
def test_a_folder_that_holds_one_of_the_files_is_refused_before_the_work(place, tmp_path, name):
    (tmp_path / name).write_text("mine", encoding="utf-8")
    told = refused(place("--within", "500", "--to", tmp_path))
    assert f"{name} would be overwritten" in told
    assert [p.name for p in tmp_path.iterdir()] == [name]


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_folder_gets_plan_map_sheets_letters_labels_and_exports(said):
    assert said.err.count("Written: ") == len(PLAN_FILES) + 1
    assert {p.name for p in said.folder.iterdir()} == {*PLAN_FILES, "sites.csv"}
    assert all(p.stat().st_size for p in said.folder.iterdir())


def test_the_drawn_map_thanks_the_maker_and_shows_of_the_spots_the_chosen_ones(said):
    page = (said.folder / "map.html").read_text(encoding="utf-8")
    assert CREDIT in page
    placed = {row["site"] for row in rows_of(said.folder / "plan.csv")}
    assert all(site in page for site in placed)
    named = set(re.findall(r"(?:tree|tree row|wood edge|building wall) \d+", page))
    assert named == placed - {"gate oak"}


def test_the_exported_barred_ground_is_what_may_hurt(said):
    barred = geopandas.read_file(said.folder / "spots.gpkg", layer="keep_out")
    assert barred["reason"].tolist() == ["power line, 10 m kept"]


def test_the_chosen_spots_come_as_sites_to_import(said):
    rows = rows_of(said.folder / "sites.csv")
    placed = {row["site"] for row in rows_of(said.folder / "plan.csv")}
    assert tuple(rows[0]) == TABLES["sites"].names
    assert {r["site"] for r in rows} == placed - {"gate oak"}
    assert {r["permission"] for r in rows} == {""}


def test_where_an_owner_said_no_no_spot_is_proposed_again(place, said, tmp_path, village):
    records = tmp_path / "bees.sqlite"
    records.write_bytes(village.records.read_bytes())
    answered = pd.read_csv(said.folder / "sites.csv").assign(permission="no")
    answered.to_csv(tmp_path / "sites.csv", index=False)
    with contextlib.suppress(SystemExit):
        main(["import", str(tmp_path / "sites.csv"), "--records", str(records)])
    to = tmp_path / "plan.csv"
    again = place("--within", "500", "--boxes", 9, "--spacing", 0, "--to", to, records=records)
    assert f"{answered['site'].iloc[0]}: the owner said no" in again.out
    for row in pd.read_csv(to).itertuples():
        for barred in answered.itertuples():
            here, there = (row.longitude, row.latitude), (barred.longitude, barred.latitude)
            assert EARTH.inv(*here, *there)[2] > 19.9
