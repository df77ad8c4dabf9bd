from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.alerts.thresholds import Held, Standing, at_or_over, crossings
from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.tables.outputs import LEVELS

DAY = date(2026, 5, 14)
LINES = {
    "advice.line_look_soon": 0.05,
    "advice.line_act": 0.2,
    "advice.line_today": 0.45,
    "levels.fall_margin": 0.25,
}
NUMBERS = load_evidence().with_values(LINES)


def stands(score, *, on=DAY, level=None, kind="colony", name="Birch"):
    if level is None:
        level = "quiet"
        for word, line in (("look-soon", 0.05), ("act", 0.2), ("today", 0.45)):
            if score >= line:
                level = word
    return Standing(kind=kind, name=name, on=on, level=level, score=score, text="")


def held(level, on_day=DAY):
    return {"colony:Birch": Held(level=level, on_day=on_day)}


def raised(standing, before):
    return [s.level for s in crossings([standing], before, evidence=NUMBERS).raised]


def test_a_colony_never_seen_before_alerts_at_act():
    assert raised(stands(0.2), {}) == ["act"]


def test_a_rise_to_look_soon_does_not_alert_by_default():
    assert raised(stands(0.1), {}) == []


def test_a_rise_to_look_soon_alerts_when_asked_for():
    found = crossings([stands(0.1)], {}, evidence=NUMBERS, lowest="look-soon")
    assert [s.level for s in found.raised] == ["look-soon"]


def test_a_colony_that_stays_at_act_does_not_alert_again():
    assert raised(stands(0.3), held("act")) == []


def test_a_rise_from_act_to_today_alerts():
    assert raised(stands(0.5), held("act")) == ["today"]


@pytest.mark.parametrize(
    ("score", "level"),
    [
        pytest.param(0.35, "today", id="above 0.45 less a quarter"),
        pytest.param(0.33, "act", id="below 0.45 less a quarter"),
        pytest.param(0.16, "act", id="above 0.2 less a quarter"),
        pytest.param(0.14, "look-soon", id="below 0.2 less a quarter"),
        pytest.param(0.01, "quiet", id="below every line"),
    ],
)
def test_a_level_falls_only_below_its_line_by_the_margin(score, level):
    later = stands(score, on=DAY + timedelta(days=1))
    found = crossings([later], held("today"), evidence=NUMBERS)
    assert found.held["colony:Birch"].level == level


def test_a_score_that_wavers_on_the_line_alerts_once():
    before, alerts = {}, 0
    for days, score in enumerate((0.19, 0.21, 0.19, 0.21, 0.18, 0.22)):
        standing = stands(score, on=DAY + timedelta(days=days))
        found = crossings([standing], before, evidence=NUMBERS)
        before, alerts = found.held, alerts + len(found.raised)
    assert alerts == 1


def test_a_colony_that_fell_well_below_alerts_again_when_it_rises():
    before, alerts = {}, 0
    for days, score in enumerate((0.3, 0.05, 0.3)):
        standing = stands(score, on=DAY + timedelta(days=days))
        found = crossings([standing], before, evidence=NUMBERS)
        before, alerts = found.held, alerts + len(found.raised)
    assert alerts == 2


def test_a_level_without_a_chance_behind_it_falls_at_once():
    box = stands(None, level="quiet", kind="box", name="B1", on=DAY + timedelta(days=1))
    before = {"box:B1": Held(level="act", on_day=DAY)}
    assert crossings([box], before, evidence=NUMBERS).held["box:B1"].level == "quiet"


def test_an_evening_before_the_held_one_changes_nothing():
    earlier = stands(0.01, on=DAY - timedelta(days=3))
    assert crossings([earlier], held("act"), evidence=NUMBERS).held == held("act")


def test_the_day_of_a_held_level_is_the_day_it_was_reached():
    later = stands(0.3, on=DAY + timedelta(days=2))
    assert crossings([later], held("act"), evidence=NUMBERS).held == held("act")


def test_a_colony_without_a_score_is_let_go():
    assert crossings([], held("act"), evidence=NUMBERS).held == {}


def test_a_box_and_a_colony_of_one_name_are_two():
    both = [stands(0.3), stands(None, level="act", kind="box")]
    assert len(crossings(both, {}, evidence=NUMBERS).raised) == 2


def test_the_most_urgent_comes_first():
    mixed = [stands(0.3, name="Ash"), stands(0.6, name="Birch"), stands(0.3, name="Alder")]
    found = crossings(mixed, {}, evidence=NUMBERS)
    assert [s.name for s in found.raised] == ["Birch", "Alder", "Ash"]


def test_an_unknown_lowest_level_is_refused_with_the_words_there_are():
    with pytest.raises(UsageError, match="look-soon, act, today"):
        crossings([], {}, evidence=NUMBERS, lowest="panic")


def test_at_or_over_counts_the_line_itself():
    assert at_or_over([stands(0.2), stands(0.1, name="Ash")], "act") == [stands(0.2)]


def test_the_shipped_numbers_hold_every_line_in_rising_order():
    shipped = load_evidence()
    lines = [shipped.value(k) for k in list(LINES)[:3]]
    assert lines == sorted(lines)
    assert 0 < shipped.value("levels.fall_margin") < 1


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 1), max_size=12))
def test_the_held_level_is_never_below_the_level_of_the_evening(walk):
    before = {}
    for days, score in enumerate(walk):
        standing = stands(score, on=DAY + timedelta(days=days))
        before = crossings([standing], before, evidence=NUMBERS).held
        now = before.get("colony:Birch", Held(level="quiet", on_day=DAY)).level
        assert LEVELS.index(now) >= LEVELS.index(standing.level)


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 1), st.floats(0, 1))
def test_the_same_evening_twice_raises_nothing_the_second_time(first, second):
    standings = [stands(first, name="Ash"), stands(second, name="Birch")]
    found = crossings(standings, {}, evidence=NUMBERS)
    assert crossings(standings, found.held, evidence=NUMBERS).raised == ()
