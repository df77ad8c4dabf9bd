"""From hanging to the new colony: states, moves, tenants, brood checks."""

from datetime import date

import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.placement.box_life import (
    box_season,
    box_states,
    caught_colonies,
    hung_boxes,
    moving_steps,
    near_by_steps,
)
from swarmwatch.tables import INPUTS, TABLES, conform, empty

EVIDENCE = load_evidence()
ON = date(2026, 6, 10)
YARD = pd.DataFrame({"apiary": ["home"], "latitude": [52.0], "longitude": [5.0]})
HUNG = pd.DataFrame([{"box": "B1", "site": "oak", "hung_on": "2026-05-01"}])


def state(*checks, catches=None, hangings=HUNG, on=ON):
    rows = pd.DataFrame([{"box": "B1"} | c for c in checks]) if checks else empty(TABLES["checks"])
    return box_states(rows, hangings=hangings, catches=catches, on=on, evidence=EVIDENCE)[0]


def catch(**cells):
    return pd.DataFrame([{"box": "B1", "site": "oak", "caught_on": "2026-06-05"} | cells])


def tables(**more):
    given = {
        "apiaries": YARD,
        "colonies": pd.DataFrame({"colony": ["a"], "apiary": "home", "hive_type": "top-bar"}),
        "sites": pd.DataFrame({"site": ["oak"], "latitude": [52.002], "longitude": [5.0]}),
        "boxes": pd.DataFrame({"box": ["B1"]}),
        "hangings": HUNG,
    } | more
    return {t.name: conform(given[t.name], t) if t.name in given else empty(t) for t in INPUTS}


def row(**more):
    return hung_boxes(tables(**more), on=ON, evidence=EVIDENCE).iloc[0]


def checks(**cells):
    return pd.DataFrame([{"box": "B1", "date": "2026-06-09"} | cells])


def test_a_box_that_nobody_looked_at_is_not_called_empty():
    assert state().state == "not looked"


@pytest.mark.parametrize(
    ("seen", "word"),
    [
        ({"scouts": 0}, "empty"),
        ({"occupied": "no"}, "empty"),
        ({"scouts": 3}, "scouted"),
        ({"occupied": "yes"}, "occupied"),
        ({"pollen_in": "yes"}, "occupied"),
        ({"tenant": "bat"}, "tenant"),
        ({"tenant": "none", "scouts": 0}, "empty"),
        ({"note": "rain"}, "not looked"),
        ({"scouts": 12, "tenant": "bird"}, "tenant"),
        ({"occupied": "yes", "tenant": "ants"}, "occupied"),
    ],
)
def test_the_state_is_what_the_last_check_saw(seen, word):
    assert state({"date": "2026-06-09"} | seen).state == word


def test_a_swarm_counts_from_the_first_check_that_saw_it():
    seen = ({"date": "2026-06-03", "occupied": "no"}, {"date": "2026-06-05", "occupied": "yes"},
            {"date": "2026-06-08", "occupied": "yes"})  # fmt: skip
    assert state(*seen).occupied_on == date(2026, 6, 5)


def test_a_second_swarm_after_an_empty_check_counts_anew():
    seen = ({"date": "2026-06-03", "occupied": "yes"}, {"date": "2026-06-05", "occupied": "no"},
            {"date": "2026-06-08", "occupied": "yes"})  # fmt: skip
    assert state(*seen).occupied_on == date(2026, 6, 8)


def test_a_catch_is_in_the_box_until_it_was_moved():
    assert state(catches=catch(kind="prime")).state == "occupied"
    assert state(catches=catch(moved_on="2026-06-08")).state == "not looked"


def test_a_caught_swarm_that_left_again_is_not_in_the_box():
    gone = {"date": "2026-06-07", "occupied": "no"}
    assert state(gone, catches=catch()).state == "empty"


def test_pollen_alone_is_told_as_probable():
    assert state({"date": "2026-06-09", "pollen_in": "yes"}).likely


@pytest.mark.parametrize(("scouts", "quorum"), [(9, False), (10, True)])
def test_scouts_at_the_published_quorum_raise_the_flag(scouts, quorum):
    """Seeley & Visscher 2003: 10 to 15 scouts at a cavity; published, read in a summary."""
    assert state({"date": "2026-06-09", "scouts": scouts}).quorum is quorum


def test_a_prime_swarm_is_moved_on_day_three_to_seven():
    found = row(catches=catch(kind="prime"))
    assert "between 2026-06-10 and 2026-06-12" in found["do"]
    assert found["do_by"] == pd.Timestamp("2026-06-12")


def test_an_afterswarm_stays_until_eggs_are_seen():
    found = row(catches=catch(kind="afterswarm"))
    assert "until eggs are seen" in found["do"]
    assert found["do_by"] > pd.Timestamp("2026-06-12")


def test_a_swarm_of_unknown_kind_is_told_both_ways():
    do = row(catches=catch(kind="unknown"))["do"]
    assert "between" in do
    assert "eggs" in do


@pytest.mark.parametrize("tenant", ["bird", "bat", "wasps", "other"])
def test_a_tenant_that_law_may_protect_is_left_alone(tenant):
    do = row(checks=checks(tenant=tenant))["do"]
    assert "protected" in do
    assert "brush" not in do


@pytest.mark.parametrize("on", [date(2026, 8, 20), date(2026, 11, 26), date(2027, 2, 15)])
def test_after_the_season_an_empty_box_comes_down(on):
    found = hung_boxes(tables(), on=on, evidence=EVIDENCE, rates=False)
    assert "take it down" in found["do"].iloc[0]
    assert found["do_by"].iloc[0].date() == on


@pytest.mark.parametrize(
    ("hung_on", "on"),
    [("2026-05-01", "2026-06-10"), ("2027-02-10", "2027-02-15"), ("2026-05-01", "2027-05-20")],
)
def test_in_season_or_hung_for_the_next_it_stays(hung_on, on):
    frames = tables(hangings=HUNG.assign(hung_on=hung_on))
    found = hung_boxes(frames, on=date.fromisoformat(on), evidence=EVIDENCE, rates=False)
    assert "look from the ground" in found["do"].iloc[0]


def test_the_steps_of_a_move_hold_law_weight_people_air_and_distance():
    text = " ".join(moving_steps(EVIDENCE)).lower()
    for word in ("ask first", "kg", "two people", "dusk", "air", "strap", "5 km", "apart", "comb"):
        assert word in text


def test_a_near_move_asks_for_more_and_a_far_one_does_not():
    assert "fly back" in near_by_steps(300.0, EVIDENCE)
    assert near_by_steps(6000.0, EVIDENCE) == ""


def test_a_site_that_caught_last_year_stands_above_one_that_did_not():
    last = pd.DataFrame(
        [{"box": "B1", "site": "oak", "hung_on": "2025-04-20", "taken_on": "2025-08-20"}]
    )
    hangings = pd.concat([HUNG, last])
    nothing = row(hangings=hangings)
    swarm = row(hangings=hangings, catches=catch(caught_on="2025-06-10", moved_on="2025-06-14"))
    assert swarm["rate"] > swarm["expected"]
    assert nothing["rate"] < nothing["expected"]
    assert swarm["expected"] == nothing["expected"]


def test_a_box_at_a_site_that_is_not_on_record_has_no_rate():
    frames = tables() | {"sites": empty(TABLES["sites"])}
    assert pd.isna(hung_boxes(frames, on=ON, evidence=EVIDENCE)["rate"].iloc[0])


def test_without_rates_all_else_is_the_same():
    rates = ["expected", "catches_here", "seasons_here", "rate_low", "rate", "rate_high"]
    frames = tables(checks=checks(scouts=12))
    whole = hung_boxes(frames, on=ON, evidence=EVIDENCE)
    bare = hung_boxes(frames, on=ON, evidence=EVIDENCE, rates=False)
    assert whole[rates].notna().all(axis=None)
    assert bare[rates].isna().all(axis=None)
    pd.testing.assert_frame_equal(bare.drop(columns=rates), whole.drop(columns=rates))


def test_no_box_gives_no_row():
    assert hung_boxes(tables(hangings=empty(TABLES["hangings"])), on=ON, evidence=EVIDENCE).empty


def followed(*looks, on):
    notes = (
        pd.DataFrame([{"colony": "Oak"} | look for look in looks])
        if looks
        else empty(TABLES["inspections"])
    )
    season = box_season(YARD, None, on=ON, evidence=EVIDENCE)
    caught = catch(to_colony="Oak", moved_on="2026-06-09")
    return caught_colonies(caught, notes, on=on, season=season, evidence=EVIDENCE).iloc[0]


def test_a_caught_colony_is_kept_apart_until_its_brood_was_looked_at_twice():
    first = {"date": "2026-06-28", "brood_health": "normal"}
    second = {"date": "2026-07-18", "brood_health": "normal"}
    assert followed(on=date(2026, 6, 20))["state"] == "apart"
    assert "between 2026-06-26 and 2026-07-03" in followed(on=date(2026, 6, 20))["do"]
    assert followed(first, on=date(2026, 7, 1))["checked"] == 1
    assert followed(first, second, on=date(2026, 7, 20))["state"] == "cleared"


def test_a_look_before_a_brood_cycle_is_no_check():
    early = {"date": "2026-06-12", "brood_health": "normal"}
    assert followed(early, on=date(2026, 6, 20))["checked"] == 0


@pytest.mark.parametrize("health", ["unsure", "suspect"])
def test_brood_that_is_not_well_stops_everything(health):
    found = followed({"date": "2026-06-28", "brood_health": health}, on=date(2026, 7, 1))
    assert found["state"] == "stop"
    assert "inspector" in found["do"]
