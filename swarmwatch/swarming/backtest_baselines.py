"""What would simpler or trained forecasts have said on the same rows?

None of them sees the season that it forecasts: the base rate and the trained model learn from the
other seasons, the rule of thumb learns nothing.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence, load_evidence

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
# the forecasts that are compared: name to the start of their columns
RIVALS = {"score": "p", "base rate": "base", "rule of thumb": "rule", "trained model": "trained"}
# by the place of the oldest cell in the order of stages
_STAGES = ("egg", "larva", "larva", "sealed", "sealed", "emerged")
# numerical: settings of the trained model; how many trees it grows is chosen on seasons left out
_TREES = 160
_LEARNING_RATE = 0.05  # numerical
_LEAVES = (4, 8)
_LEAST_A_LEAF = 15
_SHRINKAGE = 2.0
_FORESTS = 3


def with_rivals(
    frame: pd.DataFrame,
    *,
    horizons: Sequence[int] = (7, 14),
    evidence: Evidence | None = None,
    seed: int = 0,
) -> pd.DataFrame:
    """Add the rivals' forecasts to the rows of a replay.

    Parameters
    ----------
    frame
        Rows of `replay` with features, of one keeper or one simulated world.
    horizons
        Days to look ahead [d].
    evidence
        The numbers; the shipped ones by default.
    seed
        Seed of the trained model.

    Returns
    -------
    The rows with ``base_7d``, ``rule_7d``, ``trained_7d`` and so on. Base rate and trained model
    are NaN where there is no other season; where the others saw no swarm, or nothing but, the
    trained model says the base rate.
    """
    evidence = evidence or load_evidence()
    out = frame.copy()
    for horizon in horizons:
        out[f"rule_{horizon}d"] = rule_of_thumb(frame, horizon, evidence=evidence)
        usual = base_rate(frame, horizon, evidence=evidence)
        trained = trained_model(frame, horizon, seed=seed)
        out[f"base_{horizon}d"] = usual
        out[f"trained_{horizon}d"] = np.where(np.isnan(trained), usual, trained)
    return out


def forecasts_in(frame: pd.DataFrame) -> dict[str, str]:
    """Return the forecasts that stand in the rows, as `RIVALS`: the learned score where it does."""
    learned = {"score, learned": "learned"} if "learned_7d" in frame else {}
    return {"score": RIVALS["score"], **learned, **RIVALS}


def rule_of_thumb(frame: pd.DataFrame, horizon: int, *, evidence: Evidence) -> Floats:
    """Return the chance (n,) by the oldest queen cell of the last look and that look's age.

    A stage's chance fades towards the background as the look ages; the background follows the
    season. Source: evidence ``backtest.rule_*``.
    """
    background = evidence.value(f"backtest.rule_background_{horizon}d") * _numbers(
        frame, "season_weight"
    )
    chance = {
        name: evidence.value(f"backtest.rule_{name}_{horizon}d") for name in dict.fromkeys(_STAGES)
    }
    stage = _numbers(frame, "stage")
    fresh = background.copy()
    for place, name in enumerate(_STAGES):
        fresh = np.where(stage == place, chance[name], fresh)
    age = np.nan_to_num(_numbers(frame, "inspection_age_d"))
    kept = 0.5 ** (age / evidence.value("backtest.rule_half_life"))
    return np.asarray(background + np.maximum(fresh - background, 0) * kept)


def base_rate(frame: pd.DataFrame, horizon: int, *, evidence: Evidence) -> Floats:
    """Return how often (n,) a swarm followed the same time of other seasons.

    Days near each other in the season count together, by a normal weight of
    ``backtest.base_rate_window`` days; ``backtest.base_rate_pull`` rows of the seasons' common
    rate steady it where there are few.
    """
    width = evidence.value("backtest.base_rate_window")
    pull = evidence.value("backtest.base_rate_pull")
    day = _numbers(frame, "days_from_peak")
    happened = _numbers(frame, f"swarmed_{horizon}d")
    out = np.full(len(frame), np.nan)
    for test, train in left_out(frame, happened):
        # half a swarm and half a none more: never quite 0 or 1 (Jeffreys 1946)
        rate = (happened[train].sum() + 0.5) / (train.sum() + 1)
        days, place = np.unique(day[test], return_inverse=True)
        weight = np.exp(-0.5 * ((days[:, None] - day[train]) / width) ** 2)
        by_day = (weight @ happened[train] + pull * rate) / (weight.sum(axis=1) + pull)
        out[test] = by_day[place]
    return out


def left_out(frame: pd.DataFrame, happened: Floats) -> Iterator[tuple[Flags, Flags]]:
    """Yield the rows (n,) of each season, and the labelled rows of the others to learn from."""
    season = frame["season"].to_numpy()
    for one in pd.unique(season):
        train = (season != one) & ~np.isnan(happened)
        if train.any():
            yield season == one, train


def trained_model(frame: pd.DataFrame, horizon: int, *, seed: int) -> Floats:
    """Return the chance (n,) by gradient boosting on the features, trained on other seasons.

    Leaves and number of trees are chosen by the log loss on seasons left out in turn among the
    training seasons, then several forests on all of them are averaged. NaN where the others hold no
    swarm, or nothing but.
    """
    features = frame[[c for c in frame if str(c).startswith("x_")]].to_numpy(dtype=np.float64)
    happened = _numbers(frame, f"swarmed_{horizon}d")
    out = np.full(len(frame), np.nan)
    with _one_thread():
        for test, train in left_out(frame, happened):
            if not _both(happened[train]):
                continue
            leaves, trees = _chosen(features[train], happened[train], frame[train], seed=seed)
            forests = [
                _grown(features[train], happened[train], leaves=leaves, trees=trees, seed=seed + i)
                for i in range(_FORESTS)
            ]
            out[test] = np.mean([f.predict_proba(features[test])[:, 1] for f in forests], axis=0)
    return out


@contextmanager
def _one_thread() -> Iterator[None]:
    """Keep scikit-learn to one thread.

    On so few rows threads only wait for each other: a hundred times slower on a busy machine.
    """
    # first the library, then the limit: it holds for what is loaded
    import sklearn.ensemble  # noqa: F401
    from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]  # has no types

    with threadpool_limits(1, user_api="openmp"):
        yield


def _grown(features: Floats, happened: Floats, *, leaves: int, trees: int, seed: int):  # type: ignore[no-untyped-def]  # noqa: ANN202 - scikit-learn has no types
    from sklearn.ensemble import HistGradientBoostingClassifier

    # a column that nobody filled can't be cut into bins; made constant it is never split on
    features = np.where(np.isnan(features).all(axis=0), 0.0, features)
    # half of the columns are offered at each split: forests that differ average well
    return HistGradientBoostingClassifier(
        learning_rate=_LEARNING_RATE,
        max_iter=trees,
        max_leaf_nodes=leaves,
        min_samples_leaf=_LEAST_A_LEAF,
        l2_regularization=_SHRINKAGE,
        max_features=0.5,
        early_stopping=False,
        random_state=seed,
    ).fit(features, happened)


def _chosen(
    features: Floats, happened: Floats, rows: pd.DataFrame, *, seed: int
) -> tuple[int, int]:
    """Return the leaves and trees that did best on seasons left out among the training ones."""
    folds = [fold for fold in left_out(rows, happened) if _both(happened[fold[1]])]
    if not folds:
        return _LEAVES[0], _TREES // 2
    best = (np.inf, _LEAVES[0], _TREES // 2)
    for leaves in _LEAVES:
        loss = np.zeros(_TREES)
        for test, train in folds:
            model = _grown(features[train], happened[train], leaves=leaves, trees=_TREES, seed=seed)
            # a sum, not a mean: a fold counts by its rows
            for i, chance in enumerate(model.staged_predict_proba(features[test])):
                given = np.where(happened[test] == 1, chance[:, 1], chance[:, 0])
                loss[i] -= np.log(np.maximum(given, 1e-9)).sum()
        trees = int(loss.argmin()) + 1
        best = min(best, (float(loss[trees - 1]), leaves, trees))
    return best[1], best[2]


def _both(happened: Floats) -> bool:
    """Say whether there are swarms and nones to tell apart."""
    return bool(0 < happened.mean() < 1)


def _numbers(frame: pd.DataFrame, column: str) -> Floats:
    return frame[column].to_numpy(dtype=np.float64, na_value=np.nan)
