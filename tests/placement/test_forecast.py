"""The season's forecast: own swarms apart from others, by date, with honest ranges."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.evidence import load_evidence
from swarmwatch.placement._forecast_boxes import taken_by_day
from swarmwatch.placement._forecast_ranges import binomial_range, poisson_range
from swarmwatch.placement.forecast import assumed_sites, season_forecast
from swarmwatch.tables import INPUTS, TABLES, conform, empty, schema

EVIDENCE = load_evidence()
JANUARY = date(2026, 1, 15)
YARD = pd.DataFrame({"apiary": ["home"], "latitude": [52.0], "longitude": [5.0]})
PLANNED = pd.DataFrame({"box": ["B1"], "site": ["oak"], "lure": ["nasonov-lure"]})


def tables(colonies=3, **more):
    given = {
        "apiaries": YARD,
        "sites": pd.DataFrame({"site": ["oak"], "latitude": [52.0023], "longitude": [5.0]}),
    } | more
    if colonies:
        names = [f"c{i}" for i in range(colonies)]
        bees = pd.DataFrame({"colony": names, "apiary": "home", "hive_type": "top-bar"})
        given.setdefault("colonies", bees)
    return {t.name: conform(given[t.name], t) if t.name in given else empty(t) for t in INPUTS}


def forecast(*, on=JANUARY, planned=PLANNED, scores=None, evidence=EVIDENCE, **more):
    return season_forecast(tables(**more), on=on, planned=planned, scores=scores, evidence=evidence)


@pytest.fixture(scope="module")
def january():
    return forecast()


def test_the_answer_is_the_table_of_the_contract(january):
    schema(TABLES["forecast"]).validate(january)


def test_own_and_other_catches_add_up(january):
    np.testing.assert_allclose(
        (january["catches_own"] + january["catches_other"]).astype(float),
        january["catches"].astype(float),
        rtol=1e-9,
    )


def test_nothing_falls_as_the_season_goes_on(january):
    numbers = january.drop(columns="on").astype(float)
    assert (numbers.diff().dropna() >= -1e-9).all().all()


def test_the_range_holds_the_expected_catches(january):
    assert (january["catches_low"] <= january["catches"]).all()
    assert (january["catches"] <= january["catches_high"]).all()


def test_boxes_are_out_weeks_before_the_peak_and_down_weeks_after(january):
    facts = january.attrs
    assert facts["put_out_on"] < "2026-05-15" < facts["peak_on"] < facts["take_down_on"]
    assert january["on"].iloc[-1] == pd.Timestamp(facts["take_down_on"])


def test_own_swarms_of_the_season_are_the_yearly_chance_and_what_follows(january):
    """0.30 a colony and 1 + 0.70 (1 + 0.60) swarms each: the judged and remembered chances."""
    expected = 3 * 0.30 * (1 + 0.70 * 1.60)
    np.testing.assert_allclose(january["swarms_own"].iloc[-1], expected, rtol=0.02)


def test_a_keeper_without_bees_catches_only_others_swarms():
    last = forecast(colonies=0).iloc[-1]
    assert last["catches_own"] == 0
    assert last["catches_other"] > 0
    assert last["swarms_own"] == 0


def test_without_a_box_nothing_is_caught_and_own_swarms_are_told():
    last = forecast(planned=None).iloc[-1]
    assert last["catches"] == 0
    assert last["p_one_or_more"] == 0
    assert last["hives_to_have_ready"] == 0
    assert last["swarms_own"] > 1


def test_more_colonies_near_the_box_raise_own_catches():
    assert forecast(colonies=9).iloc[-1]["catches_own"] > forecast().iloc[-1]["catches_own"]


def test_the_order_of_rows_is_no_matter():
    frames = tables(colonies=4)
    turned = frames | {"colonies": frames["colonies"].iloc[::-1].reset_index(drop=True)}
    one, other = (
        season_forecast(f, on=JANUARY, planned=PLANNED, evidence=EVIDENCE) for f in (frames, turned)
    )
    pd.testing.assert_frame_equal(one, other, rtol=1e-9)


def test_fewer_are_alive_in_autumn_than_were_caught(january):
    last = january.iloc[-1]
    assert 0.5 * last["catches"] < last["alive_in_autumn"] < last["catches"]
    assert january.attrs["alive_in_spring_wild"] < january.attrs["alive_in_spring_kept"]
    assert january.attrs["alive_in_spring_kept"] < last["alive_in_autumn"]


def test_a_noted_catch_counts_as_known():
    caught = pd.DataFrame(
        [{"box": "B1", "site": "oak", "caught_on": "2026-05-25", "from_colony": "c0"}]
    )
    hung = pd.DataFrame([{"box": "B1", "site": "oak", "hung_on": "2026-05-01"}])
    found = forecast(on=date(2026, 6, 1), planned=None, hangings=hung, catches=caught)
    first = found.iloc[0]
    assert (first["catches"], first["catches_own"], first["p_one_or_more"]) == (1, 1, 1)
    assert first["hives_to_have_ready"] == 1  # it still sits in the box


def test_a_tenant_that_stays_takes_a_box_out_of_the_reckoning():
    hung = pd.DataFrame([{"box": "B1", "site": "oak", "hung_on": "2026-05-01"}])
    seen = pd.DataFrame([{"box": "B1", "date": "2026-05-20", "tenant": "bird"}])
    found = forecast(on=date(2026, 6, 1), planned=None, hangings=hung, checks=seen)
    assert found.iloc[-1]["catches"] == 0


def test_a_colony_that_swarmed_sends_no_second_prime_swarm():
    swarmed = pd.DataFrame({"colony": ["c0"], "date": ["2026-05-01"], "event": ["swarmed"]})
    found = forecast(colonies=1, on=date(2026, 6, 1), events=swarmed)
    assert found.iloc[-1]["swarms_own"] == pytest.approx(1.0, abs=0.01)


def test_a_score_of_the_evening_goes_before_the_yearly_chance():
    def total(p):
        row = {"colony": "c0", "apiary": "home", "on": "2026-06-01", "p_7d": p, "p_14d": p}
        scores = pd.DataFrame([row])
        return forecast(colonies=1, on=date(2026, 6, 1), scores=scores).iloc[-1]["swarms_own"]

    assert total(0.9) > 1.5
    assert total(0.0) < 1.0


def test_after_the_season_it_speaks_of_the_next():
    found = forecast(on=date(2026, 11, 25))
    assert found.attrs["season"] == 2027
    assert found["on"].iloc[0] > pd.Timestamp("2027-01-01")


def test_the_south_has_its_season_at_the_turn_of_the_year():
    yard = YARD.assign(latitude=-37.8, longitude=145.0)
    site = pd.DataFrame({"site": ["oak"], "latitude": [-37.802], "longitude": [145.0]})
    found = forecast(on=date(2026, 7, 1), apiaries=yard, sites=site)
    assert found["on"].iloc[0] > pd.Timestamp("2026-07-15")
    assert found.iloc[-1]["catches"] > 0


def test_the_same_call_gives_the_same_table(january):
    pd.testing.assert_frame_equal(january, forecast())


def test_assumed_sites_lie_round_the_yard():
    from swarmwatch.placement.dispersal import distances_m

    made = assumed_sites(YARD, 4, EVIDENCE)
    away = distances_m(
        from_latitude=[52.0],
        from_longitude=[5.0],
        to_latitude=made["latitude"].to_numpy(dtype=float),
        to_longitude=made["longitude"].to_numpy(dtype=float),
    )
    np.testing.assert_allclose(away, EVIDENCE.value("boxes.assumed_distance_m"), rtol=0.01)


@settings(max_examples=50, deadline=None)
@given(
    own=st.lists(st.floats(0, 2), min_size=5, max_size=5),
    other=st.lists(st.floats(0, 2), min_size=5, max_size=5),
    full_d=st.integers(1, 4),
)
def test_a_full_box_takes_no_second_swarm(own, other, full_d):
    mine, theirs = taken_by_day(
        np.array(own).reshape(1, 1, 5), np.array(other).reshape(1, 1, 5), full_d=full_d
    )
    total = (mine + theirs)[0]
    assert total[-1] <= 1 + (5 - 1) / (full_d + 1) + 1e-9
    assert total[-1] <= sum(own) + sum(other) + 1e-9
    assert (np.diff(total) >= -1e-12).all()


def test_a_rare_swarm_finds_the_box_free():
    mine, theirs = taken_by_day(np.full((1, 1, 9), 1e-5), np.full((1, 1, 9), 2e-5), full_d=7)
    np.testing.assert_allclose([mine[0, -1], theirs[0, -1]], [9e-5, 18e-5], rtol=1e-3)


def test_no_count_has_the_range_nought_to_nought():
    low, high = poisson_range(np.zeros((10, 2)))
    assert low.tolist() == high.tolist() == [0, 0]


def test_a_certain_count_of_survivors_has_no_range():
    assert binomial_range(4, np.ones(3)) == (4, 4)
