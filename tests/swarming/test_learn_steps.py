"""The level is learned first, the other numbers only where they foretell other seasons better."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import expit
from sklearn.linear_model import LogisticRegression

from swarmwatch.swarming.learn_likelihood import BASE_RATE, LEARNT, Normal
from swarmwatch.swarming.learn_steps import learn_in_steps, untouched

LEVEL = LEARNT.index(BASE_RATE)
OTHERS = [i for i in range(len(LEARNT)) if i != LEVEL]
SEASONS, COLONIES = 4, 60
# middle and scale off 0 and 1, so that a slip between a number and its deviations shows
PRIOR = Normal(middle=np.array([-1.0, 3.0, 0.5, 0.0, 0.0]), sd=np.array([0.5, 2.0, 0.4, 8.0, 0.6]))


@dataclass
class Straight:
    """Stands in for the past: chances whose logits are straight lines in the numbers."""

    ways: np.ndarray
    rows: pd.DataFrame

    def logits(self, points, sd):
        assert np.broadcast_to(sd, points.shape).shape == points.shape
        return (points - PRIOR.middle) / PRIOR.sd @ self.ways


def past_of(moved, *, seed=1, weight=1.0):
    """Return outcomes drawn with numbers so many prior deviations off the published ones."""
    rng = np.random.default_rng(seed)
    size = SEASONS * COLONIES
    ways = rng.normal(size=(len(LEARNT), size))
    ways[LEVEL] = 1
    rows = pd.DataFrame(
        {
            "colony": np.tile([f"C{i}" for i in range(COLONIES)], SEASONS),
            "season": np.repeat(np.arange(2021, 2021 + SEASONS), COLONIES),
            "swarmed": (rng.random(size) < expit(np.asarray(moved) @ ways)).astype(float),
            "weight": weight,
        }
    )
    return Straight(ways=ways, rows=rows)


def moved(learning):
    """Return how far the numbers moved, in deviations of the prior."""
    return (learning.found.middle - PRIOR.middle) / PRIOR.sd


def test_where_only_the_level_differs_the_level_alone_is_learned():
    learning = learn_in_steps(past_of([-2, 0, 0, 0, 0]), PRIOR)
    assert learning.better
    assert not learning.whole
    np.testing.assert_array_equal(moved(learning)[OTHERS], 0)
    assert moved(learning)[LEVEL] < -1


def test_a_number_held_keeps_its_published_spread():
    learning = learn_in_steps(past_of([-2, 0, 0, 0, 0]), PRIOR)
    np.testing.assert_allclose(learning.found.sd[OTHERS], PRIOR.sd[OTHERS], rtol=1e-12)
    assert learning.found.sd[LEVEL] < PRIOR.sd[LEVEL]


def test_where_another_number_differs_all_are_learned():
    learning = learn_in_steps(past_of([-2, 2, 0, 0, 0]), PRIOR)
    assert learning.better
    assert learning.whole
    assert moved(learning)[1] > 1


def test_all_are_learned_where_the_level_alone_would_not_help():
    learning = learn_in_steps(past_of([0, 2, 0, 0, 0]), PRIOR)
    assert learning.better
    assert learning.whole


def test_where_the_published_numbers_hold_they_are_kept():
    # by chance one in six gains more than its standard error, were the numbers not held by a prior
    kept = [not learn_in_steps(past_of(np.zeros(5), seed=s), PRIOR).better for s in range(20)]
    assert np.mean(kept) > 0.6


def test_all_together_are_the_penalised_logistic_regression_of_scikit_learn():
    # scikit-learn's ridge with C = 1 has the same penalty, half the sum of squares
    past = past_of([-1, 2, 0.5, 0, -1], weight=0.7)
    model = LogisticRegression(C=1, fit_intercept=False, tol=1e-10)
    model.fit(past.ways.T, past.rows["swarmed"], sample_weight=past.rows["weight"])
    learning = learn_in_steps(past, PRIOR)
    assert learning.whole
    np.testing.assert_allclose(moved(learning), model.coef_[0], atol=1e-4)


def test_the_losses_are_those_of_regressions_on_the_other_seasons():
    past = past_of([-1, 2, 0.5, 0, -1])
    losses = learn_in_steps(past, PRIOR).losses.set_index(["season", "colony"])
    for year in past.rows["season"].unique():
        out = (past.rows["season"] == year).to_numpy()
        model = LogisticRegression(C=1, fit_intercept=False, tol=1e-10)
        model.fit(past.ways.T[~out], past.rows["swarmed"][~out])
        chance = model.predict_proba(past.ways.T[out])
        own = past.rows[out].assign(
            loss=-np.log(chance[np.arange(out.sum()), past.rows["swarmed"][out].astype(int)])
        )
        expected = own.set_index(["season", "colony"])["loss"]
        np.testing.assert_allclose(losses.loc[expected.index, "learned"], expected, atol=1e-4)
    np.testing.assert_allclose(losses["published"], np.log(2), rtol=1e-12)


def test_one_season_is_fitted_but_never_used():
    past = past_of([-2, 0, 0, 0, 0])
    one = (past.rows["season"] == 2021).to_numpy()
    alone = Straight(ways=past.ways[:, one], rows=past.rows[one].reset_index(drop=True))
    learning = learn_in_steps(alone, PRIOR)
    assert not learning.better
    assert learning.losses.empty
    assert moved(learning)[LEVEL] < 0


def test_a_single_colony_season_left_out_proves_nothing():
    # a standard error needs two
    past = past_of([-2, 0, 0, 0, 0])
    alone = Straight(ways=past.ways[:, :1], rows=past.rows.iloc[:1])
    assert not learn_in_steps(alone, PRIOR).better


def test_nothing_is_learned_from_nothing():
    learning = untouched(PRIOR)
    assert not learning.better
    np.testing.assert_array_equal(learning.found.middle, PRIOR.middle)
    np.testing.assert_array_equal(learning.found.sd, PRIOR.sd)
