"""How far do own outcomes carry the numbers? First the level, then all, as far as it helps."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import expit

from swarmwatch.swarming.learn_likelihood import BASE_RATE, LEARNT, Past, Prior

__all__ = ["Found", "Learning", "learn_in_steps", "untouched"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
# numerical: how often the chances are drawn anew as straight lines
_ROUNDS = 2
_LEVEL = np.array([key == BASE_RATE for key in LEARNT])
_ALL = np.ones(len(LEARNT), dtype=bool)
_LOSSES = ("season", "colony", "swarms", "published", "learned")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Where the numbers were found to lie, (5,) on the scales of `Prior`, and how surely."""

    point: Floats
    sd: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Learning:
    """What was found, and how well it foretold the seasons left out.

    Attributes
    ----------
    found
        Of the last step that helped; of all numbers together where none did.
    losses
        A row a colony-season left out: ``season``, ``colony``, ``swarms``, ``published``,
        ``learned`` (log losses; of the step of `found`). Empty with fewer than two seasons.
    better
        A step helped.
    whole
        `found` is of all numbers together, not of the level alone.
    """

    found: Found
    losses: pd.DataFrame
    better: bool
    whole: bool


def untouched(prior: Prior) -> Learning:
    """Return what is learned from nothing."""
    found = Found(point=prior.middle, sd=prior.sd)
    return Learning(found=found, losses=pd.DataFrame(), better=False, whole=True)


def learn_in_steps(past: Past, prior: Prior) -> Learning:
    """Free the level, then all numbers; go each step only where it foretells left-out seasons.

    A step is gone if it lowers the log loss of the seasons left out by more than the standard
    error of the gain over colonies and seasons.

    Source: the one-standard-error rule, Breiman, Friedman, Olshen & Stone 1984, Classification
    and Regression Trees.
    """
    steps = [_step(past, prior, free) for free in (_LEVEL, _ALL)]
    losses = _losses(past, prior, steps)
    taken = 0
    for i in range(1, 1 + len(steps)):
        if len(losses) > 1 and _helps((losses[taken] - losses[i]).to_numpy()):
            taken = i
    shown = taken or len(steps)
    learnt = steps[shown - 1]
    return Learning(
        found=learnt.found(past.rows, prior),
        losses=losses.rename(columns={0: "published", shown: "learned"}).filter([*_LOSSES]),
        better=taken > 0,
        whole=bool(learnt.free.all()),
    )


def _losses(past: Past, prior: Prior, steps: list["_Step"]) -> pd.DataFrame:
    """Return each colony-season's losses with the numbers learned from the other seasons.

    ``season``, ``colony``, ``swarms``; 0: with the published numbers; 1, 2, ...: after each step.
    Empty with one season only.
    """
    season = past.rows["season"].to_numpy(dtype=int)
    years = np.unique(season)
    if len(years) < 2:
        return pd.DataFrame()
    swarmed = past.rows["swarmed"].to_numpy(dtype=float)
    weight = past.rows["weight"].to_numpy(dtype=float)
    points = [step.best(past.rows, prior, season != year) for step in steps for year in years]
    logits = past.logits(np.vstack([prior.middle, *points]))
    losses = past.rows[["season", "colony"]].assign(swarms=swarmed)
    at, every = np.searchsorted(years, season), np.arange(len(season))
    for i in range(1 + len(steps)):
        own = logits[1 + (i - 1) * len(years) + at, every] if i else logits[0]
        losses[i] = weight * _log_loss(own, swarmed)
    return losses.groupby(["season", "colony"], as_index=False).sum()


def _helps(gain: Floats) -> bool:
    return bool(gain.mean() > gain.std(ddof=1) / np.sqrt(len(gain)))


def _log_loss(logits: Floats, swarmed: Floats) -> Floats:
    return np.asarray(np.logaddexp(0, logits) - swarmed * logits)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """The numbers that are free, and the chances as straight lines in them.

    `free` is (5,); logits (n_rows,) at `point` (5,) and their slopes (5, n_rows), 0 along the
    numbers that are held.
    """

    free: Flags
    point: Floats
    logits: Floats
    slopes: Floats

    def at(self, point: Floats) -> Floats:
        return self.logits + (point - self.point) @ self.slopes

    def best(self, rows: pd.DataFrame, prior: Prior, used: Flags | None = None) -> Floats:
        """Return the point (5,) of least loss and penalty over the `used` rows, all by default."""
        used = np.ones(len(rows), dtype=bool) if used is None else used
        swarmed = rows["swarmed"].to_numpy(dtype=float)[used]
        weight = rows["weight"].to_numpy(dtype=float)[used]
        slopes = self.slopes[:, used]

        def worth(moved: Floats) -> tuple[float, Floats]:
            logits = self.at(prior.middle + moved * prior.sd)[used]
            loss = float(weight @ _log_loss(logits, swarmed) + moved @ moved / 2)
            slope = (slopes @ (weight * (expit(logits) - swarmed))) * prior.sd
            return loss, slope + moved

        found = minimize(worth, np.zeros(len(LEARNT)), jac=True, method="BFGS")
        return np.asarray(prior.middle + found.x * prior.sd, dtype=np.float64)

    def found(self, rows: pd.DataFrame, prior: Prior) -> Found:
        """Return the best point, and the standard deviations that outcomes and prior leave."""
        point = self.best(rows, prior)
        chance = expit(self.at(point))
        weight = rows["weight"].to_numpy(dtype=float) * chance * (1 - chance)
        slopes = self.slopes * prior.sd[:, None]
        curvature = (slopes * weight) @ slopes.T + np.eye(len(LEARNT))
        return Found(point=point, sd=prior.sd * np.sqrt(np.diag(np.linalg.inv(curvature))))


def _step(past: Past, prior: Prior, free: Flags) -> _Step:
    """Draw the logits as straight lines in the free numbers, over half a prior's deviation."""
    point = prior.middle
    for _ in range(_ROUNDS):
        step = _drawn(past, prior, free, point)
        point = step.best(past.rows, prior)
    return step


def _drawn(past: Past, prior: Prior, free: Flags, point: Floats) -> _Step:
    ways = np.diag(prior.sd / 2)[free]
    logits = past.logits(np.vstack([point, point + ways]))
    slopes = np.zeros((len(LEARNT), logits.shape[1]))
    slopes[free] = (logits[1:] - logits[0]) / (prior.sd / 2)[free, None]
    return _Step(free=free, point=point, logits=logits[0], slopes=slopes)
