"""What does a keeper's past say of a handful of numbers? Intervals between looks, and chances."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit, logit

from swarmwatch.evidence import Z_HIGH, Entry, Evidence, scale_of
from swarmwatch.swarming.backtest import season_days
from swarmwatch.swarming.backtest_known import known_on
from swarmwatch.swarming.backtest_labels import FATE, fates, labels
from swarmwatch.swarming.notes import read_records
from swarmwatch.swarming.parameters import Parameters, central, drawn
from swarmwatch.swarming.run import Block, blocks_of, chances_of, setting_of
from swarmwatch.swarming.timeline import places_of

Floats = NDArray[np.float64]
EYE = "seeing.find_cells"
EYE_KEYS = ("seeing.find_egg_cells", "seeing.find_larva_cells", "seeing.find_sealed_cells")
BASE_RATE = "season.yearly_chance_inspected"
SINGLE_KEYS = (
    BASE_RATE,
    "preparation.crowding_effect",
    "preparation.odds_queen_second_year",
    "season.peak_error",
)
LEARNT = (*SINGLE_KEYS, EYE)
# the learnt number that moves each evidence key
MOVED_BY = {**{key: key for key in SINGLE_KEYS}, **dict.fromkeys(EYE_KEYS, EYE)}
# numerical: draws behind a chance, and their seed
_DRAWS, _SEED = 8, 20260401
_FORTNIGHT = 14
_MIDYEAR = (7, 1)
# numerical: chances are kept so far from 0 and 1
_LEAST = float(np.finfo(np.float32).eps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Normal:
    """Where each learnt number is thought to stand, and how surely: normal laws on its own scale.

    `middle` and `sd` are (5,) in the order of `LEARNT`: logit, plain, log, days, shift of logits.
    """

    middle: Floats
    sd: Floats


def prior_of(evidence: Evidence) -> Normal:
    """Return what is thought before any outcome: the published value, as wide as its range.

    The keeper's eye is one shift of the logits of `EYE_KEYS`, as wide as these are on average.
    """

    def sd(key: str) -> float:
        entry = evidence[key]
        to_scale, _ = scale_of(entry.distribution)
        low, high = to_scale(entry.low), to_scale(entry.high)
        return (high - low) / 2 / Z_HIGH

    middle = [scale_of(evidence[k].distribution)[0](evidence.value(k)) for k in SINGLE_KEYS]
    spread = [sd(k) for k in SINGLE_KEYS]
    return Normal(
        middle=np.array([*middle, 0.0]),
        sd=np.array([*spread, float(np.mean([sd(k) for k in EYE_KEYS]))]),
    )


def values_at(point: Floats, evidence: Evidence) -> dict[str, float]:
    """Return the value of each evidence key at one point (5,) of the scales of `Normal`."""
    out = {
        k: float(scale_of(evidence[k].distribution)[1](x))
        for k, x in zip(SINGLE_KEYS, point, strict=False)
    }
    for key in EYE_KEYS:
        out[key] = float(expit(logit(evidence.value(key)) + point[-1]))
    return out


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


class Past:
    """The evenings of `rows` laid out once, so that many sets of numbers can be tried on them."""

    def __init__(
        self, read: Mapping[str, pd.DataFrame], rows: pd.DataFrame, evidence: Evidence
    ) -> None:
        self._prior = prior_of(evidence)
        self._drawn = drawn(evidence, draws=_DRAWS, seed=_SEED)
        self._off = {
            key: (evidence[key], _off_value(evidence[key], self._drawn[key])) for key in MOVED_BY
        }
        middle = central(evidence)
        self._blocks: list[tuple[Block, pd.DataFrame]] = []
        for on, part in rows.groupby("on"):
            for block in _blocks_on(read, pd.Timestamp(str(on)).date(), part, middle, evidence):
                here = part[part["colony"].isin(block.records.colonies["colony"])]
                if len(here):
                    self._blocks.append((block, here))
        self.rows = (
            pd.concat([here for _, here in self._blocks], ignore_index=True)
            if self._blocks
            else rows.iloc[:0]
        )

    def logits(self, points: Floats, sd: Floats) -> Floats:
        """Return the logit of each interval's chance (n_points, n_rows) at each point.

        `points` is (n_points, 5) on the scales of `Normal`; `sd`, of the same shape or (5,), how
        surely the numbers are known there. The keeper's eye stays as unsure as published. As in
        the score, a draw counts for as much as it explains what was seen of the colony. Weather
        that was not yet known is the expected one.
        """
        parameters = self._moved(points, np.broadcast_to(sd, points.shape))
        parts = [self._of_block(b, rows, parameters, len(points)) for b, rows in self._blocks]
        return np.concatenate(parts, axis=1)

    def _moved(self, points: Floats, sd: Floats) -> Parameters:
        """Return the draws of every point, one point's after the other's."""
        sets = {k: np.tile(v, len(points)) for k, v in self._drawn.sets.items()}
        move = np.repeat(points - self._prior.middle, _DRAWS, axis=0)
        width = np.repeat(sd / self._prior.sd, _DRAWS, axis=0)
        width[:, LEARNT.index(EYE)] = 1
        for key, (entry, off) in self._off.items():
            i = LEARNT.index(MOVED_BY[key])
            to_scale, from_scale = scale_of(entry.distribution)
            at = to_scale(entry.value) + np.tile(off, len(points)) * width[:, i] + move[:, i]
            sets[key] = from_scale(at)
        return Parameters(sets=sets, draws=len(points) * _DRAWS)

    def _of_block(
        self, block: Block, rows: pd.DataFrame, parameters: Parameters, points: int
    ) -> Floats:
        horizons = sorted(set(rows["horizon_d"].astype(int)))
        setting = setting_of(block, parameters, seed=None, chance_key=BASE_RATE)
        found = chances_of(block, setting, (0, *horizons))
        by = found.by.reshape(points, _DRAWS, *found.by.shape[1:])
        colony = pd.Index(block.records.colonies["colony"]).get_indexer(pd.Index(rows["colony"]))
        at = 1 + np.searchsorted(horizons, rows["horizon_d"].to_numpy(dtype=int))
        gone, left = by[:, :, colony, 0], by[:, :, colony, at]
        weight = found.weight.reshape(points, _DRAWS, -1)[:, :, colony]
        here = np.maximum((weight * (1 - gone)).sum(axis=1), _LEAST * weight.sum(axis=1))
        chance = (weight * np.maximum(left - gone, 0)).sum(axis=1) / here
        return np.asarray(logit(np.clip(chance, _LEAST, 1 - _LEAST)), dtype=np.float64)


def _off_value(entry: Entry, drawn_values: Floats) -> Floats:
    """Return how far the draws of an entry lie off its value, on its own scale."""
    to_scale, _ = scale_of(entry.distribution)
    return np.array([to_scale(x) for x in drawn_values.tolist()]) - to_scale(entry.value)


def _blocks_on(
    read: Mapping[str, pd.DataFrame],
    on: dt.date,
    rows: pd.DataFrame,
    middle: Parameters,
    evidence: Evidence,
) -> list[Block]:
    """Lay out the colonies of one evening with only what was known then."""
    known = known_on(read, on)
    colonies = known["colonies"].drop_duplicates("colony", keep="last")
    colonies = colonies[colonies["colony"].isin(rows["colony"])].reset_index(drop=True)
    if colonies.empty:
        return []
    records = read_records(
        colonies,
        known["inspections"],
        on=on,
        events=known["events"],
        apiaries=known["apiaries"],
        hives=known["hives"],
    )
    ahead = max(_FORTNIGHT, int(rows["horizon_d"].max()))
    found = blocks_of(records, known["weather"], ahead=ahead, parameters=middle, evidence=evidence)
    return list(found)
