"""How good is the score in worlds of another make? Prints a table; asserts only its shape.

`pytest tests/benchmarks/test_plain_worlds_benchmark.py -n0 --benchmark-enable -s`
"""

import functools
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from swarmwatch.swarming.backtest import replay, season_days, summary, with_rivals
from swarmwatch.swarming.score import score_colonies

sys.path.append(str(Path(__file__).parents[1] / "swarming"))
from plain_worlds import WORLDS, seasons

SHOWN = ["forecast", "horizon_d", "rate", "brier_skill", "roc_area", "slope", "mean_to_rate"]
RIVALS = {"score": "p", "rule of thumb": "rule", "trained model": "trained"}


def compared(world, *, colonies, every):
    """Replay a world on an evening of every so many days; return a row a forecast and horizon."""
    score = functools.partial(score_colonies, words=False)
    parts = []
    for year, tables, truth in seasons(world, colonies=colonies, rng=np.random.default_rng(5)):
        days = season_days(tables, seasons=[year], every=every)
        parts.append(replay(tables, days=days, truth=truth, with_features=True, score=score))
    rows = with_rivals(pd.concat(parts, ignore_index=True), seed=1)
    return summary(rows, RIVALS)[SHOWN]


def test_the_score_beside_its_rivals(benchmark):
    # plainly run, one world of few colonies and evenings is enough
    size = {"colonies": 150, "every": 7} if benchmark.enabled else {"colonies": 2, "every": 60}
    worlds = WORLDS if benchmark.enabled else {"usual": WORLDS["usual"]}

    def all_worlds():
        return {name: compared(world, **size) for name, world in worlds.items()}

    for name, found in benchmark.pedantic(all_worlds).items():
        print(f"\n{name}\n{found.round(3).to_string(index=False)}")  # noqa: T201
        assert len(found) == 2 * len(RIVALS)
