"""Which colonies to open when there is time for only a few."""

from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scene import LOOK, ON, frame

from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.visits import COLUMNS, order_of_visits

CHANCE = st.floats(0, 1)


def scores(*rows):
    usual = {"apiary": "Home", "on": pd.Timestamp(ON), "p_gone": 0.0, "p_7d": 0.0}
    usual |= {"p_after_7d": 0.0, "look_by": pd.NaT}
    return frame(*(usual | {"colony": chr(ord("A") + i)} | row for i, row in enumerate(rows)))


def order(*rows, visits=1, inspections=None, events=None):
    return order_of_visits(scores(*rows), visits, inspections=inspections, events=events)


def swarmed(day, colony="A"):
    return frame({"colony": colony, "date": day, "event": "swarmed"})


@settings(max_examples=30, deadline=None)
@given(chances=st.lists(st.tuples(CHANCE, CHANCE, CHANCE), min_size=1, max_size=6), data=st.data())
def test_no_other_choice_of_as_many_foresees_more(chances, data):
    visits = data.draw(st.integers(1, len(chances)))
    rows = [{"p_7d": p, "p_gone": g, "p_after_7d": a} for p, g, a in chances]
    sick = frame(LOOK | {"brood_health": "suspect"}) if data.draw(st.booleans()) else None
    table = order(*rows, visits=visits, inspections=sick)
    worth = table["foreseen_7d"].to_numpy()
    chosen = worth[(table["chosen"] == "yes").to_numpy()]
    assert len(chosen) == visits
    best = max(sum(subset) for subset in combinations(worth, visits))
    np.testing.assert_allclose(chosen.sum(), best, rtol=1e-12, atol=1e-12)


@settings(max_examples=30, deadline=None)
@given(p=CHANCE, gone=CHANCE, after=CHANCE)
def test_a_look_never_foresees_more_swarms_than_leave(p, gone, after):
    row = order({"p_7d": p, "p_gone": gone, "p_after_7d": after}).iloc[0]
    assert 0 <= row["foreseen_7d"] <= row["swarms_7d"]


def test_a_colony_that_has_likely_gone_counts_only_as_far_as_it_is_there():
    row = order({"p_7d": 0.4, "p_gone": 0.75}).iloc[0]
    np.testing.assert_allclose(row["swarms_7d"], 0.1, rtol=1e-12, atol=0)


def test_unknown_cells_are_found_as_often_as_the_evidence_says():
    find = load_evidence().value("seeing.find_larva_cells")
    assert order({"p_7d": 0.5}).iloc[0]["foreseen_7d"] == pytest.approx(0.5 * find, rel=1e-12)


def test_cells_seen_lately_need_no_finding():
    seen = frame(LOOK | {"queen_cells_larva": 2})
    row = order({"p_7d": 0.5}, inspections=seen).iloc[0]
    assert row["foreseen_7d"] == 0.5
    assert "queen cells seen on 2026-05-27" in row["because"]


def test_cells_seen_long_ago_are_not_known_cells():
    seen = frame(LOOK | {"date": "2026-04-20", "queen_cells_larva": 2})
    assert order({"p_7d": 0.5}, inspections=seen).iloc[0]["foreseen_7d"] < 0.5


def test_a_sick_colony_comes_last_with_the_reason():
    sick = frame(LOOK | {"brood_health": "suspect"})
    table = order({"p_7d": 0.9}, {"p_7d": 0.0}, inspections=sick)
    assert table["colony"].tolist() == ["B", "A"]
    assert "did not look right" in table.iloc[1]["because"]
    assert table.iloc[1]["swarms_7d"] == 0.9


def test_ties_go_by_name():
    table = order({"colony": "Zinnia", "p_7d": 0.2}, {"colony": "Aster", "p_7d": 0.2})
    assert table["colony"].tolist() == ["Aster", "Zinnia"]


def test_after_a_swarm_the_look_that_leaves_one_cell_counts():
    # swarmed 27 May: day 5 to 7 is 1 to 3 June
    row = {"p_gone": 1.0, "p_after_7d": 0.5, "look_by": pd.Timestamp("2026-06-03")}
    found = order(row, events=swarmed("2026-05-27")).iloc[0]
    assert found["foreseen_7d"] > 0
    assert "between 2026-06-01 and 2026-06-03" in found["because"]
    assert found["due_on"] == pd.Timestamp("2026-06-03")


def test_after_those_days_it_is_left_closed_until_eggs_are_due():
    row = {"p_gone": 1.0, "p_after_7d": 0.5, "look_by": pd.Timestamp("2026-06-17")}
    found = order(row, events=swarmed("2026-05-20")).iloc[0]
    assert found["foreseen_7d"] == 0
    assert "keep it closed, look for eggs between 2026-06-10 and 2026-06-17" in found["because"]


def test_recorded_swarms_go_by_their_follow_up_dates():
    rows = [
        {"p_gone": 1.0, "look_by": pd.Timestamp("2026-06-17")},
        {"p_gone": 1.0, "look_by": pd.Timestamp("2026-06-12")},
    ]
    events = pd.concat([swarmed("2026-05-20"), swarmed("2026-05-15", "B")])
    assert order(*rows, events=events)["colony"].tolist() == ["B", "A"]


def test_more_visits_than_colonies_choose_all():
    assert order({}, {}, visits=9)["chosen"].tolist() == ["yes", "yes"]


@pytest.mark.parametrize("wrong", [0, -1, 1.5, True, "3"])
def test_a_count_that_is_no_whole_number_above_0_is_refused(wrong):
    with pytest.raises(UsageError, match="whole number"):
        order({}, visits=wrong)


def test_no_colonies_give_an_empty_table():
    table = order_of_visits(scores({}).iloc[:0], 2)
    assert table.empty
    assert tuple(table.columns) == COLUMNS
