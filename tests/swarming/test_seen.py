import numpy as np
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.belief import ABANDONED, CELLS, GONE, IDLE
from swarmwatch.swarming.departure import STAGES
from swarmwatch.swarming.parameters import central, drawn
from swarmwatch.swarming.seen import MANY_CELLS, Look, likelihood

EVIDENCE = load_evidence()
MIDDLE = central(EVIDENCE)
BLANK = np.array([np.nan])


def look(**change):
    plain = {
        "stages_looked": np.zeros((1, len(STAGES)), dtype=bool),
        "oldest": np.zeros((1, len(STAGES)), dtype=bool),
        "cells": BLANK,
        "one_age": BLANK,
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
    assert chance[CELLS][6] > 20 * chance[ABANDONED]


def test_eggs_left_of_cells_given_up_are_met_more_often_than_a_glint_in_a_cup():
    chance = of(**oldest("egg"))
    assert chance[CELLS][1] > chance[ABANDONED] > chance[IDLE]


def test_sealed_cells_were_rarely_given_up():
    # sealed cells are near commitment: Allen 1965, as reported in Free 1987
    egg, sealed = (of(**oldest(stage))[ABANDONED] for stage in ("egg", "capped"))
    assert sealed < egg / 10


def against_idle(**noted):
    chance = of(**oldest("capped"), **noted)
    return chance[CELLS][10] / chance[IDLE]


def counted(number):
    return {"cells": np.array([float(number)])}


def test_a_few_cells_of_one_age_speak_less_for_swarming_than_of_several():
    one, several = (against_idle(**counted(2), one_age=np.array([o])) for o in (1.0, 0.0))
    assert one < against_idle(**counted(2)) < several
    assert one <= against_idle() / 5


def test_a_single_cell_tells_no_more_by_its_one_age():
    assert against_idle(**counted(1), one_age=np.array([1.0])) == against_idle(**counted(1))


def test_each_cell_more_speaks_more_for_swarming_up_to_ten():
    weights = [against_idle(**counted(n)) for n in range(1, 15)]
    assert np.all(np.diff(weights[:10]) > 0)
    assert len(set(weights[9:])) == 1


def test_half_a_dozen_cells_speak_for_swarming_and_two_or_three_against():
    # swarm cells are rarely fewer than 5 or 6, supersedure cells usually 2 or 3: Welsh
    # Beekeepers' Association; common practice, no source
    plain = against_idle()
    assert against_idle(**counted(6)) > plain > against_idle(**counted(3))


def test_many_cells_without_eggs_or_queen_may_be_of_a_lost_queen():
    # emergency cells: often 5 to 20 on several combs, no eggs, the queen gone; from memory
    lost = {"eggs": np.array([0.0]), "queen": np.array([0.0])}
    there = {"eggs": np.array([1.0]), "queen": np.array([1.0])}
    assert against_idle(**counted(8), **lost) < against_idle(**counted(8), **there)


def test_the_chances_of_the_numbers_that_may_be_counted_sum_to_that_of_the_stage():
    each = sum(of(**oldest("capped"), **counted(n)) for n in range(1, MANY_CELLS + 1))
    np.testing.assert_allclose(each, of(**oldest("capped")), rtol=1e-12)


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
