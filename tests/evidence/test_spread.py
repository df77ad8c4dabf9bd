"""Points are spread as a Sobol net, whether they are kept or drawn now."""

import numpy as np
import pytest

from swarmwatch.evidence import load_evidence, spread_points
from swarmwatch.evidence.spread import KEPT, kept_name
from swarmwatch.swarming.parameters import uncertain
from swarmwatch.swarming.score import DRAWS, SEED

DIMENSIONS = len(uncertain(load_evidence()))


def test_the_points_of_the_shipped_numbers_are_kept_and_no_others():
    name = kept_name(DIMENSIONS, draws=DRAWS, seed=SEED)
    assert [p.name for p in KEPT.iterdir()] == [name], "run python tests/keep_draws.py"


@pytest.mark.parametrize("seed", [SEED, SEED + 1], ids=["kept", "drawn now"])
def test_each_number_has_one_draw_in_every_part_of_its_range(seed):
    places = np.floor(spread_points(DIMENSIONS, draws=DRAWS, seed=seed) * DRAWS)
    # Sobol 1967: of 2^m points each dimension has one in every 2^m-th
    every = np.repeat(np.arange(DRAWS)[:, None], DIMENSIONS, axis=1)
    np.testing.assert_array_equal(np.sort(places, axis=0), every)
    # and no two numbers move together
    assert np.unique(places, axis=1).shape == places.shape
