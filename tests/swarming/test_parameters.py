import subprocess
import sys

import numpy as np

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.parameters import central, drawn

EVIDENCE = load_evidence()


def test_the_central_set_is_the_evidence():
    assert central(EVIDENCE)["cells.sealing_age"] == EVIDENCE.value("cells.sealing_age")


def test_equal_seeds_give_equal_draws_and_others_do_not():
    a, b, c = (drawn(EVIDENCE, draws=8, seed=s)["cells.sealing_age"] for s in (1, 1, 2))
    np.testing.assert_array_equal(a, b)
    assert not np.array_equal(a, c)


def test_draws_spread_over_the_stated_range():
    entry = EVIDENCE["preparation.crowding_effect"]
    values = drawn(EVIDENCE, draws=256, seed=3)[entry.key]
    inside = ((values >= entry.low) & (values <= entry.high)).mean()
    assert abs(inside - 0.8) < 0.02
    assert abs(np.median(values) - entry.value) < 0.05


def test_a_fixed_number_is_the_same_in_every_draw():
    values = drawn(EVIDENCE, draws=8, seed=1)["cells.stage_spread"]
    assert np.ptp(values) == 0


def test_a_score_does_without_the_slow_half_of_scipy():
    code = (
        "import sys, pandas as pd; from swarmwatch import score_colonies;"
        "row = {'colony': ['A'], 'apiary': ['Home'], 'hive_type': ['zander-10']};"
        "score_colonies(pd.DataFrame(row), None, None, '2026-05-14');"
        "sys.exit('scipy.stats' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, timeout=60)  # noqa: S603
    assert done.returncode == 0
