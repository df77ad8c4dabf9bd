"""The box plan: what it promises, what it refuses, and what it tells the keeper."""

import json

import geopandas
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from swarmwatch import plan_boxes
from swarmwatch.errors import PlanInfeasible, RecordsError, UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.tables import TABLES, schema

EVIDENCE = load_evidence()
NORTH, EAST = 52.0, 5.0  # an invented village
M_PER_DEGREE = 111_195


def at(north_m, east_m):
    """A place so many metres from the village's middle."""
    return {
        "latitude": NORTH + north_m / M_PER_DEGREE,
        "longitude": EAST + east_m / (M_PER_DEGREE * np.cos(np.radians(NORTH))),
    }


def sites_at(*places, **columns):
    rows = [{"site": f"s{i}", "permission": "yes", **at(*p)} for i, p in enumerate(places)]
    return pd.DataFrame(rows).assign(**columns)


SOURCES = pd.DataFrame(
    [
        {"source": "home", **at(0, 0), "swarms_expected": 2.0, "swarms_low": 1, "swarms_high": 3},
        {"source": "mill", **at(1500, 0), "swarms_expected": 1.0},
    ]
)
PLACES = [(250, 0), (300, 100), (0, -300), (1250, 50), (3000, 3000), (40, 0), (-700, 200)]
SITES = sites_at(*PLACES)
APIARIES = pd.DataFrame([{"apiary": "home", **at(0, 0), "used_comb_allowed": "yes"}])


def plan(sites=SITES, sources=SOURCES, **more):
    return plan_boxes(sources, sites, **({"boxes": 3} | more))


def test_a_plan_is_a_table_of_plans():
    schema(TABLES["plan"]).validate(plan())


def test_a_plan_has_as_many_places_as_boxes_ranked_from_1():
    assert plan(boxes=4)["rank"].tolist() == [1, 2, 3, 4]


def test_the_set_is_proved_best_here():
    assert plan().attrs["proved"]


def test_each_further_box_adds_less():
    gains = plan(boxes=6)["gain"].to_numpy(dtype=float)
    assert (np.diff(gains) <= 1e-9).all()


def test_the_gains_add_up_to_all_catches():
    found = plan(boxes=5)
    np.testing.assert_allclose(found["gain"].sum(), found["catches"].sum(), rtol=1e-9, atol=0)


def test_a_site_at_the_peak_of_dispersal_beats_one_in_the_yard_and_one_far_off():
    near, peak, far = sites_at((20, 0), (240, 0), (5000, 0)).pipe(
        lambda s: [plan(s.iloc[[i]], boxes=1, background=False)["catches"][0] for i in range(3)]
    )
    assert peak > near
    assert peak > far


def test_expected_catches_are_the_stated_share():
    """One source, one box: w q k / (D + q k), written out here once more."""
    source = SOURCES.iloc[[0]]
    found = plan(sites_at((400, 0), height_m=2.0), source, boxes=1, lure="none", background=False)
    r_km = found["distance_m"][0] / 1000
    z = np.log(r_km / 1.2) / 0.9
    k = np.exp(-(z**2) / 2) / (r_km * 0.9 * np.sqrt(2 * np.pi)) / (2 * np.pi * r_km)
    q = np.exp(-(np.log(40 / 35) ** 2) / (2 * 0.45**2)) * (0.35 + 0.65 * 2 / 5)
    np.testing.assert_allclose(found["quality"], [q], rtol=1e-9, atol=0)
    np.testing.assert_allclose(found["catches"], [2 * q * k / (3 + q * k)], rtol=1e-9, atol=0)


def test_all_catches_together_never_exceed_the_swarms_sent():
    crowd = sites_at(*[(200 + 10 * i, 10 * i) for i in range(30)])
    found = plan(crowd, boxes=30, background=False)
    assert found["catches"].sum() < SOURCES["swarms_expected"].sum()


def test_the_range_holds_the_expected_catch_and_the_chance_is_one():
    found = plan(boxes=6)
    assert (found["catches_low"] <= found["catches"]).all()
    assert (found["catches"] <= found["catches_high"]).all()
    assert found["p_any"].between(0, 1).all()
    assert found.attrs["total_low"] < found.attrs["total"] < found.attrs["total_high"]


def test_a_much_better_site_has_a_bigger_chance_of_any():
    found = plan(sites_at((250, 0), (6000, 6000)), boxes=2)
    assert found["p_any"][0] > found["p_any"][1]


def test_the_chance_of_any_is_that_of_a_poisson_count_within_the_range():
    found = plan(boxes=6)
    assert (found["p_any"] < 1 - np.exp(-found["catches_high"])).all()
    assert (found["p_any"] > 1 - np.exp(-found["catches_low"])).all()


def test_the_same_seed_gives_the_same_plan():
    pd.testing.assert_frame_equal(plan(seed=3), plan(seed=3))


def test_another_seed_moves_the_range_but_not_the_places():
    a, b = plan(seed=1), plan(seed=2)
    assert a["site"].tolist() == b["site"].tolist()
    assert a["catches_high"].tolist() != b["catches_high"].tolist()


@settings(max_examples=10, deadline=None)
@given(st.permutations(range(len(PLACES))))
def test_the_order_of_the_sites_does_not_matter(order):
    turned = plan(SITES.iloc[list(order)])
    assert turned["site"].tolist() == plan()["site"].tolist()


def test_a_site_that_is_best_in_every_way_is_robust():
    lone = sites_at((250, 0), (9000, 9000))
    assert plan(lone, boxes=1, background=False)["robust"].tolist() == ["yes"]


def test_a_choice_between_near_and_far_hangs_on_the_kernel():
    """Under one kernel the near site wins, under another the far one: so neither is robust."""
    split = sites_at((60, 0), (1150, 0))
    found = plan(split, SOURCES.iloc[[0]], boxes=1, background=False)
    assert found["robust"].tolist() == ["no"]


def test_a_near_twin_does_not_make_a_choice_unsteady():
    twins = sites_at((250, 0), (255, 10), (252, 20), (9000, 9000), generated="yes")
    assert plan(twins, boxes=1, background=False)["robust"].tolist() == ["yes"]


def test_nearest_source_and_distance_are_those_on_the_ground():
    found = plan(sites_at((1250, 0)), boxes=1)
    away = distances_m(
        from_latitude=[at(1500, 0)["latitude"]],
        from_longitude=[EAST],
        to_latitude=[at(1250, 0)["latitude"]],
        to_longitude=[EAST],
    )
    assert found["nearest_source"].tolist() == ["mill"]
    np.testing.assert_allclose(found["distance_m"], away[0], rtol=1e-9, atol=0)


def test_the_reasons_name_the_yard_its_distance_and_its_swarms():
    reasons = plan(sites_at((250, 0)), boxes=1, background=False)["because"][0]
    assert "from home, 250 m away, which sends 2.0 a season" in reasons


def test_no_source_known_still_plans_for_unknown_colonies():
    found = plan(sources=SOURCES.iloc[:0], boxes=1)
    assert found["nearest_source"].isna().all()
    assert found["catches"][0] > 0


def test_no_source_and_no_background_is_infeasible():
    with pytest.raises(PlanInfeasible, match="would catch a swarm"):
        plan(sources=SOURCES.iloc[:0], background=False)


# permission, height, spacing, keep-out


def test_a_site_whose_owner_said_no_is_never_in_the_plan():
    found = plan(SITES.assign(permission=["no", *["yes"] * 6]), boxes=6)
    assert "s0" not in found["site"].tolist()
    assert found.attrs["refused"] == {"s0": "the owner said no"}


@pytest.mark.parametrize("word", ["asked", None])
def test_a_site_without_a_yes_is_ask_first(word):
    found = plan(SITES.assign(permission=word, owner="Ms Vale"))
    assert found["warnings"].str.startswith("ask first").all()
    assert found["warnings"].str.contains("before Ms Vale says yes").all()


def test_a_site_with_a_yes_is_not_ask_first():
    assert not plan()["warnings"].str.contains("ask first").any()


def test_a_high_site_is_brought_down_to_reach_and_says_so():
    found = plan(sites_at((250, 0), height_m=6.0), boxes=1)
    assert found["height_m"].tolist() == [2.5]
    assert "noted at 6 m: hang it at 2.5 m or leave this site" in found["warnings"][0]


def test_a_high_site_is_kept_when_asked_for_with_the_ladder_rule():
    found = plan(sites_at((250, 0), height_m=6.0), boxes=1, allow_high=True)
    assert found["height_m"].tolist() == [6.0]
    assert "ladder 1 out for 4 up, second person" in found["warnings"][0]


def test_a_place_of_more_than_one_swarm_says_that_a_box_holds_one():
    many = SOURCES.assign(swarms_expected=9.0, swarms_low=None, swarms_high=None)
    assert "a box holds one swarm" in plan(sources=many, boxes=1)["warnings"][0]
    assert "a box holds one swarm" not in plan(sites_at((6000, 6000)), boxes=1)["warnings"][0]


def test_every_place_warns_of_lines_and_weight():
    assert plan()["warnings"].str.contains("overhead lines first").all()
    assert plan()["warnings"].str.contains("weighs 11 kg or more").all()


def test_own_sites_close_together_are_warned_of_not_refused():
    found = plan(sites_at((250, 0), (250, 90)), boxes=2)
    assert len(found) == 2
    assert found["warnings"].str.contains("90 m from the box at s").all()


def test_generated_sites_keep_their_distance():
    rows = [(200 + 100 * i, 0) for i in range(8)]
    found = plan(sites_at(*rows, generated="yes"), boxes=5, spacing_m=250)
    north = found["latitude"].to_numpy(dtype=float) * M_PER_DEGREE
    apart = np.abs(north[:, None] - north[None])[np.triu_indices(len(north), 1)]
    assert apart.min() >= 249


def test_two_sites_on_one_spot_get_one_box():
    found = plan(sites_at((250, 0), (250, 0.2), (0, 400)), boxes=3)
    assert len(found) == 2
    assert "3 boxes asked for, 2 placed" in found.attrs["notes"][0]


LINE = LineString([list(at(n, 30).values())[::-1] for n in (-500, 2000)])


def keep_out(kind="power-line", geometry=None, buffer_m=None):
    text = json.dumps((geometry or LINE).__geo_interface__)
    return pd.DataFrame({"kind": [kind], "geometry": [text], "buffer_m": [buffer_m]})


@pytest.mark.parametrize(
    ("east_m", "buffer_m", "allowed"),
    [(38, None, False), (42, None, True), (42, 20, False), (52, 20, True)],
)
def test_the_distance_to_a_power_line_is_kept(east_m, buffer_m, allowed):
    """The line runs 30 m east; 10 m are usual: the 3.05 m of 29 CFR 1910.269 and a map's error."""
    sites = sites_at((300, east_m), (0, -2000))
    found = plan(sites, boxes=2, keep_out=keep_out(buffer_m=buffer_m))
    assert ("s0" in found["site"].tolist()) is allowed
    if not allowed:
        assert found.attrs["refused"]["s0"].startswith("power line")


def test_ground_inside_a_zone_is_refused():
    zone = Point(*list(at(250, 0).values())[::-1]).buffer(0.001)
    found = plan(sites_at((250, 0), (0, -2000)), boxes=2, keep_out=keep_out("disease-zone", zone))
    assert found.attrs["refused"] == {"s0": "inside: disease zone"}


def test_keep_out_may_be_a_geo_frame_in_another_system():
    frame = geopandas.GeoDataFrame({"kind": ["power-line"]}, geometry=[LINE], crs=4326)
    found = plan(sites_at((300, 35), (0, -2000)), boxes=2, keep_out=frame.to_crs(3857))
    assert list(found.attrs["refused"]) == ["s0"]


def test_a_geojson_feature_is_read_as_its_geometry():
    feature = json.dumps({"type": "Feature", "properties": {}, "geometry": LINE.__geo_interface__})
    frame = pd.DataFrame({"kind": ["power-line"], "geometry": [feature]})
    assert list(plan(sites_at((300, 35), (0, -999)), keep_out=frame).attrs["refused"]) == ["s0"]


@pytest.mark.parametrize(
    "geometry",
    ["not json", "{}", '{"type": "Point", "coordinates": [700000, 5700000]}', '{"type": "Blob"}'],
)
def test_a_geometry_that_cannot_be_read_is_named(geometry):
    frame = pd.DataFrame({"kind": ["path"], "geometry": [geometry]})
    with pytest.raises(RecordsError, match="keep_out row 2, geometry"):
        plan(keep_out=frame)


def test_an_unknown_kind_of_keep_out_is_named():
    with pytest.raises(RecordsError, match="'railway' is not a word"):
        plan(keep_out=keep_out("railway"))


def test_nothing_left_says_which_rule_took_how_many():
    sites = sites_at((300, 35), (200, 31), (0, -300))
    sites["permission"] = ["yes", "yes", "no"]
    with pytest.raises(PlanInfeasible) as caught:
        plan(sites, keep_out=keep_out())
    assert "No site is left of 3: 2 by keep-out (power line), 1 by permission" in str(caught.value)


def test_no_site_at_all_says_what_to_add():
    with pytest.raises(PlanInfeasible, match="Add places"):
        plan(SITES.iloc[:0])


# boxes, comb, what hangs already

BOXES = pd.DataFrame(
    {
        "box": ["tiny", "good", "combed"],
        "volume_l": [12, 38, 38],
        "old_combs": [0, 0, 2],
        "comb_source_inspected": [None, None, "yes"],
    }
)


def test_the_best_box_goes_to_the_best_place():
    assert plan(boxes=BOXES, apiaries=APIARIES)["box"].tolist() == ["combed", "good", "tiny"]


def test_a_table_of_boxes_sets_how_many_are_hung():
    assert len(plan(boxes=BOXES)) == 3


def test_fewer_described_boxes_than_asked_for_leave_the_rest_unnamed():
    found = plan(boxes=5, box_table=BOXES)
    assert found["box"].notna().tolist() == [True, True, True, False, False]


def comb_factor(boxes, apiaries):
    one, none = (
        plan(SITES, boxes=b, apiaries=apiaries, lure="none")["quality"][0]
        for b in (boxes, boxes.assign(old_combs=0))
    )
    return one / none


def test_comb_counts_where_law_and_source_say_yes():
    np.testing.assert_allclose(comb_factor(BOXES.iloc[[2]], APIARIES), 2.7, rtol=1e-9, atol=0)


@pytest.mark.parametrize(
    ("law", "inspected"), [("no", "yes"), (None, "yes"), ("yes", "no"), ("yes", None)]
)
def test_comb_does_not_count_without_both(law, inspected):
    boxes = BOXES.iloc[[2]].assign(comb_source_inspected=inspected)
    yards = APIARIES.assign(used_comb_allowed=law)
    assert comb_factor(boxes, yards) == 1
    assert "no old comb" in plan(boxes=boxes, apiaries=yards)["warnings"][0]


def test_without_yards_no_comb_is_allowed():
    assert "no old comb" in plan(boxes=BOXES.iloc[[2]])["warnings"][0]


def hangings(site, taken_on=None, box="hung"):
    return pd.DataFrame(
        {"box": [box], "site": [site], "hung_on": "2026-04-01", "taken_on": taken_on}
    )


def test_a_site_that_holds_a_box_is_not_chosen_again():
    best = plan(boxes=1)["site"][0]
    found = plan(boxes=3, existing=hangings(best))
    assert best not in found["site"].tolist()
    assert len(found) == 3


def test_a_box_that_was_taken_down_holds_nothing():
    best = plan(boxes=1)["site"][0]
    assert plan(boxes=1, existing=hangings(best, "2026-07-01"))["site"].tolist() == [best]


def test_a_hanging_box_takes_swarms_from_its_neighbours():
    alone = plan(sites_at((250, 0), (240, 50)), boxes=1, background=False)
    beside = plan(
        sites_at((250, 0), (240, 50)), boxes=1, background=False,
        existing=hangings("s1" if alone["site"][0] == "s0" else "s0"),
    )  # fmt: skip
    assert beside["site"].tolist() == alone["site"].tolist()
    assert beside["catches"][0] < alone["catches"][0]


def test_existing_boxes_may_be_sites_that_the_table_lacks():
    more = pd.DataFrame([{"site": "old ash", **at(260, 0)}])
    found = plan(existing=more)
    assert "old ash" not in found["site"].tolist()
    assert "1 box hangs already" in found.attrs["notes"][0]


def test_a_box_that_hangs_is_not_hung_twice():
    found = plan(boxes=BOXES, existing=hangings("s5", box="good"), apiaries=APIARIES)
    assert found["box"].tolist() == ["combed", "tiny"]


def test_a_box_that_hangs_in_a_keep_out_is_told_of_and_not_left_out():
    sites = sites_at((300, 35), (0, -300))
    found = plan(sites, boxes=1, existing=hangings("s0"), keep_out=keep_out())
    assert found["site"].tolist() == ["s1"]
    assert "The box at s0 hangs where none may (power line 5 m away" in found.attrs["notes"][1]


def test_a_hanging_at_an_unknown_site_is_named():
    with pytest.raises(RecordsError, match="hangings row 2, site: 's99'"):
        plan(existing=hangings("s99"))


def test_what_one_box_more_would_add_is_what_the_larger_plan_gains_by_it():
    few, more = plan(boxes=3), plan(boxes=4)
    assert set(few["site"]) < set(more["site"])
    grown = more["gain"].sum() - few["gain"].sum()
    np.testing.assert_allclose(few.attrs["further"][0], grown, rtol=1e-9)
    assert list(few.attrs["further"]) == sorted(few.attrs["further"], reverse=True)
    assert few.attrs["further"][0] <= few["gain"].min()


def test_nothing_further_is_promised_where_no_site_is_left():
    assert plan(boxes=50).attrs["further"] == ()


def test_more_boxes_than_sites_fills_every_site_and_says_so():
    found = plan(boxes=50)
    assert len(found) == len(SITES)
    assert "50 boxes asked for, 7 placed" in found.attrs["notes"][0]


# what can't be right


@pytest.mark.parametrize("boxes", [0, -1, 2.5, True, "three"])
def test_a_number_of_boxes_that_is_none_is_refused(boxes):
    with pytest.raises(UsageError, match="is not a number of boxes"):
        plan(boxes=boxes)


@pytest.mark.parametrize("spacing_m", [-1, float("nan"), float("inf")])
def test_a_spacing_that_is_no_distance_is_refused(spacing_m):
    with pytest.raises(UsageError, match="spacing_m"):
        plan(spacing_m=spacing_m)


def test_swapped_coordinates_are_named():
    turned = SITES.rename(columns={"latitude": "longitude", "longitude": "latitude"})
    with pytest.raises(RecordsError, match=r"'s0' lies .* latitude and longitude look swapped"):
        plan(turned)


def test_coordinates_in_metres_are_named():
    metres = SITES.assign(latitude=5_761_000.0, longitude=637_000.0)
    with pytest.raises(RecordsError, match="sites row 2, latitude: '5761000' is above 90"):
        plan(metres)


def test_a_site_named_twice_is_refused():
    with pytest.raises(RecordsError, match="sites row 3, site: 's0' is named twice"):
        plan(SITES.assign(site=["s0", "s0", "a", "b", "c", "d", "e"]))


def test_a_source_outside_its_own_range_is_named():
    with pytest.raises(RecordsError, match="sources row 2, swarms_expected"):
        plan(sources=SOURCES.assign(swarms_low=[2.5, None], swarms_high=[3.0, None]))


def test_no_plan_where_africanized_bees_live():
    with pytest.raises(PlanInfeasible, match="call trained, registered people"):
        plan(apiaries=APIARIES.assign(africanized_area="yes"))


def test_an_africanized_area_far_off_does_not_stop_a_plan():
    yards = pd.concat(
        [APIARIES, pd.DataFrame([{"apiary": "away", **at(60_000, 0), "africanized_area": "yes"}])]
    )
    assert len(plan(apiaries=yards)) == 3


def test_the_callers_frames_are_left_as_they_were():
    before = SITES.copy(deep=True), SOURCES.copy(deep=True)
    plan(existing=hangings("s1"), keep_out=keep_out(), apiaries=APIARIES)
    pd.testing.assert_frame_equal(SITES, before[0])
    pd.testing.assert_frame_equal(SOURCES, before[1])


def test_lure_raises_the_catch():
    none, oil, lure = (
        plan(boxes=1, lure=w)["catches"][0] for w in ("none", "lemongrass-oil", "nasonov-lure")
    )
    assert none < oil < lure
