"""How far do own outcomes carry the numbers? First the level, then all, as far as it helps."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import expit

from swarmwatch.swarming.learn_likelihood import BASE_RATE, LEARNT, Normal, Past

__all__ = ["Learning", "learn_in_steps", "untouched"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
_LEVEL = np.array([key == BASE_RATE for key in LEARNT])
_ALL = np.ones(len(LEARNT), dtype=bool)
_LOSSES = ("season", "colony", "swarms", "published", "learned")


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

    found: Normal
    losses: pd.DataFrame
    better: bool
    whole: bool


def untouched(prior: Normal) -> Learning:
    """Return what is learned from nothing."""
    return Learning(found=prior, losses=pd.DataFrame(), better=False, whole=True)


def learn_in_steps(past: Past, prior: Normal) -> Learning:
    """Free the level, then all numbers; go each step only where it foretells left-out seasons.

    The chances are drawn as straight lines at the prior, then for each step where these lines
    let the numbers stand, as surely. A step is gone if it lowers the log loss of the seasons left
    out by more than the standard error of the gain over colonies and seasons.

    Source: the one-standard-error rule, Breiman, Friedman, Olshen & Stone 1984, Classification
    and Regression Trees.
    """
    lines = _drawn(past, prior, _ALL, prior)
    steps = [
        _drawn(past, prior, free, lines.only(free).found(past.rows, prior))
        for free in (_LEVEL, _ALL)
    ]
    losses = _losses(past, prior, steps, published=lines.logits)
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


def _losses(past: Past, prior: Normal, steps: list["_Step"], *, published: Floats) -> pd.DataFrame:
    """Return each colony-season's losses with the numbers learned from the other seasons.

    ``season``, ``colony``, ``swarms``; 0: with the published numbers, whose logits (n_rows,) are
    `published`; 1, 2, ...: after each step. Empty with one season only.
    """
    season = past.rows["season"].to_numpy(dtype=int)
    years = np.unique(season)
    if len(years) < 2:
        return pd.DataFrame()
    swarmed = past.rows["swarmed"].to_numpy(dtype=float)
    weight = past.rows["weight"].to_numpy(dtype=float)
    found = [step.found(past.rows, prior, season != year) for step in steps for year in years]
    logits = past.logits(np.array([n.middle for n in found]), np.array([n.sd for n in found]))
    logits = logits.reshape(len(steps), len(years), -1)
    of_others = logits[:, np.searchsorted(years, season), np.arange(len(season))]
    losses = past.rows[["season", "colony"]].assign(swarms=swarmed)
    for i, own in enumerate([published, *of_others]):
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

    def only(self, free: Flags) -> "_Step":
        """Return the same lines with fewer numbers free."""
        return replace(self, free=free, slopes=np.where(free[:, None], self.slopes, 0))

    def at(self, point: Floats) -> Floats:
        return self.logits + (point - self.point) @ self.slopes

    def found(self, rows: pd.DataFrame, prior: Normal, used: Flags | None = None) -> Normal:
        """Return where the `used` rows, all by default, and the prior let the numbers stand.

        The middle is the point of least loss and penalty, the spread that of the curvature there.
        """
        used = np.ones(len(rows), dtype=bool) if used is None else used
        swarmed = rows["swarmed"].to_numpy(dtype=float)[used]
        weight = rows["weight"].to_numpy(dtype=float)[used]
        slopes = self.slopes[:, used] * prior.sd[:, None]

        def worth(moved: Floats) -> tuple[float, Floats]:
            logits = self.at(prior.middle + moved * prior.sd)[used]
            loss = float(weight @ _log_loss(logits, swarmed) + moved @ moved / 2)
            return loss, slopes @ (weight * (expit(logits) - swarmed)) + moved

        best = minimize(worth, np.zeros(len(LEARNT)), jac=True, method="BFGS")
        middle = prior.middle + best.x * prior.sd
        chance = expit(self.at(middle)[used])
        curvature = (slopes * weight * chance * (1 - chance)) @ slopes.T + np.eye(len(LEARNT))
        return Normal(middle=middle, sd=prior.sd * np.sqrt(np.diag(np.linalg.inv(curvature))))


def _drawn(past: Past, prior: Normal, free: Flags, at: Normal) -> _Step:
    """Draw the logits as straight lines in the free numbers, over half a prior's deviation."""
    ways = np.diag(prior.sd / 2)[free]
    logits = past.logits(np.vstack([at.middle, at.middle + ways]), at.sd)
    slopes = np.zeros((len(LEARNT), logits.shape[1]))
    slopes[free] = (logits[1:] - logits[0]) / (prior.sd / 2)[free, None]
    return _Step(free=free, point=at.middle, logits=logits[0], slopes=slopes)
