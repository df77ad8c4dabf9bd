"""The shared backward pass against carrying each colony's belief forward day by day."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scene import NO_CELLS, ON, apiaries, colonies, frame, looks, weather

from swarmwatch import score_colonies
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.swarming import score
from swarmwatch.swarming.belief import ABANDONED, GONE, Day, all_idle, step
from swarmwatch.swarming.chances import at_odds
from swarmwatch.swarming.notes import read_records
from swarmwatch.swarming.parameters import central, drawn
from swarmwatch.swarming.preparation import solve_base_rate
from swarmwatch.swarming.readiness import log_ratio
from swarmwatch.swarming.reasons import without_each
from swarmwatch.swarming.replay import Colonies, carry, first_afterswarm
from swarmwatch.swarming.run import (
    block_of,
    block_on,
    chances_of,
    chances_of_each,
    setting_of,
    with_event,
)
from swarmwatch.swarming.single_looks import chances_of_single_looks, shared_of
from swarmwatch.swarming.steps import steps_of
from swarmwatch.swarming.timeline import places_of

EVIDENCE = load_evidence()
CHANCE = "season.yearly_chance_inspected"
ODDS = "calibration.odds"
AT_OTHER_ODDS = Evidence({**EVIDENCE, ODDS: replace(EVIDENCE[ODDS], value=1.7)})


def _block(rows, events=None, **colony):
    records = read_records(
        colonies(**colony),
        looks(*rows) if rows else None,
        on=ON,
        apiaries=apiaries(),
        events=events,
    )
    places = places_of(["Home"], records.apiaries, weather(), on=ON, evidence=EVIDENCE)
    return block_of(records, places, ahead=14, parameters=central(EVIDENCE), evidence=EVIDENCE)


@pytest.mark.parametrize("clipped", ["no", "yes"])
@pytest.mark.parametrize(
    "rows",
    [
        (),
        (NO_CELLS | {"date": "2026-05-20"},),
        ({"date": "2026-05-12"}, NO_CELLS | {"queen_cells_larva": 7, "date": "2026-05-22"}),
    ],
    ids=["no look", "one look", "two looks"],
)
def test_reading_off_agrees_with_carrying_the_belief_forward(rows, clipped):
    block = _block(rows, queen_clipped=clipped)
    parameters = drawn(EVIDENCE, draws=4, seed=2)
    setting = setting_of(block, parameters, seed=2, chance_key=CHANCE)
    chances = chances_of(block, setting, (0, 7, 14))
    ratio = log_ratio(block.covariates, parameters)
    start = -np.expm1(-setting.course.season_rate[:, 0].T[:, None] * np.exp(ratio))
    none = np.zeros(1, dtype=bool)
    is_clipped = np.array([clipped == "yes"])
    belief, since, _ = carry(
        colonies=Colonies(
            yard=block.yard,
            clipped=is_clipped,
            log_ratio=ratio,
            thinned=none,
            torn=none,
            afterswarms=np.zeros(1, dtype=np.int64),
        ),
        steps=steps_of(block.records, block.notes, block.days),
        looks=block.looks,
        course=setting.course,
        rates=setting.rates,
        parameters=parameters,
        start=start,
    )
    gone = []
    for t in range(int(since[0]) + 1, block.days.count):
        today = Day(
            start=start[..., t],
            restart=setting.course.restart[t].T,
            gate=setting.course.gate[t].T,
        )
        belief = step(belief, today, rates=setting.rates, clipped=is_clipped)
        gone.append(belief[..., GONE].sum(axis=-1))
    on = block.days.on - int(since[0]) - 1
    for target, i in ((0, 0), (7, 1), (14, 2)):
        expected = gone[on + target] if on + target >= 0 else 0
        np.testing.assert_allclose(chances.by[..., i], expected, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize("key", [CHANCE, "season.yearly_chance_unmanaged"])
def test_the_reference_colony_swarms_with_the_yearly_chance_of_its_class(key):
    block = _block(())
    parameters = drawn(EVIDENCE, draws=8, seed=4)
    captured = {}

    def spy(year, rates, parameters, *, chance_key):
        captured["year"], captured["rates"] = year, rates
        return solve_base_rate(year, rates, parameters, chance_key=chance_key)

    from swarmwatch.swarming import timeline

    original, timeline.solve_base_rate = timeline.solve_base_rate, spy
    try:
        setting_of(block, parameters, seed=4, chance_key=key)
    finally:
        timeline.solve_base_rate = original
    year, rates = captured["year"], captured["rates"]
    base = solve_base_rate(year, rates, parameters, chance_key=key)
    from swarmwatch.swarming.preparation import crowding_log_ratio, reference_crowding

    shape = (
        year.season
        * np.exp(
            crowding_log_ratio(
                reference_crowding(year.days_from_peak, parameters)[None], parameters
            )
        ).T[:, None, :]
    )
    belief = all_idle(8, 1)
    for t in range(len(shape)):
        rate = -np.expm1(-(base * shape[t]).T)
        today = Day(start=rate, restart=rate, gate=np.full((8, 1), year.gate[t, 0]))
        belief = step(belief, today, rates=rates, clipped=np.zeros(1, dtype=bool))
    np.testing.assert_allclose(
        belief[..., GONE].sum(axis=-1)[:, 0], parameters[key], rtol=0, atol=1e-3
    )
    assert (belief[..., ABANDONED] >= 0).all()


def test_an_afterswarm_lies_within_the_handbooks_window():
    # first afterswarm often on day 9 or 10, extremes 3 and 17: Neighbour 1878; none after day
    # 18: Quinby 1853; published. 0.70 of prime swarms are followed by one: from memory
    by = first_afterswarm(central(EVIDENCE))[0]
    daily = np.diff(by, prepend=0)
    assert by[2] == 0
    assert by[18] == pytest.approx(0.70)
    assert by[-1] == by[18]
    assert daily.argmax() in (9, 10)


def test_a_swarm_that_came_back_may_leave_again_in_8_to_10_days():
    # about eight to ten days, with a virgin: Quinby 1853; published
    events = frame(
        {"colony": "A", "date": "2026-05-28", "event": "swarmed"},
        {"colony": "A", "date": "2026-05-29", "event": "swarm-returned"},
    )
    block = _block((), events=events, queen_clipped="yes")
    setting = setting_of(block, central(EVIDENCE), seed=None, chance_key=CHANCE)
    by = chances_of(block, setting, tuple(range(15))).by[0, 0]
    likeliest = block.days.date(block.days.on + 1 + int(np.diff(by).argmax()))
    assert by[0] < 0.05
    assert 8 <= (likeliest - dt.date(2026, 5, 28)).days <= 11


@pytest.mark.parametrize("clipped", ["no", "yes"])
@pytest.mark.parametrize(
    "rows",
    [
        ({"date": "2026-05-30"},),
        (NO_CELLS | {"date": "2026-05-20"},),
        (NO_CELLS | {"queen_cells_larva": 7, "date": "2026-05-22", "eggs_seen": "yes"},),
        ({"queen_cells_capped": 3, "queen_cells_torn": 1, "date": "2026-05-25"},),
        ({"combs_bees": None, "eggs_seen": "no", "piping": "yes", "date": "2026-04-29"},),
    ],
    ids=["today", "no cells", "larvae", "capped and torn", "piping"],
)
def test_what_is_worked_out_once_for_a_crowd_agrees_with_the_general_filter(rows, clipped):
    events = frame({"colony": "A", "date": "2026-05-28", "event": "room-added"})
    block = _block(rows, events=events, queen_clipped=clipped)
    setting = setting_of(block, drawn(AT_OTHER_ODDS, draws=4, seed=2), seed=2, chance_key=CHANCE)
    expected = chances_of(block, setting, (0, 7, 14))
    first = int(block.notes.day[0])
    shared = shared_of(
        setting, block.days, looked={first}, clipped={clipped == "yes"}, targets=(0, 7, 14)
    )
    after_look = block_on(
        block.records,
        shared.days_from(first),
        block.yards,
        parameters=central(EVIDENCE),
        evidence=EVIDENCE,
    )
    chances = chances_of_single_looks(after_look, shared, first=first, targets=3)
    for part in ("by", "after", "cells"):
        np.testing.assert_allclose(
            getattr(chances, part), getattr(expected, part), rtol=1e-9, atol=1e-12
        )


CHANCES = st.floats(0, 1, allow_subnormal=False)


@given(st.lists(CHANCES, min_size=3, max_size=3).map(sorted), st.floats(0.05, 20))
def test_other_odds_keep_the_order_of_the_targets_and_what_has_left_already(by, odds):
    moved = at_odds(np.array([[by]]), np.array([odds]))[0, 0]
    assert moved[0] == by[0]
    assert (np.diff(moved) >= -1e-12).all()
    assert ((moved >= 0) & (moved <= 1 + 1e-12)).all()


@given(st.floats(0, 0.9), st.floats(1e-6, 1 - 1e-6), st.floats(0.05, 20))
def test_the_odds_of_a_colony_still_there_are_multiplied(gone, within, odds):
    by = np.array([[[gone, gone + (1 - gone) * within]]])
    moved = at_odds(by, np.array([odds]))[0, 0, 1]
    chance = (moved - gone) / (1 - gone)
    np.testing.assert_allclose(chance / (1 - chance), odds * within / (1 - within), rtol=1e-6)


def test_other_odds_move_the_chances_of_each_colony_alone():
    block = _block((NO_CELLS | {"date": "2026-05-20"},))
    before, after = (
        chances_of(
            block,
            setting_of(block, drawn(e, draws=4, seed=2), seed=2, chance_key=CHANCE),
            (0, 7, 14),
        )
        for e in (EVIDENCE, AT_OTHER_ODDS)
    )
    np.testing.assert_array_equal(after.by, at_odds(before.by, np.full(4, 1.7)))
    np.testing.assert_array_equal(after.weight, before.weight)
    np.testing.assert_array_equal(after.after, before.after)


def test_versions_worked_out_together_get_what_each_gets_alone():
    rows = ({"date": "2026-05-12"}, NO_CELLS | {"queen_cells_larva": 7, "date": "2026-05-22"})
    split = frame({"colony": "A", "date": "2026-05-24", "event": "split", "queen_went": "moved"})
    block = _block(rows, split, queen_clipped="yes")
    versions = [block, with_event(block, "room-added"), *without_each(block).values()]
    setting = setting_of(block, drawn(EVIDENCE, draws=4, seed=2), seed=2, chance_key=CHANCE)
    targets = (0, 7, 14)
    together = chances_of_each(versions, setting, targets)
    assert len({float(c.by[0, 0, -1]) for c in together}) > len(versions) // 2
    for version, found in zip(versions, together, strict=True):
        alone = chances_of(version, setting, targets)
        for array in ("by", "after", "cells", "weight"):
            np.testing.assert_allclose(getattr(found, array), getattr(alone, array), rtol=1e-12)


def _many(count=60):
    rng = np.random.default_rng(3)
    names = [f"C{i}" for i in range(count)]
    hives = frame(
        *(
            {
                "colony": n,
                "apiary": f"Yard {i % 3}",
                "hive_type": "zander-10",
                "queen_clipped": "yes" if i % 7 == 0 else "no",
            }
            for i, n in enumerate(names)
        )
    )
    rows = looks(
        *(
            {
                "colony": n,
                "date": f"2026-05-{rng.integers(18, 31)}",
                "combs_bees": int(rng.integers(5, 20)),
                "queen_cells_larva": int(rng.integers(0, 2)),
            }
            for n in [*names, *names[:10]]
        )
    )
    yards = pd.concat([apiaries(apiary=f"Yard {i}") for i in range(3)], ignore_index=True)
    return hives, rows, yards


def _chances(hives, rows, yards, *, words=False):
    scores = score_colonies(hives, rows, weather(), ON, apiaries=yards, draws=4, words=words)
    wanted = [c for c in scores.columns if c.startswith("p_")]
    return scores.set_index("colony")[wanted].astype(float).sort_index()


def test_chances_without_words_are_those_with_words(monkeypatch):
    monkeypatch.setattr(score, "_FEWEST_TO_SHARE", 0)
    tables = _many()
    pd.testing.assert_frame_equal(
        _chances(*tables), _chances(*tables, words=True), rtol=1e-9, atol=1e-12
    )


def test_the_size_of_a_block_does_not_matter(monkeypatch):
    monkeypatch.setattr(score, "_FEWEST_TO_SHARE", 0)
    tables = _many()
    whole = _chances(*tables)
    monkeypatch.setattr(score, "_COLONIES_A_BLOCK", 3)
    monkeypatch.setattr(score, "_SINGLE_LOOKS_A_BLOCK", 2)
    monkeypatch.setattr(score, "_YARDS_A_BLOCK", 1)
    pd.testing.assert_frame_equal(_chances(*tables), whole, rtol=1e-9, atol=1e-12)


def test_the_order_of_colonies_does_not_matter(monkeypatch):
    monkeypatch.setattr(score, "_FEWEST_TO_SHARE", 0)
    hives, rows, yards = _many()
    turned = _chances(hives.iloc[::-1], rows, yards)
    pd.testing.assert_frame_equal(turned, _chances(hives, rows, yards), rtol=1e-9, atol=1e-12)
