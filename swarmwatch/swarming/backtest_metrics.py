"""How good are forecasts that a swarm leaves within some days?"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logit

Floats = NDArray[np.float64]
_RESAMPLES = 100
_BINS = 10
# the last look is old after this many days: the longest gap design asks for in season, definition
_OLD_LOOK_D = 9
_NOTHING = np.nan


def metrics(
    frame: pd.DataFrame,
    horizon: int,
    *,
    forecast: str | None = None,
    climatology: str | None = None,
    seed: int | None = None,
) -> dict[str, float]:
    """Say how good a forecast was.

    Parameters
    ----------
    frame
        Rows of `replay`; those whose label or forecast is NaN are left out.
    horizon
        Days [d].
    forecast
        Column of the forecast; ``p_7d`` and so on by default.
    climatology
        Column of the base rate as it was known from other seasons, to measure the skill against;
        by default the rate of these very rows, which is harder to beat.
    seed
        Seed of a bootstrap by colony and season, which adds ``brier_skill_error`` and
        ``roc_area_error`` (standard errors); None leaves it out.

    Returns
    -------
    ``n``, ``swarms`` (rows followed by a swarm), ``rate``, ``mean``, ``mean_to_rate``, ``brier``,
    ``brier_skill``, ``log_loss``, ``roc_area``, ``slope`` and ``intercept`` of the reliability
    (logistic regression of what happened on the logit of the forecast; 1 and 0 are right, a slope
    below 1 is overconfident). NaN where it can't be computed.
    """
    forecast = forecast or f"p_{horizon}d"
    said = _floats(frame, forecast)
    happened = _floats(frame, f"swarmed_{horizon}d")
    usual = np.zeros(len(frame)) if climatology is None else _floats(frame, climatology)
    use = ~(np.isnan(said) | np.isnan(happened) | np.isnan(usual))
    said, happened, usual = said[use], happened[use], usual[use]
    out = _measures(said, happened, None if climatology is None else usual)
    if seed is not None:
        out |= _errors(
            frame[use], said, happened, None if climatology is None else usual, seed=seed
        )
    return out


def _floats(frame: pd.DataFrame, column: str) -> Floats:
    return frame[column].to_numpy(dtype=np.float64, na_value=np.nan)


def _measures(said: Floats, happened: Floats, usual: Floats | None) -> dict[str, float]:
    from sklearn.metrics import brier_score_loss, log_loss, roc_auc_score

    n, swarms = len(said), float(happened.sum())
    out = {"n": float(n), "swarms": swarms}
    names = ("rate", "mean", "mean_to_rate", "brier", "brier_skill", "log_loss")
    out |= dict.fromkeys((*names, "roc_area", "slope", "intercept"), _NOTHING)
    if n == 0:
        return out
    rate, mean = happened.mean(), said.mean()
    brier = float(brier_score_loss(happened, said, pos_label=1))
    base = float(np.mean((happened - (rate if usual is None else usual)) ** 2))
    out |= {"rate": float(rate), "mean": float(mean), "brier": brier}
    out["log_loss"] = float(log_loss(happened, said, labels=[0.0, 1.0]))
    if base > 0:
        out["brier_skill"] = 1 - brier / base
    if 0 < swarms < n:
        out["mean_to_rate"] = float(mean / rate)
        out["roc_area"] = float(roc_auc_score(happened, said))
        out["slope"], out["intercept"] = _recalibration(said, happened)
    return out


def _recalibration(said: Floats, happened: Floats) -> tuple[float, float]:
    """Return slope and intercept of the unpenalised logistic regression on the logit."""
    from sklearn.linear_model import LogisticRegression

    log_odds = _log_odds(said)
    if np.ptp(log_odds) == 0:
        return _NOTHING, _NOTHING
    # separated classes have no finite slope
    swarm, none = log_odds[happened == 1], log_odds[happened == 0]
    if swarm.min() >= none.max():
        return _NOTHING, _NOTHING
    model = LogisticRegression(C=np.inf, max_iter=1000).fit(log_odds[:, None], happened)
    return float(model.coef_[0, 0]), float(model.intercept_[0])


def _log_odds(chance: Floats) -> Floats:
    return np.asarray(logit(np.clip(chance, 1e-6, 1 - 1e-6)))


def _errors(
    frame: pd.DataFrame,
    said: Floats,
    happened: Floats,
    usual: Floats | None,
    *,
    seed: int,
) -> dict[str, float]:
    """Return standard errors: whole colony seasons are drawn anew, since their days hang together.

    A draw in which every row, or none, is followed by a swarm is left out.
    """
    keys = ["colony", "season", *(["world"] if "world" in frame else [])]
    group = frame.groupby(keys, sort=False).ngroup().to_numpy()
    groups = int(group.max(initial=-1)) + 1
    out = dict.fromkeys(("brier_skill_error", "roc_area_error"), _NOTHING)
    if groups < 2:
        return out
    rng = np.random.default_rng(seed)
    drawn = [rng.integers(groups, size=groups) for _ in range(_RESAMPLES)]
    times = np.stack([np.bincount(d, minlength=groups) for d in drawn])[:, group]
    swarms, rows = times @ happened, times.sum(axis=1)
    use = (swarms > 0) & (swarms < rows)
    if use.sum() < 2:
        return out
    times, rate = times[use], (swarms / rows)[use]
    base = rate * (1 - rate) if usual is None else times @ (happened - usual) ** 2 / rows[use]
    skills = 1 - times @ (happened - said) ** 2 / rows[use] / base
    areas = _weighted_areas(said, happened, times)
    return {
        "brier_skill_error": float(np.std(skills, ddof=1)),
        "roc_area_error": float(np.std(areas, ddof=1)),
    }


def _weighted_areas(said: Floats, happened: Floats, times: Floats) -> Floats:
    """Return the ROC area (n_draws,) of rows that count `times` (n_draws, n_rows) each.

    It is the chance that a row with a swarm was given the higher forecast than one without, a tie
    counting half (Mann and Whitney 1947): all draws at once, where scikit-learn sorts each anew.
    """
    order = np.argsort(said, kind="stable")
    first = np.flatnonzero(np.diff(said[order], prepend=-np.inf))
    with_swarm, without = (
        np.add.reduceat((times * which)[:, order], first, axis=1)
        for which in (happened, 1 - happened)
    )
    lower = np.cumsum(without, axis=1) - without / 2
    pairs = with_swarm.sum(axis=1) * without.sum(axis=1)
    return np.asarray((with_swarm * lower).sum(axis=1) / pairs)


def reliability(
    frame: pd.DataFrame, horizon: int, *, forecast: str | None = None, bins: int = _BINS
) -> pd.DataFrame:
    """Compare what was said with what happened, in groups of like forecasts.

    Parameters
    ----------
    frame, horizon, forecast
        As for `metrics`.
    bins
        Groups of equal width on the scale of the chance.

    Returns
    -------
    ``from``, ``to``, ``n``, ``mean`` (forecast), ``rate`` (happened), ``rate_low``, ``rate_high``
    (Wilson's 95 % interval), for groups that hold any row.

    Notes
    -----
    Rows of one colony hang together, so the true interval is wider.
    """
    from scipy.stats import binomtest

    said, happened = (
        _floats(frame, forecast or f"p_{horizon}d"),
        _floats(frame, f"swarmed_{horizon}d"),
    )
    use = ~(np.isnan(said) | np.isnan(happened))
    said, happened = said[use], happened[use]
    place = np.minimum((said * bins).astype(np.int64), bins - 1)
    rows = []
    for i in np.unique(place):
        here = place == i
        swarms, n = int(happened[here].sum()), int(here.sum())
        interval = binomtest(swarms, n).proportion_ci(method="wilson")
        rows.append(
            [
                i / bins,
                (i + 1) / bins,
                n,
                said[here].mean(),
                swarms / n,
                interval.low,
                interval.high,
            ]
        )
    return pd.DataFrame(rows, columns=["from", "to", "n", "mean", "rate", "rate_low", "rate_high"])


def summary(
    frame: pd.DataFrame,
    forecasts: Mapping[str, str],
    *,
    horizons: Sequence[int] = (7, 14),
    seed: int | None = None,
) -> pd.DataFrame:
    """Compare forecasts on the same rows.

    Parameters
    ----------
    frame
        Rows of `replay` with the rivals' columns.
    forecasts
        Name to start of the column: ``{"score": "p", "rule of thumb": "rule"}`` reads ``p_7d``,
        ``rule_7d`` and so on. Rows in which any of those that give chances at all has a NaN are
        left out for all.
    horizons, seed
        As for `metrics`.

    Returns
    -------
    One row a forecast and horizon: ``forecast``, ``horizon_d`` and the columns of `metrics`.
    """
    rows: list[dict[str, Any]] = []
    for horizon in horizons:
        columns = {name: f"{start}_{horizon}d" for name, start in forecasts.items()}
        given = {name: c for name, c in columns.items() if c in frame and frame[c].notna().any()}
        same = frame.dropna(subset=[*given.values(), f"swarmed_{horizon}d"])
        for name, column in columns.items():
            part = same if name in given else same.assign(**{column: np.nan}).iloc[:0]
            found = metrics(part, horizon, forecast=column, seed=seed)
            rows.append({"forecast": name, "horizon_d": horizon, **found})
    return pd.DataFrame(rows)


def by_kind_of_look(
    frame: pd.DataFrame, horizon: int, *, forecast: str | None = None
) -> pd.DataFrame:
    """Say how good a forecast was by what the last look saw and by how old that look is.

    Returns
    -------
    ``look`` (``no look``, ``not looked for cells``, ``no cells``, ``egg`` ... ``emerged``, each
    of these ``fresh`` or ``old``, over 9 days), and the columns of `metrics`.
    """
    stage = _floats(frame, "stage")
    never = frame["inspected_on"].isna().to_numpy(dtype=bool)
    names = ("egg", "larva", "larva", "capped", "capped", "emerged")
    kind = np.full(len(frame), "not looked for cells", dtype=object)
    kind[stage == -1] = "no cells"
    for place, name in enumerate(names):
        kind[stage == place] = name
    old = _floats(frame, "inspection_age_d") > _OLD_LOOK_D
    look = np.where(old, kind + ", old look", kind + ", fresh look")
    look[never] = "no look"
    return pd.DataFrame(
        [
            {"look": name, **metrics(frame[look == name], horizon, forecast=forecast)}
            for name in sorted(set(look))
        ]
    )
