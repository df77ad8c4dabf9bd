"""The score in seasons of another make (`plain_worlds`), beside the rule of thumb."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from plain_worlds import WORLDS, seasons
from sklearn.metrics import brier_score_loss

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming import backtest
from swarmwatch.swarming.backtest_baselines import rule_of_thumb


@pytest.fixture(scope="module")
def rows():
    """Evenings of four seasons whose keepers leave half of what they may leave blank."""
    world = replace(WORLDS["usual"], blank=0.5)
    parts = []
    for year, tables, truth in seasons(world, colonies=30, rng=np.random.default_rng(5)):
        days = backtest.season_days(tables, seasons=[year], every=14)
        parts.append(backtest.replay(tables, days=days, truth=truth))
    return pd.concat(parts, ignore_index=True)


@pytest.mark.parametrize("horizon", [7, 14])
def test_with_half_of_the_columns_blank_the_score_beats_the_rule_of_thumb(rows, horizon):
    rule = rule_of_thumb(rows, horizon, evidence=load_evidence())
    happened, said = rows[f"swarmed_{horizon}d"], rows[f"p_{horizon}d"]
    assert happened.sum() > 20
    assert brier_score_loss(happened, said) < brier_score_loss(happened, rule)


def test_the_same_seed_makes_the_same_seasons():
    first, again = (
        seasons(WORLDS["few swarm"], colonies=2, rng=np.random.default_rng(1)) for _ in range(2)
    )
    for (_, tables, truth), (_, others, same) in zip(first, again, strict=True):
        pd.testing.assert_frame_equal(truth, same)
        pd.testing.assert_frame_equal(tables["inspections"], others["inspections"])
