"""What should a keeper's own outcomes change in the published numbers, and is it any better?"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import expit

from swarmwatch.evidence import Z_HIGH, Entry, Evidence, load_evidence
from swarmwatch.swarming.backtest_known import Tables, conformed
from swarmwatch.swarming.learn_past import foretold, intervals, thinned
from swarmwatch.wording import per_cent

__all__ = [
    *("ODDS", "Learned", "Past", "fit", "fit_past", "own_evidence_text", "past_of"),
    "with_learned",
]

Floats = NDArray[np.float64]
ODDS = "calibration.odds"
# numerical: evenings worked through
_EVENINGS = 120
_NAME = "odds of a swarm"
# an example to say what the odds do
_EXAMPLE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What own outcomes say, beside the published values.

    Attributes
    ----------
    table
        A row an evidence key: ``key``, ``name``, ``unit``, ``published``, ``fitted``, ``learned``
        (the one to use: `fitted` only if `better`), ``low`` and ``high`` (the 80 % range of
        `learned`), ``change`` (of `fitted`, in standard deviations of the published range),
        ``source`` and ``grade`` of the published value, ``words``.
    entries
        The learned numbers to use, by evidence key; none where the published ones are kept.
    losses
        A row a season left out: ``season``, ``colonies``, ``swarms``, ``loss_published``,
        ``loss_learned`` (log loss a colony and season; learned on the other seasons).
    colonies, swarms
        Colony-seasons and swarms that counted.
    better
        The learned values foretell left-out seasons better than the published ones, by more than
        the standard error of the gain over colonies and seasons.
    advice
        In words.
    """

    table: pd.DataFrame
    entries: Mapping[str, Entry]
    losses: pd.DataFrame
    colonies: int
    swarms: int
    better: bool
    advice: str


def fit(
    tables: Tables,
    *,
    evidence: Evidence | None = None,
    seasons: Iterable[int] | None = None,
) -> Learned:
    """Fit the odds of a swarm to a keeper's own outcomes, held to the published by their range.

    Parameters
    ----------
    tables
        Tables of the data contract by name: apiaries, colonies, inspections, events, weather,
        outcomes, hives.
    evidence
        The published numbers; the shipped ones by default.
    seasons
        Years to learn from; all with an outcome by default.

    Returns
    -------
    What changed, and whether it foretells a left-out season better.

    Raises
    ------
    RecordsError
        Cells that can't be read.

    Notes
    -----
    Each colony's season is cut at its looks, and each piece counts by the chance, with what had
    been seen by its first evening, that the prime swarm left in it. What the looks themselves saw
    does not count as an observation, so that a treatment that follows what was seen does not
    distort it. Pieces don't overlap, so each colony's season counts once. Of many evenings
    without a swarm some stand for the rest. Colonies without an outcome are left out; treated ones
    count up to the treatment.

    One factor moves the odds of all chances (proportional odds). Its log has a normal prior of
    which the published range is the central 80 %; the range of what was learned is that of the
    normal law with the curvature at the best point (Laplace's approximation). It is taken only
    where it lowers the log loss of seasons left out by more than the standard error of the gain
    over colonies and seasons.

    Source: proportional odds, Bennett 1983, Statistics in Medicine 2:273-277; the rule of one
    standard error, Breiman, Friedman, Olshen & Stone 1984, Classification and Regression Trees.
    """
    evidence = evidence or load_evidence()
    return fit_past(past_of(tables, evidence=evidence, seasons=seasons), evidence=evidence)


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What there is to learn from: all pieces of the seasons, and those that the score spoke of.

    `pieces` of `intervals`; `said` some of them, with ``weight`` and ``logit`` (`foretold`).
    """

    pieces: pd.DataFrame
    said: pd.DataFrame

    def without(self, season: int) -> "Past":
        """Return the past of the other seasons."""
        kept = (rows[rows["season"] != season] for rows in (self.pieces, self.said))
        pieces, said = (rows.reset_index(drop=True) for rows in kept)
        return Past(pieces=pieces, said=said)


def past_of(tables: Tables, *, evidence: Evidence, seasons: Iterable[int] | None = None) -> Past:
    """Work out what `fit` learns from; parameters and errors are those of `fit`."""
    read = conformed(tables)
    pieces = intervals(read, evidence=evidence, seasons=seasons)
    said = foretold(read, thinned(pieces, most=_EVENINGS), evidence=evidence)
    return Past(pieces=pieces if len(said) else pieces.head(0), said=said)


def fit_past(past: Past, *, evidence: Evidence) -> Learned:
    """Return what `fit` returns, from a past already worked out with the same evidence."""
    sd = _spread(evidence)
    if past.said.empty:
        return _learned(_Found(0.0, sd), pd.DataFrame(), past.pieces, evidence)
    return _learned(_found(past.said, sd), _losses(past.said, sd), past.pieces, evidence)


@dataclass(frozen=True, slots=True)
class _Found:
    """The shift of the log odds, and its standard deviation."""

    shift: float
    sd: float


def _spread(evidence: Evidence) -> float:
    """Return the standard deviation of the prior on the log odds."""
    entry = evidence[ODDS]
    return float(np.log(entry.high / entry.low) / 2 / Z_HIGH)


def _found(past: pd.DataFrame, sd: float) -> _Found:
    """Return where these outcomes and the prior let the log odds stand."""
    said, swarmed, weight = (past[c].to_numpy(dtype=float) for c in ("logit", "swarmed", "weight"))

    def slope(shift: float) -> float:
        return float(weight @ (expit(said + shift) - swarmed) + shift / sd**2)

    # no pull of the outcomes is larger than the sum of their weights
    furthest = sd**2 * weight.sum()
    shift = float(brentq(slope, -furthest, furthest))
    chance = expit(said + shift)
    return _Found(shift, float((weight @ (chance * (1 - chance)) + sd**-2) ** -0.5))


def _losses(past: pd.DataFrame, sd: float) -> pd.DataFrame:
    """Return each colony-season's log losses: published, and learned from the other seasons.

    ``season``, ``colony``, ``swarms``, ``published``, ``learned``; empty with one season only.
    """
    parts = []
    for year, out in past.groupby("season"):
        others = past[past["season"] != year]
        if others.empty:
            return pd.DataFrame()
        said, swarmed = (out[c].to_numpy(dtype=float) for c in ("logit", "swarmed"))
        each = out[["season", "colony"]].assign(swarms=swarmed)
        for name, shift in (("published", 0.0), ("learned", _found(others, sd).shift)):
            each[name] = out["weight"].to_numpy(dtype=float) * _log_loss(said + shift, swarmed)
        parts.append(each)
    return pd.concat(parts).groupby(["season", "colony"], as_index=False).sum()


def _log_loss(logits: Floats, swarmed: Floats) -> Floats:
    return np.asarray(np.logaddexp(0, logits) - swarmed * logits)


def _helps(losses: pd.DataFrame) -> bool:
    """Tell whether the losses fall by more than the standard error of the gain."""
    if len(losses) < 2:
        return False
    gain = (losses["published"] - losses["learned"]).to_numpy(dtype=float)
    return bool(gain.mean() > gain.std(ddof=1) / np.sqrt(len(gain)))


def _by_season(losses: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    if losses.empty:
        return losses
    colonies = rows.groupby("season")["colony"].nunique()
    sums = losses.groupby("season")[["swarms", "published", "learned"]].sum()
    size = colonies.loc[sums.index]
    return pd.DataFrame(
        {
            "season": sums.index.astype(int),
            "colonies": size.to_numpy(),
            "swarms": sums["swarms"].to_numpy(dtype=int),
            "loss_published": (sums["published"] / size).to_numpy(),
            "loss_learned": (sums["learned"] / size).to_numpy(),
        }
    )


def _learned(
    found: _Found, losses: pd.DataFrame, rows: pd.DataFrame, evidence: Evidence
) -> Learned:
    better = _helps(losses)
    colonies = len(rows[["colony", "season"]].drop_duplicates())
    published = evidence[ODDS]
    low, value, high = (
        published.value * float(np.exp(found.shift + z * found.sd)) for z in (-Z_HIGH, 0, Z_HIGH)
    )
    fitted = replace(published, low=low, value=value, high=high)
    entry = fitted if better else published
    row = {
        "key": ODDS,
        "name": _NAME,
        "unit": published.unit,
        "published": published.value,
        "fitted": fitted.value,
        "learned": entry.value,
        "low": entry.low,
        "high": entry.high,
        "change": found.shift / _spread(evidence),
        "source": published.source,
        "grade": published.grade,
        "words": _words(found.shift),
    }
    return Learned(
        table=pd.DataFrame([row]),
        entries={ODDS: entry} if better else {},
        losses=_by_season(losses, rows),
        colonies=colonies,
        swarms=int(rows["swarmed"].sum()),
        better=better,
        advice=_advice(colonies, rows["season"].nunique(), better=better),
    )


def _words(shift: float) -> str:
    before = np.log(_EXAMPLE / (1 - _EXAMPLE))
    was, now = (per_cent(float(expit(before + s))) for s in (0.0, shift))
    if was == now:
        return "as published"
    more = "more" if shift > 0 else "fewer"
    return f"{more} swarms than published: a chance of {was} becomes {now}"


def _advice(colonies: int, seasons: int, *, better: bool) -> str:
    if not colonies:
        return (
            "Nothing to learn from yet, so nothing moves. When a season is over, note in the table "
            "outcomes for each colony: swarmed with its date (or date_from and date), no-swarm, "
            "treated with its date, or died. Leave a colony out if you do not know."
        )
    if seasons < 2:
        return (
            "Keep the published values: these outcomes are of one season, and only a second one "
            "can show whether what was learned holds. Note the outcomes of the next season, too."
        )
    if not better:
        return (
            "Keep the published values: on seasons left out of the learning the learned ones "
            "foretold swarms no better, or by less than its standard error."
        )
    return (
        "Use the learned values: on seasons left out of the learning they foretold swarms "
        "better than the published ones, by more than its standard error. "
        "They are learned from few colonies; learn again after each season."
    )


def own_evidence_text(learned: Learned) -> str:
    """Return the learned values as the text of a keeper's own evidence file (TOML).

    It holds only values to use: none where the published ones are to be kept.
    """
    source = f"learned from own outcomes, {learned.colonies} colonies, {learned.swarms} swarms"
    parts = ["# Learned from own outcomes; every number not named here stays as published.\n"]
    parts += [
        f"[{e.key}]\nvalue = {e.value:.6g}\nlow = {e.low:.6g}\nhigh = {e.high:.6g}\n"
        f'source = "{source}"\ngrade = "judgement"\n'
        for e in learned.entries.values()
    ]
    return "\n".join(parts)


def with_learned(evidence: Evidence, learned: Learned) -> Evidence:
    """Return the evidence with the learned numbers to use: as it was where none is."""
    return Evidence({**evidence, **learned.entries})
