import datetime as dt
from dataclasses import replace

import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.advice import advice_of
from swarmwatch.swarming.situation import Situation, level_of

EVIDENCE = load_evidence()
LINES, AFTER, ACTIONS = (EVIDENCE.group(g) for g in ("advice", "afterswarm", "actions"))
ON = dt.date(2026, 5, 30)
CALM = Situation(
    on=ON,
    p_7d=0.01,
    p_gone=0.0,
    p_after_7d=0.0,
    unseen_by_day=tuple(0.002 * d for d in range(1, 15)),
    in_season=True,
    swarmed_on=None,
    sick=False,
    cells_seen=False,
    queen_seen=False,
    unclear_cells=False,
    crowding=0.5,
    clipped_or_young=False,
    long_hive=False,
    looked_on=ON,
    removed_on=None,
    warm_enough=True,
    p_7d_as_is=0.01,
    p_7d_split=0.005,
    p_7d_room=0.008,
)


def advise(**change):
    return advice_of(replace(CALM, **change), lines=LINES, after=AFTER, actions=ACTIONS)


def test_a_calm_colony_is_left_alone_until_the_next_look():
    advice = advise()
    assert (advice.level, advice.do_by) == ("quiet", None)
    assert f"open it next by {advice.look_by}" in advice.text


@pytest.mark.parametrize(
    ("p_7d", "level"),
    [(0.01, "quiet"), (0.06, "look-soon"), (0.3, "act"), (0.6, "today")],
)
def test_the_level_follows_the_chance(p_7d, level):
    assert advise(p_7d=p_7d).level == level


def test_an_afterswarm_counts_like_a_prime_swarm():
    assert level_of(replace(CALM, p_after_7d=0.6), LINES, AFTER) == "today"


def test_what_has_gone_is_not_counted_as_coming():
    assert advise(p_7d=0.9, p_gone=0.95, cells_seen=True).level == "look-soon"


def test_a_colony_that_has_probably_swarmed_is_never_quiet():
    advice = advise(p_gone=0.6)
    assert advice.level == "look-soon"
    assert "probably swarmed: check" in advice.text


def test_cells_are_never_all_removed_unless_the_queen_was_seen():
    cells = {"p_7d": 0.5, "cells_seen": True}
    assert "remove cells" not in advise(**cells).text
    assert "remove cells" in advise(**cells, queen_seen=True).text


def test_sick_brood_overrides_every_other_advice():
    advice = advise(sick=True, p_7d=0.9, cells_seen=True, swarmed_on=ON)
    assert "move no bees" in advice.text
    assert "split" not in advice.text


def test_the_next_look_comes_before_an_unseen_swarm_is_likely():
    # the published rule of thumb is 4 to 14 days, at most 9 in season: common practice, no source
    steep = tuple(0.012 * d for d in range(1, 15))
    flat = tuple(0.001 * d for d in range(1, 15))
    assert (advise(unseen_by_day=steep).look_by - ON).days == 4
    assert (advise(unseen_by_day=flat).look_by - ON).days == 9
    assert (advise(unseen_by_day=flat, clipped_or_young=True).look_by - ON).days == 14


def test_out_of_season_no_look_is_due():
    assert advise(in_season=False).look_by is None


def test_after_removing_cells_the_next_look_comes_early():
    due = advise(removed_on=ON).look_by
    assert (due - ON).days <= ACTIONS["look_again_after_removal"]


def test_after_a_swarm_one_cell_is_left_on_day_5_to_7():
    # 7 to 8 days from the swarm to the first virgin: Langstroth; Winston 1987; published
    advice = advise(swarmed_on=ON - dt.timedelta(days=2), p_gone=1.0, looked_on=None)
    assert advice.do_by == ON + dt.timedelta(days=5)
    assert "leave one good queen cell" in advice.text


def test_then_the_hive_stays_closed_until_eggs_are_due():
    advice = advise(swarmed_on=ON - dt.timedelta(days=6), looked_on=ON, p_gone=1.0, p_after_7d=0.5)
    assert "an afterswarm may come" in advice.text
    assert (advice.look_by - ON).days == 22


def test_when_eggs_are_due_and_nobody_looked_it_is_not_quiet():
    gone = {"p_gone": 1.0, "looked_on": None}
    assert advise(swarmed_on=ON - dt.timedelta(days=22), **gone).level == "look-soon"
    assert advise(swarmed_on=ON - dt.timedelta(days=14), **gone).level == "quiet"


def test_a_crowded_colony_is_given_room_of_its_kind():
    assert "drawn comb" in advise(crowding=1.2).text
    assert "bar" in advise(crowding=1.2, long_hive=True).text


def test_the_effect_of_a_split_is_said_only_where_it_helps():
    cells = {"p_7d": 0.5, "cells_seen": True, "p_7d_as_is": 0.5}
    assert "by about 80 %" in advise(**cells, p_7d_split=0.1).text
    assert "by about" not in advise(**cells, p_7d_split=0.6).text


def test_too_cold_a_week_asks_for_a_look_from_outside():
    assert "look from outside" in advise(p_7d=0.1, warm_enough=False).text


@pytest.mark.parametrize(
    "change",
    [
        {"p_7d": 0.5, "cells_seen": True},
        {"p_gone": 0.7},
        {"crowding": 1.3},
        {"p_7d": 0.1},
        {"swarmed_on": ON, "p_gone": 1.0},
    ],
)
def test_every_advice_that_sends_someone_to_a_hive_says_how_to_stay_safe(change):
    assert "second person" in advise(**change).text


def test_sick_brood_is_never_quiet():
    assert advise(sick=True).level == "look-soon"


def test_a_hive_for_an_afterswarm_is_wanted_at_once():
    advice = advise(swarmed_on=ON - dt.timedelta(days=8), looked_on=ON, p_gone=1.0, p_after_7d=0.6)
    assert advice.do_by == ON + dt.timedelta(days=1)
