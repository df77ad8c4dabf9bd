from datetime import date

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.alerts.standings import box_standings, colony_standings
from swarmwatch.wording import one_line

ON = date(2026, 5, 14)


def text_of(scores, **cells):
    return colony_standings(scores({"colony": "Birch"} | cells))[0].text


def box(numbers, *checks, on=ON, **tables):
    frame = pd.DataFrame([{"box": "B1"} | c for c in checks])
    return box_standings(frame, on=on, evidence=numbers, **tables)[0]


def test_a_colony_is_told_in_one_line_with_chance_range_reason_and_day(scores):
    assert text_of(scores) == (
        "Birch: 62 % (45 % to 78 %) to swarm in 7 days. Capped queen cells seen. "
        "Split the colony. By 2026-05-14."
    )


def test_a_likely_gone_swarm_is_told_as_something_to_check(scores):
    text = text_of(scores, p_gone=0.7, p_after_7d=0.3)
    assert text.startswith("Birch: probably swarmed (70 %): check. Afterswarm 30 % in 7 days.")


def test_a_swarm_that_was_written_down_is_not_called_probable(scores):
    assert text_of(scores, p_gone=1.0, p_7d=0.0).startswith("Birch: swarmed.")


def test_a_blank_chance_is_not_told_as_nought(scores):
    assert "chance to swarm not known" in text_of(scores, p_7d=None, p_7d_low=None, p_7d_high=None)


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.001, "under 1 %"), (0.999, "over 99 %"), (1.0, "100 %"), (0.0, "0 %")],
)
def test_a_small_chance_is_not_rounded_to_never_nor_a_large_one_to_always(scores, chance, said):
    assert text_of(scores, p_7d=chance).startswith(f"Birch: {said}")


def test_the_score_is_the_chance_that_a_swarm_is_still_to_come(scores):
    standing = colony_standings(scores({"colony": "Birch", "p_7d": 0.5, "p_gone": 0.4}))[0]
    assert standing.score == pytest.approx(0.3, rel=1e-12)


def test_an_afterswarm_chance_counts_when_it_is_the_worse(scores):
    row = {"colony": "Birch", "p_7d": 0.5, "p_gone": 1.0, "p_after_7d": 0.25}
    assert colony_standings(scores(row))[0].score == pytest.approx(0.25, rel=1e-12)


def test_an_instruction_is_never_cut_in_the_middle(scores):
    long = "Remove the queen cells but leave two good ones on a comb that was not shaken " * 3
    text = text_of(scores, advice=long + ".")
    assert "Remove" not in text
    assert text.endswith("By 2026-05-14. More in score.")


def test_more_sentences_of_advice_are_pointed_to(scores):
    text = text_of(scores, advice="Split the colony. Leave two good cells.")
    assert text.endswith("Split the colony. By 2026-05-14. More in score.")


def test_advice_in_parts_is_told_by_its_first_part_and_pointed_to(scores):
    advice = "take the queen away (that cuts the chance by about 80%); veil on, a second person"
    text = text_of(scores, advice=advice)
    assert text.endswith("seen. Take the queen away. By 2026-05-14. More in score.")


def test_the_reason_told_is_the_one_that_raises_the_chance_most(scores):
    because = (
        "11 days before the usual peak; eggs seen (lowers it, 50% of what moved it); "
        "9 capped queen cells (raises it, 40% of what moved it); crowded (raises it, 10%)"
    )
    assert "days. 9 capped queen cells. Split" in text_of(scores, because=because)


def test_a_gone_swarm_is_not_told_twice(scores):
    text = text_of(
        scores, p_gone=0.97, p_after_7d=0.57, advice="probably swarmed: check for eggs; veil on"
    )
    assert text == (
        "Birch: probably swarmed (97 %). Afterswarm 57 % in 7 days. Capped queen cells seen. "
        "Check for eggs. By 2026-05-14. More in score."
    )


@settings(max_examples=50, deadline=None)
@given(
    name=st.text(min_size=1, max_size=80).filter(lambda t: t.strip()),
    because=st.text(max_size=300),
    advice=st.text(max_size=300),
)
def test_every_text_fits_on_a_lock_screen_on_one_line(scores_maker, name, because, advice):
    row = {"colony": name, "because": because, "advice": advice, "p_after_7d": 0.9}
    text = colony_standings(scores_maker(row))[0].text
    assert len(text) <= 180
    assert len(text.splitlines()) == 1


@pytest.fixture(scope="module")
def scores_maker():
    def make(row):
        usual = {"apiary": "Garden", "on": ON, "p_7d": 0.62, "p_7d_low": 0.45, "p_7d_high": 0.78}
        return pd.DataFrame([usual | {"level": "today", "do_by": ON} | row])

    return make


def test_a_name_keeps_to_its_line_and_cannot_turn_the_text_round():
    assert one_line("Bir\r\nch\u202e gnp.exe\x1b[2J") == "Bir ch gnp.exe[2J"


def test_scouts_at_the_quorum_stand_at_act(numbers):
    assert box(numbers, {"date": "2026-05-13", "scouts": 10}).level == "act"


def test_scouts_below_the_quorum_stand_quiet(numbers):
    assert box(numbers, {"date": "2026-05-13", "scouts": 9}).level == "quiet"


def test_an_old_count_of_scouts_says_nothing(numbers):
    assert box(numbers, {"date": "2026-05-10", "scouts": 50}).level == "quiet"


def test_a_check_where_nobody_counted_leaves_the_last_count_standing(numbers):
    seen = ({"date": "2026-05-12", "scouts": 20}, {"date": "2026-05-13", "note": "rain"})
    assert box(numbers, *seen).level == "act"


def test_a_later_count_of_none_ends_it(numbers):
    seen = ({"date": "2026-05-12", "scouts": 20}, {"date": "2026-05-13", "scouts": 0})
    assert box(numbers, *seen).level == "quiet"


def test_an_occupied_box_stands_at_today_with_the_care_it_needs(numbers):
    standing = box(numbers, {"date": "2026-05-01", "occupied": "yes"})
    assert standing.level == "today"
    assert "second person" in standing.text
    assert "local rules" in standing.text
    assert len(standing.text) <= 180


def test_a_box_that_was_taken_down_is_quiet(numbers):
    down = pd.DataFrame([{"box": "B1", "site": "Oak", "hung_on": "2026-04-20", "taken_on": ON}])
    seen = {"date": "2026-05-10", "occupied": "yes"}
    assert box(numbers, seen, hangings=down).level == "quiet"


def test_a_box_whose_swarm_was_moved_is_quiet(numbers):
    moved = pd.DataFrame(
        [{"box": "B1", "site": "Oak", "caught_on": "2026-05-09", "moved_on": "2026-05-12"}]
    )
    seen = {"date": "2026-05-10", "occupied": "yes"}
    assert box(numbers, seen, catches=moved).level == "quiet"


def test_a_second_swarm_after_the_first_was_moved_counts(numbers):
    moved = pd.DataFrame(
        [{"box": "B1", "site": "Oak", "caught_on": "2026-05-02", "moved_on": "2026-05-04"}]
    )
    seen = {"date": "2026-05-10", "occupied": "yes"}
    assert box(numbers, seen, catches=moved).level == "today"


def test_what_was_seen_after_the_evening_is_not_known_yet(numbers):
    seen = ({"date": "2026-05-12", "scouts": 0}, {"date": "2026-05-15", "occupied": "yes"})
    assert box(numbers, *seen).level == "quiet"


def test_a_box_text_with_a_long_name_fits_on_a_lock_screen(numbers):
    checks = pd.DataFrame([{"box": "B\n" * 200, "date": ON, "occupied": "yes"}])
    standing = box_standings(checks, on=ON, evidence=numbers)[0]
    assert len(standing.text) <= 180


def caught_in(*kinds, moved_on=None):
    rows = [
        {"box": "B1", "site": "Oak", "caught_on": "2026-05-12", "kind": k, "moved_on": moved_on}
        for k in kinds
    ]
    return pd.DataFrame(rows)


def test_the_days_to_move_count_from_the_day_on_which_the_swarm_was_first_seen(numbers):
    seen = ({"date": "2026-05-08", "occupied": "yes"}, {"date": "2026-05-13", "occupied": "yes"})
    standing = box(numbers, *seen)
    assert "2026-05-11 to 2026-05-15" in standing.text
    assert standing.do_by == date(2026, 5, 15)


def test_a_catch_that_no_check_saw_stands_at_today(numbers):
    (standing,) = box_standings(
        pd.DataFrame({"box": [], "date": []}), on=ON, evidence=numbers, catches=caught_in("prime")
    )
    assert standing.level == "today"


def test_an_afterswarm_is_told_to_stay_until_eggs_are_seen(numbers):
    standing = box(numbers, {"date": "2026-05-12", "occupied": "yes"},
                   catches=caught_in("afterswarm"))  # fmt: skip
    assert "only once eggs are seen" in standing.text
    assert standing.do_by > date(2026, 5, 26)


def test_a_tenant_raises_nothing_even_where_scouts_come(numbers):
    assert box(numbers, {"date": "2026-05-13", "tenant": "bird", "scouts": 20}).level == "quiet"


@pytest.mark.parametrize("kind", ["prime", "afterswarm"])
def test_every_text_of_a_box_fits_on_a_lock_screen(numbers, kind):
    catches = caught_in(kind).assign(box="B" * 60)
    checks = pd.DataFrame([{"box": "B" * 60, "date": "2026-05-12", "pollen_in": "yes"}])
    for more in ({}, {"catches": catches}):
        (standing,) = box_standings(checks, on=ON, evidence=numbers, **more)
        assert len(standing.text) <= 180


def test_scouts_and_then_the_swarm_are_told_once_each(numbers):
    from swarmwatch.alerts.thresholds import crossings

    scouts = {"date": "2026-05-12", "scouts": 15}
    swarm = {"date": "2026-05-14", "occupied": "yes"}
    held, told = {}, []
    for on in (date(2026, 5, 12), date(2026, 5, 13), date(2026, 5, 14), date(2026, 5, 15)):
        found = crossings([box(numbers, scouts, swarm, on=on)], held, evidence=numbers)
        held = dict(found.held)
        told += [(on.day, s.level) for s in found.raised]
    assert told == [(12, "act"), (14, "today")]
