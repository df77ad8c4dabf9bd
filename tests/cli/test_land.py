"""What a map adds to the keeper's tables, and what of it is drawn."""

import json
from datetime import date

import pandas as pd
import pytest
import shapely
from geopandas import GeoDataFrame
from pyproj import Geod
from shapely.geometry import LineString, Point, box, shape

from data_sources.land.kinds import KINDS
from swarmwatch.cli.land import land_round, search_land
from swarmwatch.cli.planning import Placing, planned_of, weather_credits
from swarmwatch.evidence import load_evidence
from swarmwatch.mapping.land import LAND_STYLES, read_land
from swarmwatch.tables import TABLES, conform

EARTH = Geod(ellps="WGS84")
LAT, LON = 60.17, 24.94
OWN_PATH = json.dumps({"type": "LineString", "coordinates": [[24.938, 60.169], [24.939, 60.169]]})
LAND = [
    ("tree", Point(LON, LAT)),
    ("tree", Point(LON + 0.003, LAT)),
    ("power-line", Point(LON, LAT + 0.003)),
    ("path", LineString([(LON - 0.1, LAT - 0.002), (LON + 0.1, LAT - 0.002)])),
    ("path", LineString([(LON - 0.002, LAT - 0.1), (LON - 0.002, LAT + 0.1)])),
    ("wood", box(LON + 0.001, LAT + 0.001, LON + 0.002, LAT + 0.002)),
    ("wood", box(LON + 0.002, LAT + 0.001, LON + 0.003, LAT + 0.002)),
    ("play-area", box(LON + 0.004, LAT, LON + 0.005, LAT + 0.001)),
    ("built-up", box(LON - 1, LAT - 1, LON + 1, LAT + 1)),
]


def frames(**more):
    """Return the keeper's tables: one yard, and whatever a test adds."""
    yard = {"apiary": ["home"], "latitude": [LAT], "longitude": [LON]}
    tables = {"apiaries": pd.DataFrame(yard), **{k: pd.DataFrame(v) for k, v in more.items()}}
    names = ("apiaries", "sites", "hangings", "keep_out")
    return {n: conform(tables[n] if n in tables else empty(n), TABLES[n]) for n in names}


def empty(name):
    return pd.DataFrame({column: [] for column in TABLES[name].names})


@pytest.fixture(scope="module")
def search(tmp_path_factory):
    """Return a function that seeks spots within 500 m of the yard."""
    path = tmp_path_factory.mktemp("land") / "land.geojson"
    table = GeoDataFrame({"kind": [k for k, _ in LAND]}, geometry=[g for _, g in LAND], crs=4326)
    table.to_file(path, driver="GeoJSON")

    def go(**more):
        return search_land(
            frames(**more), land=path, within="500", addresses=(), evidence=load_evidence()
        )

    return go


@pytest.fixture(scope="module")
def found(search):
    return search()


@pytest.fixture(scope="module")
def drawn(found):
    """The drawn features by kind."""
    features = json.loads(found.geojson)["features"]
    return {(f["properties"]["kind"], shape(f["geometry"]).geom_type): shape(f["geometry"])
            for f in features}  # fmt: skip


def test_trees_and_masts_are_drawn_as_discs_that_are_round_on_the_ground(drawn):
    assert not any(kind.endswith("Point") for _, kind in drawn)
    disc = next(iter(drawn["tree", "MultiPolygon"].geoms))
    centre = disc.centroid
    for lon, lat in shapely.get_coordinates(disc):
        # coordinates are rounded to a decimetre
        assert EARTH.inv(lon, lat, centre.x, centre.y)[2] == pytest.approx(2, abs=0.15)


def test_each_kind_is_one_shape_and_woods_that_touch_are_one_wood(drawn):
    assert len(drawn["path", "MultiLineString"].geoms) == 2
    assert ("wood", "Polygon") in drawn


def test_what_is_hatched_or_of_no_help_is_not_drawn_as_land(drawn):
    assert {kind for kind, _ in drawn} == {"tree", "power-line", "path", "wood"}
    assert {"tree", "path", "wood"} <= set(LAND_STYLES)


def test_there_is_a_look_for_every_kind_that_is_drawn():
    assert set(KINDS) - set(LAND_STYLES) == {"built-up"}


def test_the_map_is_cut_where_it_is_no_longer_seen(drawn):
    west, south, east, north = shapely.total_bounds(list(drawn.values()))
    # 500 m of ground and 150 m beyond, and as far to the sides as the printed map is wide
    assert EARTH.inv(west, LAT, LON, LAT)[2] == pytest.approx(1105, abs=20)
    assert EARTH.inv(east, LAT, LON, LAT)[2] == pytest.approx(1105, abs=20)
    assert EARTH.inv(LON, south, LON, LAT)[2] == pytest.approx(650, abs=20)
    assert EARTH.inv(LON, north, LON, LAT)[2] == pytest.approx(650, abs=20)


def test_the_map_reads_as_land(found):
    assert len(read_land(found.geojson).features) == 4


def test_of_the_maps_barred_ground_lines_and_play_areas_are_hatched(found):
    assert found.hatched["kind"].tolist() == ["power-line", "play-area"]
    assert set(found.frames["keep_out"]["kind"]) == {"power-line", "play-area", "path"}


def test_what_the_keeper_barred_himself_is_hatched_whatever_it_is(search):
    own = {"kind": ["path"], "geometry": [OWN_PATH], "buffer_m": [25.0]}
    hatched = search(keep_out=own).hatched
    assert hatched["kind"].tolist() == ["path", "power-line", "play-area"]
    assert hatched["buffer_m"].iloc[0] == 25


def test_a_box_that_hangs_outside_the_ground_stays_known(search):
    far = {"site": ["far oak", "far ash"], "latitude": [LAT + 0.02] * 2, "longitude": [LON] * 2}
    hung = {"box": ["B1"], "site": ["far oak"], "hung_on": ["2026-04-01"]}
    result = search(sites=far, hangings=hung)
    assert "far oak" in set(result.frames["sites"]["site"])
    assert set(result.outside) == {"far ash"}


def test_only_the_chosen_spots_of_the_map_are_drawn_and_all_of_the_keepers(search):
    own = {"site": ["gate"], "latitude": [LAT - 0.001], "longitude": [LON]}
    result = search(sites=own)
    plan = pd.DataFrame({"site": ["tree 1"]})
    assert result.drawn(plan)["sites"]["site"].tolist() == ["gate", "tree 1"]
    assert result.chosen(plan)["site"].tolist() == ["tree 1"]


@pytest.mark.parametrize("name", ["answer.json", "layer.gpkg"])
def test_what_lies_round_the_yards_is_drawn_from_any_map(tmp_path, name):
    path, far = tmp_path / name, LON + 0.1
    if name == "answer.json":
        places = [{"lat": LAT, "lon": LON}, {"lat": LAT, "lon": far}]
        trees = [{"type": "node", **p, "tags": {"natural": "tree"}} for p in places]
        path.write_text(json.dumps({"elements": trees}), encoding="utf-8")
    else:
        shapes = [Point(LON, LAT), Point(far, LAT)]
        frame = GeoDataFrame({"natural": ["tree"] * 2}, geometry=shapes, crs=4326)
        frame.to_crs(3067).to_file(path)
    (tree,) = land_round(frames(), path).features
    assert tree.kind == "tree"
    # the other stands beyond what is shown
    assert tree.geometry.bounds[2] < LON + 0.001


def test_play_areas_and_schools_are_drawn_where_no_ground_is_barred(tmp_path):
    table = GeoDataFrame({"kind": [k for k, _ in LAND]}, geometry=[g for _, g in LAND], crs=4326)
    table.to_file(tmp_path / "land.geojson", driver="GeoJSON")
    drawn = {f.kind for f in land_round(frames(), tmp_path / "land.geojson").features}
    assert drawn == {k for k, _ in LAND} - {"built-up"}


def test_a_map_that_names_nobody_thanks_nobody(found):
    assert found.credit == ""
    assert not any(line.startswith("Map:") for line in found.lines())


def test_a_plan_without_a_map_is_drawn_on_the_keepers_tables_alone():
    tables = frames() | {n: conform(empty(n), TABLES[n]) for n in ("colonies", "weather")}
    plan = pd.DataFrame({"site": []})
    placing = Placing(plan=plan, sources=empty("sources"), frames=tables)
    planned = planned_of(placing, load_evidence(), on=date(2026, 4, 2))
    assert (planned.land, planned.scores, planned.credits) == (None, None, [])
    assert planned.frames is tables


@pytest.mark.parametrize(
    ("providers", "words"),
    [
        ([], []),
        (["own station", None], []),
        (["Open-Meteo", "open-meteo archive"], ["Open-Meteo.com"]),
        (["MET Norway", "NASA POWER"], ["MET Norway", "NASA"]),
    ],
)
def test_whoever_gave_the_weather_is_thanked_once(providers, words):
    credits_ = weather_credits(pd.DataFrame({"provider": pd.Series(providers, dtype="string")}))
    assert len(credits_) == len(words)
    assert all(word in line for word, line in zip(words, credits_, strict=True))
