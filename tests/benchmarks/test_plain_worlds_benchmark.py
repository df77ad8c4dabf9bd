"""How good is the score in worlds of another make? Prints a table; asserts only its shape.

`pytest tests/benchmarks/test_plain_worlds_benchmark.py -n0 --benchmark-enable -s`
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.backtest import replay, season_days, summary, with_rivals
from swarmwatch.swarming.backtest_known import joined
from swarmwatch.swarming.backtest_learned import with_learned_score
from swarmwatch.tables import TABLES, conform

sys.path.append(str(Path(__file__).parents[1] / "swarming"))
from plain_worlds import WORLDS, seasons

SHOWN = ["forecast", "horizon_d", "rate", "brier_skill", "roc_area", "slope", "mean_to_rate"]
RIVALS = {"score": "p", "rule of thumb": "rule", "trained model": "trained"}
EVIDENCE = load_evidence()


def compared(world, *, colonies, every, hives):
    """Replay a world on an evening of every so many days; return a row a forecast and horizon.

    The score is told nothing, and what so many hives of each other season teach it.
    """
    made = seasons(world, colonies=colonies, rng=np.random.default_rng(5))
    known = {year: (tables, truth) for year, tables, truth in made}
    parts = []
    for year, tables, truth in made:
        days = season_days(tables, seasons=[year], every=every)
        parts.append(replay(tables, days=days, truth=truth, with_features=True))
    rows = with_rivals(pd.concat(parts, ignore_index=True), seed=1)
    shown = dict(RIVALS)

    def again(season, evenings, evidence):
        tables, truth = known[season]
        return replay(tables, days=evenings, truth=truth, evidence=evidence)

    for count in hives:
        own = own_records(made, hives=count)
        said = with_learned_score(rows, own, again=again, evidence=EVIDENCE)
        for horizon in (7, 14):
            rows[f"hives{count}_{horizon}d"] = said[f"learned_{horizon}d"].to_numpy()
        shown[f"score, learned from {count} hives"] = f"hives{count}"
    return summary(rows, shown)[SHOWN]


def own_records(made, *, hives):
    """Return the records of a keeper who has so many of each season's colonies, with outcomes."""
    rng = np.random.default_rng(hives)
    mine = {
        c for _, t, _ in made for c in rng.choice(t["colonies"]["colony"], hives, replace=False)
    }
    parts = []
    for year, tables, truth in made:
        swarmed = truth["prime_on"].notna()
        outcome = pd.DataFrame(
            {
                "colony": truth["colony"],
                "season": year,
                "outcome": np.where(swarmed, "swarmed", "no-swarm"),
                "date": truth["prime_on"],
            }
        )
        parts.append({**tables, "outcomes": conform(outcome, TABLES["outcomes"])})
    return {
        name: table[table["colony"].isin(mine)].reset_index(drop=True)
        if "colony" in table
        else table
        for name, table in joined(parts).items()
    }


def test_the_score_beside_its_rivals(benchmark):
    # plainly run, one world of few colonies and evenings is enough, and nothing is learned
    small, large = (
        {"colonies": 2, "every": 60, "hives": ()},
        {"colonies": 150, "every": 7, "hives": (3,)},
    )
    size = large if benchmark.enabled else small
    worlds = WORLDS if benchmark.enabled else {"usual": WORLDS["usual"]}

    def all_worlds():
        return {name: compared(world, **size) for name, world in worlds.items()}

    for name, found in benchmark.pedantic(all_worlds).items():
        print(f"\n{name}\n{found.round(3).to_string(index=False)}")  # noqa: T201
        assert len(found) == 2 * (len(RIVALS) + len(size["hives"]))
