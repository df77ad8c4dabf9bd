import numpy as np
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.belief import ABANDONED, CELLS, GONE, IDLE
from swarmwatch.swarming.departure import STAGES
from swarmwatch.swarming.parameters import central, drawn
from swarmwatch.swarming.seen import Look, likelihood

EVIDENCE = load_evidence()
MIDDLE = central(EVIDENCE)
BLANK = np.array([np.nan])
NO = np.array([False])


def look(**change):
    plain = {
        "stages_looked": np.zeros((1, len(STAGES)), dtype=bool),
        "oldest": np.zeros((1, len(STAGES)), dtype=bool),
        "few_cells": BLANK,
        "supersedure": NO,
        "share_looked": np.array([1.0]),
        "eggs": BLANK,
        "queen": BLANK,
        "emerged": BLANK,
        "torn": BLANK,
        "piping": BLANK,
        "log_bees": BLANK,
    }
    return Look(**(plain | change))


def of(**change):
    return likelihood(look(**change), MIDDLE)[0, 0]


def looked_all():
    return {"stages_looked": np.ones((1, len(STAGES)), dtype=bool)}


def oldest(stage):
    flags = np.zeros((1, len(STAGES)), dtype=bool)
    flags[0, STAGES.index(stage)] = True
    return looked_all() | {"oldest": flags}


def test_a_blank_note_says_nothing():
    np.testing.assert_array_equal(of(), 1.0)


def test_looked_and_none_speaks_against_sealed_cells_more_than_against_eggs():
    chance = of(**looked_all())
    assert chance[IDLE] > chance[CELLS][1] > chance[CELLS][10] > 0


@pytest.mark.parametrize(
    ("stage", "age"), [("egg", 1), ("small-larva", 4), ("large-larva", 6), ("capped", 10)]
)
def test_a_stage_speaks_most_for_the_ages_it_has(stage, age):
    cells = of(**oldest(stage))[CELLS]
    assert abs(int(cells[:20].argmax()) - age) <= 2


def test_cells_speak_for_preparation():
    chance = of(**oldest("large-larva"))
    assert chance[CELLS][6] > 20 * chance[IDLE]
    assert chance[CELLS][6] > chance[ABANDONED] > chance[IDLE]


def test_a_few_cells_of_one_age_speak_less_for_swarming():
    plain, like_supersedure = (
        of(**oldest("capped"), supersedure=np.array([s])) for s in (False, True)
    )
    less = like_supersedure[CELLS][10] / like_supersedure[IDLE]
    # one pair of chances tells both looks apart, so they are equal but for rounding
    assert less <= plain[CELLS][10] / plain[IDLE] / 5 * (1 + 1e-9)


def test_many_cells_speak_more_for_swarming_than_few():
    few, many = (of(**oldest("capped"), few_cells=np.array([f])) for f in (1.0, 0.0))
    assert many[CELLS][10] / many[IDLE] > few[CELLS][10] / few[IDLE]


def test_eggs_say_that_a_queen_laid_within_three_days():
    chance = of(eggs=np.array([1.0]))
    assert chance[GONE][1] > 0.5
    assert chance[GONE][8] < 0.1
    # a new queen lays by day 28: derived from the queen's timeline
    assert chance[GONE][-1] > 0.5


def test_piping_speaks_for_waiting_virgins():
    chance = of(piping=np.array([1.0]))
    assert chance[GONE][9] > 10 * chance[IDLE]


def test_fewer_bees_than_foretold_speak_for_gone_and_more_do_not():
    fallen = of(log_bees=np.array([np.log(0.3)]))
    risen = of(log_bees=np.array([np.log(1.6)]))
    assert fallen[GONE][0] > 10 * fallen[IDLE]
    assert risen[GONE][0] < risen[IDLE]


def test_every_state_stays_possible_under_every_draw():
    many = drawn(EVIDENCE, draws=32, seed=1)
    notes = look(
        **oldest("ripe"), eggs=np.array([1.0]), queen=np.array([0.0]), torn=np.array([1.0])
    )
    chance = likelihood(notes, many)
    assert (chance > 0).all()
    assert np.isfinite(chance).all()
