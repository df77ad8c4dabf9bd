from datetime import date

import numpy as np
import pandas as pd
import pytest

from swarmwatch import season_swarms
from swarmwatch.errors import RecordsError
from swarmwatch.evidence import load_evidence
from swarmwatch.placement.sources import background_entry, background_sources, colony_swarms
from swarmwatch.tables import TABLES, schema

EVIDENCE = load_evidence()
ON = date(2026, 4, 1)
APIARIES = pd.DataFrame(
    {"apiary": ["home", "mill", "bare"], "latitude": [52.0, 52.01, 52.1], "longitude": [5.0] * 3}
)
# the prime swarm and the afterswarms that follow it: 1 + 0.70 (1 + 0.60)
EACH = 1 + 0.70 * 1.60


def colonies(**columns):
    n = len(next(iter(columns.values())))
    base = {"colony": [f"c{i}" for i in range(n)], "apiary": "home", "hive_type": "top-bar"}
    return pd.DataFrame(base | columns)


def swarms(frame, **more):
    return season_swarms(frame, APIARIES, on=ON, **more)["swarms_expected"].sum()


def test_an_inspected_colony_sends_its_yearly_chance_times_what_follows_a_swarm():
    np.testing.assert_allclose(swarms(colonies(colony=["a"])), 0.30 * EACH, rtol=1e-9, atol=0)


def test_unmanaged_colonies_send_the_swarms_that_the_published_chances_give():
    """P(prime) 0.87 (Seeley 2017), first 0.70, second 0.60 (from memory): 1.84 swarms."""
    seen = pd.DataFrame({"colony": ["other"], "date": ["2025-07-01"]})
    expected = swarms(colonies(colony=["a"]), inspections=seen)
    np.testing.assert_allclose(expected, 1.84, rtol=0.003, atol=0)


def test_an_inspection_of_two_years_ago_does_not_make_a_colony_inspected():
    old = pd.DataFrame({"colony": ["a", "b"], "date": ["2024-03-01", "2025-08-01"]})
    new = pd.DataFrame({"colony": ["a", "b"], "date": ["2025-08-01", "2025-08-01"]})
    frame = colonies(colony=["a"])
    assert swarms(frame, inspections=old) > 2 * swarms(frame, inspections=new)


def test_the_first_weeks_of_new_records_make_no_colony_unmanaged():
    begun = pd.DataFrame({"colony": ["b"], "date": ["2026-03-20"]})
    frame = colonies(colony=["a", "b"])
    assert swarms(frame, inspections=begun) == swarms(frame)


def test_a_colony_that_has_just_come_is_not_unmanaged():
    seen = pd.DataFrame({"colony": ["b"], "date": ["2025-08-01"]})
    frame = colonies(colony=["a", "b"], started=["2026-03-20", "2024-05-01"])
    assert swarms(frame, inspections=seen) == swarms(frame)


def test_empty_inspections_leave_the_keeper_an_inspecting_one():
    none = pd.DataFrame({"colony": [], "date": []})
    frame = colonies(colony=["a"])
    assert swarms(frame, inspections=none) == swarms(frame)


def test_an_older_queen_swarms_more_and_one_of_this_year_hardly():
    this, last, before, old = (swarms(colonies(queen_year=[y])) for y in (2026, 2025, 2024, 2020))
    assert this < last < before < old
    assert this < 0.2 * before


def test_a_queen_of_unknown_age_lies_between_a_young_and_an_old_one():
    last, unknown, before = (swarms(colonies(queen_year=[y])) for y in (2025, None, 2024))
    assert last < unknown < before


def test_stock_that_swarmed_last_year_swarms_more():
    yes, no = (swarms(colonies(swarmed_last_year=[w])) for w in ("yes", "no"))
    assert yes > no


def test_a_swarm_hived_this_season_hardly_swarms_again():
    new = swarms(colonies(origin=["swarm"], started=["2026-03-20"]))
    kept = swarms(colonies(origin=["swarm"], started=["2024-06-01"]))
    assert new < 0.2 * kept


def test_yards_add_up_their_colonies_and_empty_yards_are_left_out():
    found = season_swarms(colonies(apiary=["home", "home", "mill"]), APIARIES, on=ON)
    assert found["source"].tolist() == ["home", "mill"]
    np.testing.assert_allclose(
        found["swarms_expected"].to_numpy(dtype=float), [0.6 * EACH, 0.3 * EACH], rtol=1e-9
    )


def test_the_range_holds_the_expected_number():
    found = season_swarms(colonies(queen_year=[2026, 2025, 2022, None]), APIARIES, on=ON)
    assert (found["swarms_low"] < found["swarms_expected"]).all()
    assert (found["swarms_expected"] < found["swarms_high"]).all()


def test_the_answer_is_a_table_of_sources():
    schema(TABLES["sources"]).validate(season_swarms(colonies(colony=["a"]), APIARIES, on=ON))


def test_no_colony_gives_no_source():
    assert season_swarms(colonies(colony=[]), APIARIES, on=ON).empty


def test_a_yard_that_is_not_named_is_refused_by_row():
    with pytest.raises(RecordsError, match="colonies row 3, apiary: 'hom' is not a yard"):
        season_swarms(colonies(apiary=["home", "hom"]), APIARIES, on=ON)


@pytest.mark.parametrize(
    ("event", "day", "sends"),
    [("died", "2026-02-01", False), ("united", "2026-02-01", False), ("died", "2026-05-01", True),
     ("moved", "2026-02-01", True)],
)  # fmt: skip
def test_a_colony_that_is_no_more_sends_nothing(event, day, sends):
    events = pd.DataFrame({"colony": ["a"], "date": [day], "event": [event]})
    assert bool(swarms(colonies(colony=["a"]), events=events) > 0) is sends


def test_a_keepers_own_chance_changes_the_number():
    own = EVIDENCE.with_values({"season.yearly_chance_inspected": 0.6})
    np.testing.assert_allclose(
        swarms(colonies(colony=["a"]), evidence=own), 0.6 * EACH, rtol=1e-9, atol=0
    )


def test_odds_learned_from_own_colonies_move_theirs_and_not_a_neighbours():
    own = EVIDENCE.with_values({"calibration.odds": 2.0})
    # hazards multiply: 1 - 0.7 x 0.7
    np.testing.assert_allclose(
        swarms(colonies(colony=["a"]), evidence=own), 0.51 * EACH, rtol=1e-9, atol=0
    )
    yard = pd.DataFrame({"source": ["N"], "latitude": [52.0], "longitude": [5.0], "colonies": [1]})
    before, after = (
        season_swarms(colonies(colony=["a"]).head(0), APIARIES, on=ON, neighbours=yard, evidence=e)[
            "swarms_expected"
        ].sum()
        for e in (EVIDENCE, own)
    )
    assert before == after > 0


def test_unknown_colonies_fill_the_reach_evenly():
    grid = background_sources([52.0], [5.0], EVIDENCE)
    reach_km = EVIDENCE.value("placement.background_reach_m") / 1000
    expected = EVIDENCE.value("placement.background_swarms") * np.pi * reach_km**2
    np.testing.assert_allclose(grid["swarms_expected"].sum(), expected, rtol=0.03, atol=0)


def test_two_sites_side_by_side_do_not_double_the_unknown_colonies():
    one = background_sources([52.0], [5.0], EVIDENCE)
    two = background_sources([52.0, 52.001], [5.0, 5.001], EVIDENCE)
    assert len(two) < 1.1 * len(one)


def test_unknown_colonies_near_a_pole_do_not_run_away():
    assert 0 < len(background_sources([84.0], [5.0], EVIDENCE)) < 20_000


@pytest.mark.parametrize(
    ("place", "key"),
    [
        ((52.0, 5.0), "placement.background_swarms"),
        ((42.4, -76.5), "boxes.unknown_swarms_north_america"),
        ((19.4, -99.1), "boxes.unknown_swarms_latin_america"),
        ((-37.8, 145.0), "boxes.unknown_swarms_oceania"),
        ((-1.3, 36.8), "boxes.unknown_swarms_africa"),
        ((13.8, 100.5), "boxes.unknown_swarms_asia"),
        ((0.0, -150.0), "placement.background_swarms"),
    ],
)
def test_unknown_colonies_have_the_density_of_their_region_and_its_range(place, key):
    entry = background_entry(*place, EVIDENCE)
    assert entry == EVIDENCE[key]
    assert entry.low < entry.value < entry.high


def test_the_grid_takes_the_density_of_its_region():
    europe, america = (background_sources([42.4], [lon], EVIDENCE) for lon in (12.0, -76.5))
    assert america["swarms_expected"].iloc[0] > europe["swarms_expected"].iloc[0]


def test_a_keepers_own_density_goes_before_the_regions():
    own = EVIDENCE.with_values({"placement.background_swarms": 0.1})
    assert background_entry(42.4, -76.5, own).value == 0.1


def test_a_neighbours_yard_counts_by_its_colonies():
    yard = pd.DataFrame(
        {"source": ["Next door"], "latitude": [52.0], "longitude": [5.01], "colonies": [4]}
    )
    found = season_swarms(colonies(colony=["a"]), APIARIES, on=ON, neighbours=yard)
    assert found["source"].tolist() == ["home", "Next door"]
    np.testing.assert_allclose(found["swarms_expected"].iloc[1], 4 * 0.30 * EACH, rtol=1e-9)
    assert found["swarms_low"].iloc[1] < found["swarms_expected"].iloc[1]


def test_a_neighbours_yard_without_a_number_of_colonies_is_refused():
    yard = pd.DataFrame({"source": ["Next door"], "latitude": [52.0], "longitude": [5.01]})
    with pytest.raises(RecordsError, match="neighbours, colonies: this column is required"):
        season_swarms(colonies(colony=["a"]), APIARIES, on=ON, neighbours=yard)


def test_the_swarms_of_a_yard_are_those_of_its_colonies():
    frame = colonies(queen_year=[2026, 2024, None])
    each = colony_swarms(frame, APIARIES, on=ON)
    assert each["colony"].tolist() == ["c0", "c1", "c2"]
    np.testing.assert_allclose(each["swarms_expected"].sum(), swarms(frame), rtol=1e-9)
