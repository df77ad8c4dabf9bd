"""Spots from a map: where they stand, which way they face, and what they are kept from.

Places are laid out and measured by the geodesics of PROJ (pyproj's Geod, WGS 84), not by the
grid of the code.
"""

import math

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod
from shapely.geometry import LineString, MultiPoint, Point, Polygon

from swarmwatch.errors import PlanInfeasible, RecordsError, UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.placement.candidates import candidate_sites
from swarmwatch.placement.ground import ground_round
from swarmwatch.tables import TABLES, schema

EVIDENCE = load_evidence()
EARTH = Geod(ellps="WGS84")
NORTH, SOUTH = (60.17, 24.94), (-41.3, 174.8)
HOME = {"site": ["home tree"], "latitude": [NORTH[0]], "longitude": [NORTH[1]]}


def at(east_m, north_m, middle=NORTH):
    """Return (longitude, latitude) so many metres from the middle, on the ellipsoid."""
    bearing = math.degrees(math.atan2(east_m, north_m))
    lon, lat, _ = EARTH.fwd(middle[1], middle[0], bearing, math.hypot(east_m, north_m))
    return lon, lat


def point(east_m, north_m, middle=NORTH):
    return Point(at(east_m, north_m, middle))


def line(*places, middle=NORTH):
    return LineString([at(*p, middle) for p in places])


def area(*places, middle=NORTH):
    return Polygon([at(*p, middle) for p in places])


def square(east_m, north_m, side_m, middle=NORTH):
    half = side_m / 2
    corners = [(-half, -half), (half, -half), (half, half), (-half, half)]
    return area(*((east_m + e, north_m + n) for e, n in corners), middle=middle)


def land(*features):
    """Make a table of (kind, geometry) or (kind, geometry, name, facts)."""
    rows = [(*f, "", {})[:2] + ((*f[2:], "", {})[:2]) for f in features]
    return pd.DataFrame(rows, columns=["kind", "geometry", "name", "facts"])


def found(*features, radius_m=400, middle=NORTH, **more):
    ground = ground_round(*middle, radius_m, evidence=EVIDENCE)
    return candidate_sites(land(*features), ground, evidence=EVIDENCE, **more)


def sites(*features, **more):
    return found(*features, **more).sites


def apart_m(first, second):
    """Return the geodesic distance of two rows with latitude and longitude."""
    _, _, metres = EARTH.inv(first.longitude, first.latitude, second.longitude, second.latitude)
    return metres


def removed(made):
    return {rule: n for rule, n in made.report.itertuples(index=False) if n}


TREE = ("tree", point(0, 0))


def test_a_mapped_tree_is_a_spot_where_it_stands():
    (row,) = sites(TREE).itertuples()
    assert (row.latitude, row.longitude) == pytest.approx(NORTH, abs=1e-7)
    assert (row.site, row.kind, row.shade, row.generated) == ("tree 1", "tree", "part", "yes")
    assert pd.isna(row.facing_deg)


def test_nobody_has_said_yes_to_a_spot_of_a_map():
    assert sites(TREE)["permission"].isna().all()


def test_spots_are_rows_of_the_table_of_sites():
    made = sites(TREE, ("hedge", line((-90, 50), (90, 50))), ("wood", square(200, 0, 100)))
    schema(TABLES["sites"]).validate(made[list(TABLES["sites"].names)])


@pytest.mark.parametrize(
    ("length_m", "spots"), [(10, 1), (74, 1), (76, 2), (200, 4), (320, 6)]
)  # one to each 50 m or so
def test_a_row_of_trees_has_a_spot_every_50_m(length_m, spots):
    made = sites(("tree-row", line((-length_m / 2, 0), (length_m / 2, 0))))
    assert len(made) == spots


def test_the_spots_of_a_row_stand_in_the_middle_of_equal_pieces():
    made = sites(("tree-row", line((-100, 0), (100, 0)))).sort_values("longitude")
    wanted = [at(east, 0)[0] for east in (-75, -25, 25, 75)]
    assert made["longitude"].to_numpy() == pytest.approx(wanted, abs=2e-6)


def test_pieces_of_one_row_that_meet_are_one_run():
    pieces = [("tree-row", line((e, 0), (e + 20, 0))) for e in range(-100, 100, 20)]
    assert len(sites(*pieces)) == 4


# a swarm's box is hung towards the sun of its hemisphere: common practice, no source
@pytest.mark.parametrize(("middle", "facing"), [(NORTH, 180), (SOUTH, 0)])
def test_a_row_from_east_to_west_faces_the_equator(middle, facing):
    row = ("tree-row", line((-50, 0), (50, 0), middle=middle))
    assert (sites(row, middle=middle)["facing_deg"] % 360 == facing).all()


@settings(max_examples=15)
@given(st.floats(0, 179))
def test_a_row_faces_to_its_side_nearer_the_equator(run_deg):
    e, n = math.sin(math.radians(run_deg)) * 50, math.cos(math.radians(run_deg)) * 50
    (first, *_) = sites(("hedge", line((-e, -n), (e, n))))["facing_deg"]
    assert abs((first - run_deg + 90) % 180 - 90) == pytest.approx(90, abs=1.1)
    assert math.cos(math.radians(first - 180)) >= -0.02


def side(degrees):
    """Return east and north of one metre that way."""
    return math.sin(math.radians(degrees)), math.cos(math.radians(degrees))


@settings(max_examples=15)
@given(st.floats(0, 90), st.floats(30, 150), st.sampled_from(["wood", "building", "orchard"]))
def test_an_edge_or_wall_faces_outwards(turn_deg, wide_m, kind):
    corners = [side(turn_deg + 45 + 90 * k) for k in range(4)]
    block = area(*((e * wide_m, n * wide_m) for e, n in corners))
    made = sites((kind, block))
    assert len(made) >= 2
    for row in made.itertuples():
        lon, lat, _ = EARTH.fwd(row.longitude, row.latitude, row.facing_deg, 2)
        back_lon, back_lat, _ = EARTH.fwd(row.longitude, row.latitude, row.facing_deg, -2)
        assert not block.contains(Point(lon, lat))
        assert block.contains(Point(back_lon, back_lat))


@pytest.mark.parametrize("middle", [NORTH, SOUTH])
def test_the_wall_towards_the_equator_is_in_the_sun_and_the_other_in_shade(middle):
    made = sites(("building", square(0, 0, 40, middle)), middle=middle)
    towards = 180 if middle[0] > 0 else 0
    shades = {round(f) % 360: s for f, s in zip(made["facing_deg"], made["shade"], strict=True)}
    assert shades == {towards: "none", (towards + 180) % 360: "full", 90: "part", 270: "part"}


def test_a_wood_is_dark_on_the_side_towards_the_pole_alone():
    made = sites(("wood", square(0, 0, 80)))
    dark = made.loc[made["shade"] == "full", "facing_deg"]
    assert (np.minimum(dark, 360 - dark) <= 45).all()
    assert len(dark) > 0


def test_a_hedge_tells_nothing_of_shade():
    assert sites(("hedge", line((0, 0), (50, 0))))["shade"].isna().all()


def test_between_houses_or_woods_that_touch_is_no_wall_and_no_edge():
    for kind in ("building", "wood"):
        made = sites((kind, square(-20, 0, 40)), (kind, square(20, 0, 40)))
        # the seam lies at 0 m east, the walls across at 20 m north and south of it
        seam = [abs(EARTH.inv(r.longitude, NORTH[0], NORTH[1], NORTH[0])[2]) < 5
                and abs(EARTH.inv(NORTH[1], r.latitude, NORTH[1], NORTH[0])[2]) < 15
                for r in made.itertuples()]  # fmt: skip
        assert not any(seam)


def test_the_corner_of_a_shed_shorter_than_3_m_bears_no_box():
    narrow = area((0, 0), (2.5, 0), (2.5, 40), (0, 40))
    assert found(("building", narrow)).found == {"building wall": 2}


def test_a_rows_spot_snaps_onto_the_mapped_tree_beside_it():
    made = sites(("tree-row", line((-25, 0), (25, 0))), ("tree", point(3, 4)))
    assert made["site"].tolist() == ["tree 1"]


def test_no_spot_is_made_beside_a_site_of_the_keepers_own():
    own = pd.DataFrame(HOME)
    made = found(("tree", point(15, 0)), ("tree", point(60, 0)), own=own)
    assert made.sites["site"].tolist() == ["tree 1"]
    assert removed(made) == {"within 20 m of a better spot or a site of yours": 1}


def test_an_owners_no_bars_the_spot_for_good():
    own = pd.DataFrame(HOME).assign(permission="no")
    assert len(sites(TREE, own=own)) == 0


def test_two_trees_on_one_spot_are_one():
    assert len(sites(TREE, TREE, ("tree", point(0.5, 0)))) == 1


places_m = st.tuples(st.floats(-280, 280), st.floats(-280, 280))  # all within the ground
trees = st.lists(places_m, min_size=1, max_size=25)


@settings(max_examples=15)
@given(trees)
def test_spots_keep_their_distance_and_every_one_is_accounted_for(places):
    made = found(*(("tree", point(*p)) for p in places), ("hedge", line((-200, 0), (200, 90))))
    rows = list(made.sites.itertuples())
    near = [apart_m(a, b) for i, a in enumerate(rows) for b in rows[:i]]
    assert min(near, default=99) > 19.99
    assert sum(made.found.values()) == made.report["removed"].sum() + len(rows)
    assert made.found["tree"] == len(places)


@settings(max_examples=10)
@given(trees, st.randoms(use_true_random=False))
def test_the_order_of_the_features_is_no_matter(places, random):
    features = [("tree", point(*p)) for p in places] + [
        ("hedge", line((-200, 0), (200, 90))),
        ("wood", square(100, 100, 90)),
        ("wood", square(190, 100, 90)),
    ]
    first = found(*features)
    random.shuffle(features)
    second = found(*features)
    pd.testing.assert_frame_equal(first.sites, second.sites)
    assert first.summary == second.summary


# distances kept: the table of `placement.buffer_*`
@pytest.mark.parametrize(
    ("kind", "kept_m", "rule"),
    [
        ("power-line", 10, "power line, 10 m kept"),
        ("play-area", 30, "play area, 30 m kept"),
        ("school", 30, "play area, 30 m kept"),
        ("road", 20, "road, 20 m kept"),
        ("railway", 20, "road, 20 m kept"),
        ("path", 20, "path, 20 m kept"),
    ],
)
def test_a_spot_nearer_than_the_distance_kept_is_struck(kind, kept_m, rule):
    bar = (kind, line((-300, 0), (300, 0)))
    made = found(bar, ("tree", point(0, kept_m - 0.5)), ("tree", point(0, -kept_m - 0.5)))
    assert removed(made) == {rule: 1}
    (row,) = made.sites.itertuples()
    assert row.latitude < NORTH[0]


def test_a_pole_is_kept_from_as_a_line_is():
    made = found(("power-line", point(0, 0)), ("tree", point(9, 0)), ("tree", point(60, 0)))
    assert removed(made) == {"power line, 10 m kept": 1}


def test_a_spot_in_water_or_on_its_bank_is_struck_and_one_beyond_is_not():
    # judgement: 5 m of bank, room to stand
    made = found(("water", square(0, 0, 40)), TREE, ("tree", point(24, 0)), ("tree", point(26, 30)))
    assert removed(made) == {"water, 5 m kept": 2}
    assert len(made.sites) == 1


def test_what_lies_outside_the_ground_bars_what_is_inside():
    bar = ("power-line", line((-300, 105), (300, 105)))
    made = found(bar, ("tree", point(0, 98)), ("tree", point(0, -50)), radius_m=100)
    assert removed(made) == {"power line, 10 m kept": 1}


def test_a_school_mapped_as_a_point_is_as_wide_as_its_building():
    house = ("building", area((-60, -10), (60, -10), (60, 10), (-60, 10)))
    made = found(house, ("school", point(-50, 0)), ("tree", point(85, 0)), ("tree", point(120, 0)))
    (row,) = made.sites[made.sites["kind"] == "tree"].itertuples()
    assert (row.longitude, row.latitude) == pytest.approx(at(120, 0), abs=1e-6)


def test_a_spot_that_two_rules_bar_counts_for_the_graver():
    bars = [(k, line((-50, 0), (50, 0))) for k in ("path", "power-line", "road")]
    made = found(*bars, TREE, ("tree", point(0, 90)))
    assert removed(made) == {"power line, 10 m kept": 1}


def own_keep_out(kind, geometry, buffer_m=None):
    return pd.DataFrame({"kind": [kind], "geometry": [geometry], "buffer_m": [buffer_m]})


@pytest.mark.parametrize("kind", ["disease-zone", "no-permission"])
def test_ground_that_the_keeper_barred_has_no_spot(kind):
    barred = own_keep_out(kind, square(0, 0, 40))
    made = found(TREE, ("tree", point(60, 0)), keep_out=barred)
    assert removed(made) == {kind.replace("-", " "): 1}


def test_a_width_of_the_keepers_own_counts():
    barred = own_keep_out("path", point(0, 0), 70.0)
    made = found(TREE, ("tree", point(60, 0)), ("tree", point(80, 0)), keep_out=barred)
    assert removed(made) == {"path, 70 m kept": 2}


def test_keep_out_that_cannot_be_read_is_refused():
    with pytest.raises(RecordsError, match="not a GeoJSON geometry"):
        found(TREE, keep_out=own_keep_out("path", "over there"))


def test_the_keepers_keep_out_stands_first_and_the_maps_after_it():
    barred = own_keep_out("disease-zone", square(90, 0, 40))
    made = found(TREE, ("path", line((-50, 90), (50, 90))), keep_out=barred)
    assert made.keep_out["kind"].tolist() == ["disease-zone", "path"]
    assert shapely.from_geojson(made.keep_out["geometry"].iloc[1]).geom_type == "LineString"


@settings(max_examples=15)
@given(trees, st.lists(places_m, min_size=2, max_size=5))
def test_no_spot_is_left_near_a_power_line(places, corners):
    wire = line(*corners)
    features = [("tree", point(*p)) for p in places]
    try:
        made = found(("power-line", wire), *features)
    except PlanInfeasible as error:
        assert "power line" in str(error)  # noqa: PT017 - either is right
        return
    # the wire in steps: what is nearer than 10 m to it is nearer than 10.2 m to one of them
    steps = [wire.interpolate(s, normalized=True) for s in np.linspace(0, 1, 900)]
    lon, lat = np.array([p.x for p in steps]), np.array([p.y for p in steps])
    for row in made.sites.itertuples():
        here = np.full(len(lon), row.longitude), np.full(len(lon), row.latitude)
        assert EARTH.inv(*here, lon, lat)[2].min() > 9.99


def test_too_many_spots_are_thinned_and_told():
    few = EVIDENCE.with_values({"candidates.most": 10})
    grid = [("tree", point(e, n)) for e in range(-120, 121, 30) for n in range(-120, 121, 30)]
    ground = ground_round(*NORTH, 400, evidence=few)
    made = candidate_sites(land(*grid), ground, evidence=few)
    assert 0 < len(made.sites) <= 10
    assert "more than 10 spots, so those within" in made.summary
    assert sum(made.found.values()) == made.report["removed"].sum() + len(made.sites)


def test_what_the_map_does_not_show_is_not_mapped():
    made = found(TREE, ("road", line((-300, 90), (300, 90))))
    assert {"power-line", "path", "school", "water"} <= set(made.not_mapped)
    assert "tree" not in made.not_mapped


def test_a_line_mapped_far_from_the_ground_is_not_mapped_near_it():
    made = found(TREE, ("power-line", line((3000, 0), (3000, 90))))
    assert "power-line" in made.not_mapped


def test_the_summary_says_which_rule_removed_how_many():
    made = found(("path", line((-300, 0), (300, 0))), TREE, ("tree", point(0, 90)))
    assert made.summary == (
        "The map shows 2 spots within the ground (2 on trees); removed: path, 20 m kept: 1; "
        "1 is left."
    )


def test_no_candidate_left_says_which_rule_removed_how_many():
    bars = [("path", line((-300, 0), (300, 0))), ("power-line", line((0, 85), (50, 85)))]
    with pytest.raises(PlanInfeasible) as caught:
        found(*bars, TREE, ("tree", point(5, 15)), ("tree", point(20, 90)))
    said = str(caught.value)
    assert "removed: power line, 10 m kept: 1; path, 20 m kept: 2; 0 are left" in said
    assert "never go nearer to a power line" in said


def test_a_map_of_bare_ground_says_so():
    with pytest.raises(PlanInfeasible, match="shows nothing to hang a box on within the ground"):
        found(("field", square(0, 0, 300)))


def test_a_keeper_with_sites_of_his_own_is_served_without_any_spot():
    made = found(("field", square(0, 0, 300)), own=pd.DataFrame(HOME))
    assert len(made.sites) == 0
    assert made.summary == "The map shows nothing to hang a box on within the ground."


def test_land_in_another_system_is_turned():
    frame = geopandas.GeoDataFrame({"kind": ["tree"]}, geometry=[point(0, 0)], crs=4326)
    ground = ground_round(*NORTH, 400, evidence=EVIDENCE)
    made = candidate_sites(frame.to_crs(3067), ground, evidence=EVIDENCE)
    assert made.sites["latitude"].tolist() == pytest.approx([NORTH[0]], abs=1e-6)


def test_land_without_a_coordinate_system_is_refused():
    frame = geopandas.GeoDataFrame({"kind": ["tree"]}, geometry=[Point(385_000, 6_672_000)])
    with pytest.raises(UsageError, match="no coordinate system"):
        candidate_sites(frame, ground_round(*NORTH, 400, evidence=EVIDENCE))


def test_land_in_metres_is_refused():
    with pytest.raises(UsageError, match=r"385000, 6672000 .* looks like metres"):
        found(("tree", Point(385_000, 6_672_000)))


@pytest.mark.parametrize("column", ["kind", "geometry"])
def test_land_without_kind_or_geometry_is_refused(column):
    ground = ground_round(*NORTH, 400, evidence=EVIDENCE)
    with pytest.raises(UsageError, match=f"no column {column}"):
        candidate_sites(land(TREE).drop(columns=column), ground)


def test_a_wood_that_crosses_itself_is_read_and_things_without_shape_are_passed_by():
    bow = area((-40, -40), (40, 40), (40, -40), (-40, 40))
    made = found(("wood", bow), ("tree", None), ("tree", Point()))
    assert set(made.found) == {"wood edge"}
    assert made.sites["facing_deg"].notna().all()


def test_a_grove_mapped_as_one_has_its_spot_in_the_middle():
    (row,) = sites(("tree", MultiPoint([at(-10, 0), at(10, 0)]))).itertuples()
    assert (row.latitude, row.longitude) == pytest.approx(NORTH, abs=1e-6)


def test_a_spot_tells_what_stands_there_by_the_maps_own_tags():
    street = {"addr:street": "Mill Lane", "addr:housenumber": "4"}
    made = sites(
        ("tree", point(0, 100), "", {"species": "Tilia cordata"}),
        ("tree", point(0, -100), "Old lime", {}),
        ("building", square(100, 0, 10), "Barn", street),
        ("hedge", line((-100, 0), (-60, 0))),
    )
    assert set(made["note"]) == {
        "from a map: tree (Tilia cordata)",
        "from a map: tree (Old lime)",
        "from a map: building wall of Barn, Mill Lane 4",
        "from a map: hedge, beside it, on a stand or post",
    }
    assert "building wall 1, Mill Lane 4" in set(made["site"])


def test_names_pass_those_in_use_and_are_never_twice():
    own = pd.DataFrame(HOME).assign(site="tree 2")
    made = sites(*(("tree", point(e, 0)) for e in (60, 120, 180)), own=own)
    assert sorted(made["site"]) == ["tree 1", "tree 3", "tree 4"]


def test_a_ground_in_pieces_has_spots_in_each_and_none_between():
    ground = ground_round([NORTH[0]] * 2, [at(-200, 0)[0], at(200, 0)[0]], 60, evidence=EVIDENCE)
    row = ("tree-row", line((-300, 0), (300, 0)))
    made = candidate_sites(land(row), ground, evidence=EVIDENCE).sites
    home = pd.Series({"longitude": NORTH[1], "latitude": NORTH[0]})
    away_m = np.array([apart_m(row, home) for row in made.itertuples()])
    assert len(made) == 4
    assert (np.abs(away_m - 200) <= 60).all()
