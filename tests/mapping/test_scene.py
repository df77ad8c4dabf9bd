import pytest

from swarmwatch.mapping.scene import read_scene


def scene_of(tables, **more):
    names = ("sources", "apiaries", "sites", "scores", "keep_out", "hangings")
    given = {"plan": tables["plan"], **{name: tables[name] for name in names}} | more
    return read_scene(given.pop("plan"), **given)


def state(scene, site):
    (place,) = [p for p in scene.places if p.site == site]
    return place.state


def test_a_bait_box_that_hangs_is_shown_as_one(map_tables):
    assert state(scene_of(map_tables), "Allotment 12") == "bait box B9 hangs here"


def test_a_bait_box_that_was_taken_down_is_not_shown(map_tables):
    assert state(scene_of(map_tables), "Far field hedge") == "not chosen"


def test_a_site_that_the_plan_refused_says_why(map_tables):
    plan = map_tables["plan"].copy()
    plan.attrs["refused"] = {"Far field hedge": "path 3 m away"}
    said = state(scene_of(map_tables, plan=plan), "Far field hedge")
    assert said == "not chosen: path 3 m away"


def test_what_all_boxes_may_catch_is_said_with_its_range(map_tables):
    plan = map_tables["plan"].copy()
    plan.attrs |= {"total": 2.6, "total_low": 0.7, "total_high": 9.0, "p_any": 0.84}
    assert scene_of(map_tables, plan=plan).together == (
        "All these boxes together: 2.6 (likely 0.7 to 9.0) swarms expected a season, "
        "84 % for one or more."
    )


def test_single_ranges_are_not_added_up(map_tables):
    assert scene_of(map_tables).together == ""


def test_the_bounds_hold_every_yard_and_site(map_tables):
    (south, west), (north, east) = scene_of(map_tables).bounds
    for table in ("sites", "apiaries"):
        assert map_tables[table]["latitude"].between(south, north).all()
        assert map_tables[table]["longitude"].between(west, east).all()


def test_a_lone_place_has_ground_round_it(map_tables):
    nothing = {"plan": map_tables["plan"].head(0), "sites": None}
    scene = scene_of(map_tables, apiaries=map_tables["apiaries"].head(1), **nothing)
    (south, _), (north, _) = scene.bounds
    assert north - south == pytest.approx(0.002, abs=1e-9)
