import numpy as np
import pandas as pd
import pytest

from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.placement.site_quality import (
    box_quality,
    capped,
    direction_score,
    entrance_score,
    hanging_heights_m,
    height_score,
    history_score,
    lure_factor,
    place_quality,
    reference_box_quality,
    site_attraction,
    volume_score,
)
from swarmwatch.tables import TABLES, conform

EVIDENCE = load_evidence()


def sites(**columns):
    n = len(next(iter(columns.values())))
    base = {"site": [f"s{i}" for i in range(n)], "latitude": [51.0] * n, "longitude": [0.0] * n}
    return conform(pd.DataFrame(base | columns), TABLES["sites"])


def test_no_volume_is_scored_above_1_or_below_0():
    scores = volume_score(np.geomspace(1e-3, 1e4, 200), EVIDENCE)
    assert scores.min() >= 0
    assert scores.max() <= 1


def test_entrances_between_7_and_20_cm2_are_all_best():
    np.testing.assert_allclose(entrance_score([7, 12.5, 20], EVIDENCE), 1, rtol=1e-12, atol=0)


def test_a_wider_entrance_is_never_better():
    wide = entrance_score(np.linspace(20, 300, 100), EVIDENCE)
    assert (np.diff(wide) <= 0).all()


def test_height_helps_up_to_5_m_and_no_farther():
    scores = height_score([1, 2.5, 5, 12], EVIDENCE)
    assert scores[0] < scores[1] < scores[2] == scores[3] == 1


@pytest.mark.parametrize(("latitude", "towards_equator"), [(51.0, 180.0), (-35.0, 0.0)])
def test_the_equator_side_is_best_in_either_hemisphere(latitude, towards_equator):
    facing = [towards_equator, 90.0, (towards_equator + 180) % 360]
    best, side, worst = direction_score(facing, latitude, EVIDENCE)
    assert best > side > worst


@pytest.mark.parametrize("facing", [0.0, 90.0, 180.0, np.nan])
def test_direction_does_not_matter_in_a_hot_climate(facing):
    assert direction_score(facing, 10.0, EVIDENCE) == 1


def test_an_unknown_direction_is_neither_good_nor_bad():
    assert direction_score(np.nan, 51.0, EVIDENCE) == 1


def test_355_degrees_are_as_northerly_as_5():
    a, b = direction_score([355.0, 5.0], 51.0, EVIDENCE)
    assert a == b


def test_catches_raise_a_site_and_empty_seasons_lower_it():
    caught, none, unknown = history_score([3, 0, np.nan], [2, 4, np.nan], EVIDENCE)
    assert caught > unknown > none
    assert unknown == 1


def test_a_long_record_draws_the_score_to_the_sites_own_rate():
    own = history_score([400], [400], EVIDENCE)[0] * EVIDENCE.value("site.history_mean")
    np.testing.assert_allclose(own, 1, rtol=0.01, atol=0)


def test_seasons_without_noted_catches_say_nothing():
    assert history_score([np.nan], [5], EVIDENCE) == 1


def test_lure_and_comb_and_history_are_capped_together():
    comb, lure = EVIDENCE.value("site.old_comb"), lure_factor("nasonov-lure", EVIDENCE)
    assert lure * comb > 10
    assert capped(lure * comb, EVIDENCE) == 10


@pytest.mark.parametrize("word", ["none", "other"])
def test_no_lure_or_an_untried_one_adds_nothing(word):
    assert lure_factor(word, EVIDENCE) == 1


def test_an_unknown_lure_is_named():
    with pytest.raises(UsageError, match="'honey' is not known"):
        lure_factor("honey", EVIDENCE)


def test_a_box_of_which_nothing_is_noted_counts_as_the_reference_box():
    boxes = conform(pd.DataFrame({"box": ["A"]}), TABLES["boxes"])
    np.testing.assert_allclose(
        box_quality(boxes, EVIDENCE), reference_box_quality(EVIDENCE), rtol=1e-12, atol=0
    )


def test_a_top_entrance_is_worse_than_a_bottom_one():
    boxes = pd.DataFrame({"box": ["A", "B", "C"], "entrance_place": ["bottom", "middle", "top"]})
    bottom, middle, top = box_quality(conform(boxes, TABLES["boxes"]), EVIDENCE)
    assert bottom > middle > top


def test_heights_above_3_m_come_down_to_reach_unless_asked_for():
    table = sites(height_m=[None, 1.5, 2.8, 3.5, 12.0])
    low = hanging_heights_m(table, EVIDENCE, allow_high=False)
    high = hanging_heights_m(table, EVIDENCE, allow_high=True)
    np.testing.assert_array_equal(low, [2.5, 1.5, 2.8, 2.5, 2.5])
    np.testing.assert_array_equal(high, [2.5, 1.5, 2.8, 3.5, 12.0])


def test_full_sun_counts_against_a_site_in_a_hot_climate_only():
    table = sites(shade=["none", "full"])
    table["latitude"] = [10.0, 10.0]
    hot = place_quality(table, np.full(2, 2.5), EVIDENCE)
    table["latitude"] = [51.0, 51.0]
    mild = place_quality(table, np.full(2, 2.5), EVIDENCE)
    assert hot[0] < hot[1]
    assert mild[0] == mild[1]


def test_land_counts_where_it_is_given():
    table = sites(height_m=[2.0, 2.0, 2.0])
    table["land"] = ["wood", "farm", None]
    wood, farm, unknown = site_attraction(table, EVIDENCE)
    assert wood > unknown > farm
