"""What should a keeper's own outcomes change in the published numbers, and is it any better?"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import pandas as pd

from swarmwatch.evidence import Z_HIGH, Entry, Evidence, load_evidence
from swarmwatch.swarming.backtest_known import Tables, conformed
from swarmwatch.swarming.learn_likelihood import (
    EYE,
    EYE_KEYS,
    LEARNT,
    MOVED_BY,
    SINGLE_KEYS,
    Normal,
    Past,
    intervals,
    prior_of,
    thinned,
    values_at,
)
from swarmwatch.swarming.learn_steps import Learning, learn_in_steps, untouched

__all__ = ["Learned", "fit", "own_evidence_text", "with_learned"]

# numerical: evenings worked through
_EVENINGS = 40
_NAMES = {
    SINGLE_KEYS[0]: "colonies that swarm in a year",
    SINGLE_KEYS[1]: "effect of crowding",
    SINGLE_KEYS[2]: "odds of a queen in her second year",
    SINGLE_KEYS[3]: "season later than the rule says",
    EYE_KEYS[0]: "cells with eggs that you find",
    EYE_KEYS[1]: "cells with larvae that you find",
    EYE_KEYS[2]: "sealed cells that you find",
}
_MEANING = {
    SINGLE_KEYS[0]: ("more swarms than published", "fewer swarms than published"),
    SINGLE_KEYS[1]: ("crowding matters more", "crowding matters less"),
    SINGLE_KEYS[2]: ("second-year queens swarm more", "second-year queens swarm less"),
    SINGLE_KEYS[3]: ("the season peaks later", "the season peaks earlier"),
    EYE: ("you find more of the queen cells", "you find fewer of the queen cells"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What own outcomes say, beside the published values.

    Attributes
    ----------
    table
        A row an evidence key: ``key``, ``name``, ``unit``, ``published``, ``fitted`` (by the last
        step that foretold better, by all numbers together where none did), ``learned`` (the one
        to use: `fitted` only if `better`), ``low`` and ``high`` (the 80 % range of
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
    """Fit few numbers to a keeper's own outcomes, held to the published ones by their ranges.

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
    The likelihood is a composite of conditional chances, not the full likelihood of the filter:
    each colony's season is cut at its looks, and each piece counts by the chance, with what had
    been seen by its first evening, that the prime swarm left in it. What the looks themselves saw
    does not count as an observation. So it rests only on outcomes and is quick, and a treatment
    that follows what was seen does not distort it; the price is that the keeper's eye is learnt
    from few outcomes only, and stays near the published one. Pieces don't overlap, so each
    colony's season counts once. Of many evenings without a swarm some stand for the rest.

    Colonies without an outcome are left out; treated ones count up to the treatment. The penalty
    is a normal prior on each number's own scale, the published range being its central 80 %.
    The level, how many colonies swarm in a year, is learned alone first, then all numbers
    together; each step is gone only if it foretells left-out seasons better (`learn_in_steps`).
    The logits of the chances are taken as straight lines in the numbers, drawn twice; the
    losses of left-out seasons are reckoned by the model itself. The range of a learned number is
    that of the normal law with the curvature at the best point (Laplace's approximation); that of
    the keeper's eye is as wide as published.
    """
    evidence = evidence or load_evidence()
    read = conformed(tables)
    prior = prior_of(evidence)
    rows = intervals(read, evidence=evidence, seasons=seasons)
    if rows.empty:
        return _learned(untouched(prior), rows, evidence, prior)
    past = Past(read, thinned(rows, most=_EVENINGS), evidence)
    if past.rows.empty:
        return _learned(untouched(prior), past.rows, evidence, prior)
    return _learned(learn_in_steps(past, prior), rows, evidence, prior)


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


def _learned(learning: Learning, rows: pd.DataFrame, evidence: Evidence, prior: Normal) -> Learned:
    found, better = learning.found, learning.better
    colonies = len(rows[["colony", "season"]].drop_duplicates())
    entries = _entries(found, evidence, prior) if better else {}
    return Learned(
        table=_table(found, entries, evidence, prior),
        entries=entries,
        losses=_by_season(learning.losses, rows),
        colonies=colonies,
        swarms=int(rows["swarmed"].sum()),
        better=better,
        advice=_advice(colonies, rows["season"].nunique(), learning),
    )


def _entries(found: Normal, evidence: Evidence, prior: Normal) -> dict[str, Entry]:
    """Return the numbers that moved, with the range that outcomes and prior leave them."""
    low, fitted, high = (
        values_at(found.middle + z * found.sd, evidence) for z in (-Z_HIGH, 0, Z_HIGH)
    )
    out = {}
    for key, moved in _moved(found, prior).items():
        if moved:
            entry = evidence[key].moved_to(fitted[key])
            out[key] = entry if key in EYE_KEYS else replace(entry, low=low[key], high=high[key])
    return out


def _moved(found: Normal, prior: Normal) -> dict[str, float]:
    """Return how far each number moved, in standard deviations of the published range."""
    by = dict(zip(LEARNT, ((found.middle - prior.middle) / prior.sd).tolist(), strict=True))
    return {key: by[number] for key, number in MOVED_BY.items()}


def _table(
    found: Normal, entries: Mapping[str, Entry], evidence: Evidence, prior: Normal
) -> pd.DataFrame:
    fitted = values_at(found.middle, evidence)
    rows = []
    for key, moved in _moved(found, prior).items():
        published = evidence.value(key)
        entry = entries.get(key, evidence[key])
        rows.append(
            {
                "key": key,
                "name": _NAMES[key],
                "unit": evidence[key].unit,
                "published": published,
                "fitted": fitted[key] if moved else published,
                "learned": entry.value,
                "low": entry.low,
                "high": entry.high,
                "change": moved,
                "source": evidence[key].source,
                "grade": evidence[key].grade,
                "words": _words(MOVED_BY[key], moved),
            }
        )
    return pd.DataFrame(rows)


def _words(key: str, moved: float) -> str:
    if not moved:
        return "as published"
    return _MEANING[key][0 if moved > 0 else 1]


def _advice(colonies: int, seasons: int, learning: Learning) -> str:
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
    if not learning.better:
        return (
            "Keep the published values: on seasons left out of the learning the learned ones "
            "foretold swarms no better, or by less than its standard error."
        )
    use = (
        "Use the learned values: on seasons left out of the learning they foretold swarms "
        "better than the published ones, by more than its standard error. "
    )
    alone = (
        "Only how many swarm was learned: with the other numbers, too, they foretold no better. "
    )
    few = "They are learned from few colonies; learn again after each season."
    return f"{use}{'' if learning.whole else alone}{few}"


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
