"""How good is the score with the numbers that it learned from the other seasons?"""

import datetime as dt
from collections.abc import Callable

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.swarming.backtest_known import Tables
from swarmwatch.swarming.learn import fit_past, past_of, with_learned

_SAME = ["colony", "on"]
Again = Callable[[int, list[dt.date], Evidence], pd.DataFrame]


def with_learned_score(
    rows: pd.DataFrame, tables: Tables, *, again: Again, evidence: Evidence
) -> pd.DataFrame:
    """Add what the score says of each season with the numbers learned from the others.

    Parameters
    ----------
    rows
        Of `replay`, of one keeper or one simulated world.
    tables
        The tables of all seasons with their outcomes, to learn from.
    again
        Replays one season on some evenings with other numbers: called with season, evenings and
        evidence, it returns the rows of `replay`.
    evidence
        The numbers before anything was learned.

    Returns
    -------
    The rows with ``learned_7d``, ``learned_14d`` and ``learned`` (bool). Where `learn` keeps the
    published numbers, as it does with fewer than two other seasons, that is False and the chances
    are the score's own.
    """
    parts = []
    seasons = [int(s) for s in pd.unique(rows["season"])]
    past = past_of(tables, evidence=evidence, seasons=seasons)
    for season in seasons:
        mine = rows[rows["season"] == season]
        learned = fit_past(past.without(season), evidence=evidence)
        scored = mine
        if learned.better:
            evenings = sorted({t.date() for t in mine["on"]})
            scored = again(season, evenings, with_learned(evidence, learned))
        said = scored[[*_SAME, "p_7d", "p_14d"]].set_axis(
            [*_SAME, "learned_7d", "learned_14d"], axis=1
        )
        both = mine.merge(said, on=_SAME, how="left", validate="one_to_one")
        parts.append(both.assign(learned=learned.better))
    return pd.concat(parts, ignore_index=True)
