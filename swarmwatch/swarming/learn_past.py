"""What did the score say before each piece of a keeper's past, and how did the piece end?"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logit

from swarmwatch.evidence import Evidence
from swarmwatch.swarming.backtest import season_days
from swarmwatch.swarming.backtest_known import known_on
from swarmwatch.swarming.backtest_labels import FATE, fates, labels
from swarmwatch.swarming.notes import read_records
from swarmwatch.swarming.parameters import Parameters, central, drawn
from swarmwatch.swarming.run import Block, blocks_of, chances_of, setting_of
from swarmwatch.swarming.score import DRAWS, SEED
from swarmwatch.swarming.timeline import places_of

Floats = NDArray[np.float64]
_CHANCE_KEY = "season.yearly_chance_inspected"
_FORTNIGHT = 14
_MIDYEAR = (7, 1)
# numerical: chances are kept so far from 0 and 1
_LEAST = float(np.finfo(np.float32).eps)


def intervals(
    read: Mapping[str, pd.DataFrame], *, evidence: Evidence, seasons: Iterable[int] | None
) -> pd.DataFrame:
    """Cut each colony's season with a known outcome into intervals, and say how each ended.

    Parameters
    ----------
    read
        Of `conformed`.
    evidence
        The numbers.
    seasons
        Years; those with an outcome by default.

    Returns
    -------
    ``colony``, ``season``, ``on`` (evening it begins), ``horizon_d`` and ``swarmed`` (1 or 0).
    They begin on the evening of each look and each fortnight, end with the next such day, and do
    not overlap; one that a swarm's span of dates straddles is drawn out to hold it.

    Notes
    -----
    Nothing after a treatment or a death counts; an interval that would end on that very day ends
    the day before, since a keeper who treats has found the colony at home.
    """
    peaks = _peaks(read, evidence)
    fate = fates(read, peak_day=peaks)
    wanted = set(fate["season"].astype(int)) if seasons is None else {int(s) for s in seasons}
    parts = [
        _intervals_of(read, fate[fate["season"] == year], year=year, evidence=evidence)
        for year in sorted(wanted)
        if (fate["season"] == year).any()
    ]
    rows = [p for p in parts if not p.empty]
    if not rows:
        return pd.DataFrame(columns=["colony", "season", "on", "horizon_d", "swarmed"])
    return pd.concat(rows, ignore_index=True)


def _peaks(read: Mapping[str, pd.DataFrame], evidence: Evidence) -> dict[str, float]:
    years = read["outcomes"]["season"].dropna()
    if years.empty:
        return {}
    names = sorted(read["colonies"]["apiary"].dropna().unique())
    middle = dt.date(int(years.max()), *_MIDYEAR)
    places = places_of(names, read["apiaries"], read["weather"], on=middle, evidence=evidence)
    return {p.name: p.curve.peak_day for p in places}


def _intervals_of(
    read: Mapping[str, pd.DataFrame], fate: pd.DataFrame, *, year: int, evidence: Evidence
) -> pd.DataFrame:
    """Cut one season of the colonies of `fate`."""
    grid = season_days(read, seasons=[year], every=_FORTNIGHT, evidence=evidence)
    if not grid:
        return pd.DataFrame()
    first, last = pd.Timestamp(grid[0]), pd.Timestamp(grid[-1])
    fate = fate.drop_duplicates("colony", keep="last")
    looks = read["inspections"]
    looks = looks[(looks["date"] >= first) & (looks["date"] <= last)]
    dates = {str(c): set(d) for c, d in looks.groupby("colony")["date"]}
    parts = []
    for colony, start, until in zip(
        fate["colony"].astype(str), fate["swarm_from"], fate["swarm_until"], strict=True
    ):
        edges = pd.DatetimeIndex(sorted({*map(pd.Timestamp, grid), *dates.get(colony, ())}))
        edges = edges[~((edges >= start) & (edges < until))]
        parts.append(pd.DataFrame({"colony": colony, "on": edges[:-1], "until": edges[1:]}))
    cut = pd.concat(parts, ignore_index=True).merge(fate, on="colony")
    stopped = cut[["censored_on", "ended_on"]].min(axis=1) == cut["until"]
    cut["until"] -= pd.to_timedelta(stopped.astype(int), unit="D")
    cut["horizon_d"] = (cut["until"] - cut["on"]).dt.days
    cut = cut[cut["horizon_d"] > 0]
    if cut.empty:
        return pd.DataFrame()
    parts = [
        part.assign(swarmed=labels(part["on"], part[list(FATE)], int(part["horizon_d"].iloc[0])))
        for _, part in cut.groupby("horizon_d")
    ]
    known = pd.concat(parts).dropna(subset=["swarmed"])
    return known[["colony", "season", "on", "horizon_d", "swarmed"]].sort_values(["on", "colony"])


def thinned(rows: pd.DataFrame, *, most: int) -> pd.DataFrame:
    """Keep every evening on which an interval with a swarm begins, and some of the others.

    Returns
    -------
    The rows of about `most` evenings, with ``weight``: 1, or as many evenings as each of the
    evenly chosen others stands for.
    """
    every = np.sort(rows["on"].unique())
    telling = np.isin(every, rows.loc[rows["swarmed"] > 0, "on"].unique())
    others = every[~telling]
    room = max(most - int(telling.sum()), most // 2)
    step = max(1, -(-len(others) // room))
    chosen = others[step // 2 :: step]
    weight = pd.Series(1.0, index=every[telling])
    if len(chosen):
        extra = pd.Series(len(others) / len(chosen), index=chosen)
        weight = pd.concat([weight, extra]) if len(weight) else extra
    kept = rows[rows["on"].isin(weight.index)].reset_index(drop=True)
    return kept.assign(weight=kept["on"].map(weight).astype(float))


def foretold(
    read: Mapping[str, pd.DataFrame], rows: pd.DataFrame, *, evidence: Evidence
) -> pd.DataFrame:
    """Add to intervals what the score said of each on the evening it begins.

    Parameters
    ----------
    read
        Of `conformed`.
    rows
        Of `intervals` or `thinned`.
    evidence
        The numbers.

    Returns
    -------
    The rows of colonies that were there, with ``logit`` of the chance that the prime swarm leaves
    within ``horizon_d`` days, known only what was known on that evening. It is kept off 0 and 1.
    """
    many, middle = drawn(evidence, draws=DRAWS, seed=SEED), central(evidence)
    parts = [rows.iloc[:0].assign(logit=pd.Series(dtype=float))]
    for on, part in rows.groupby("on"):
        horizons = sorted(set(part["horizon_d"].astype(int)))
        for block in _blocks_on(read, pd.Timestamp(str(on)).date(), part, middle, evidence):
            names = pd.Index(block.records.colonies["colony"])
            here = part[part["colony"].isin(names)]
            setting = setting_of(block, many, seed=SEED, chance_key=_CHANCE_KEY)
            found = chances_of(block, setting, (0, *horizons))
            chances = np.stack([found.within(1 + i) for i in range(len(horizons))])
            at = np.searchsorted(horizons, here["horizon_d"].to_numpy(dtype=int))
            chance = chances[at, names.get_indexer(pd.Index(here["colony"]))]
            parts.append(here.assign(logit=logit(np.clip(chance, _LEAST, 1 - _LEAST))))
    return pd.concat(parts, ignore_index=True)


def _blocks_on(
    read: Mapping[str, pd.DataFrame],
    on: dt.date,
    rows: pd.DataFrame,
    middle: Parameters,
    evidence: Evidence,
) -> Iterator[Block]:
    """Lay out the colonies of one evening with only what was known then."""
    known = known_on(read, on)
    colonies = known["colonies"].drop_duplicates("colony", keep="last")
    colonies = colonies[colonies["colony"].isin(rows["colony"])].reset_index(drop=True)
    if colonies.empty:
        return
    records = read_records(
        colonies,
        known["inspections"],
        on=on,
        events=known["events"],
        apiaries=known["apiaries"],
        hives=known["hives"],
    )
    ahead = max(_FORTNIGHT, int(rows["horizon_d"].max()))
    yield from blocks_of(
        records, known["weather"], ahead=ahead, parameters=middle, evidence=evidence
    )
