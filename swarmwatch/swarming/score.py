"""How likely is each colony to swarm, with what range, why, and what to do by when?"""

import datetime as dt
from collections.abc import Iterator

import numpy as np
import pandas as pd
from scipy.special import expit, logit

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.hives import hive_types, is_long
from swarmwatch.swarming.advice import Advice, advice_of
from swarmwatch.swarming.notes import Floats, Records, equals, last_dates, read_records
from swarmwatch.swarming.parameters import Parameters, central, drawn
from swarmwatch.swarming.reasons import reasons_of
from swarmwatch.swarming.replay import Chances
from swarmwatch.swarming.run import (
    Block,
    Setting,
    block_of,
    chances_of,
    crowding_now,
    last_look,
    setting_of,
    swarmed_on,
    with_event,
)
from swarmwatch.swarming.situation import Situation
from swarmwatch.swarming.timeline import Place, places_of
from swarmwatch.tables import TABLES, conform

DRAWS = 32
SEED = 20260401
_WEEK, _FORTNIGHT = 7, 14
# sizes that keep a block's arrays in the processor's cache rather than in memory
_COLONIES_A_BLOCK = 1000
_YARDS_A_BLOCK = 16
# the 80 % range
_LOW_SHARE, _HIGH_SHARE = 0.1, 0.9  # definition: 10th and 90th percentile


def score_colonies(
    colonies: pd.DataFrame,
    inspections: pd.DataFrame | None,
    weather: pd.DataFrame | None,
    on: dt.date | str,
    *,
    events: pd.DataFrame | None = None,
    apiaries: pd.DataFrame | None = None,
    hives: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
    horizon_days: int = _FORTNIGHT,
    draws: int = DRAWS,
    seed: int = SEED,
    chance_key: str = "season.yearly_chance_inspected",
    words: bool = True,
) -> pd.DataFrame:
    """Score every living colony on the evening of one day.

    Parameters
    ----------
    colonies, inspections, weather, events, apiaries, hives
        Tables of the data contract. Optional columns may be missing, blanks may be None, NaN or
        NA; without weather the usual weather of the place stands in, and the range is wider.
    on
        The evening to speak of: later rows are not used.
    evidence
        The numbers; the shipped ones by default.
    horizon_days
        Days to look ahead for the likely date, at least 14.
    draws, seed
        Number of parameter and weather draws behind the ranges, and their seed: the same input
        gives the same score.
    chance_key
        Evidence key of the reference colony's yearly chance.
    words
        False leaves what rests on the central run blank (likely date, level, reasons, advice,
        dates): several times faster where only chances and ranges are wanted.

    Returns
    -------
    Table ``scores``, one row a colony that has not died, been united or absconded, in the order
    of `colonies`.

    Raises
    ------
    RecordsError
        Cells that can't be read.
    UsageError
        `on` is no date.
    """
    evidence = evidence or load_evidence()
    records = read_records(
        colonies, inspections, on=_day(on), events=events, apiaries=apiaries, hives=hives
    )
    ahead = max(horizon_days, _FORTNIGHT)
    middle = central(evidence)
    many = drawn(evidence, draws=draws, seed=seed)
    parts = [
        _scores_of(
            part,
            places,
            ahead=ahead,
            parameters=(middle, many),
            evidence=evidence,
            seed=seed,
            chance_key=chance_key,
            words=words,
        )
        for part, places in _blocks(records, weather, evidence)
    ]
    table = TABLES["scores"]
    if not parts:
        return conform(pd.DataFrame(columns=list(table.names)), table)
    scores = pd.concat(parts, ignore_index=True).set_index("colony")
    ordered = scores.loc[records.colonies["colony"]].reset_index()
    return conform(ordered, table)


def _day(on: dt.date | str) -> dt.date:
    try:
        day = pd.Timestamp(on).date()
    except ValueError as error:
        message = f"on = {on!r} is not a date. Write year-month-day, such as 2026-05-14."
        raise UsageError(message) from error
    if pd.isna(day):
        message = "on is blank. Write year-month-day, such as 2026-05-14."
        raise UsageError(message)
    return day


def _blocks(
    records: Records, weather: pd.DataFrame | None, evidence: Evidence
) -> Iterator[tuple[Records, list[Place]]]:
    """Cut the colonies into blocks of yards that share a line of days, and big ones into pieces.

    A colony's score does not depend on the colonies or yards beside it.
    """
    names = sorted(records.colonies["apiary"].unique())
    places = places_of(names, records.apiaries, weather, on=records.on, evidence=evidence)
    for back in sorted({p.back for p in places}):
        alike = [p for p in places if p.back == back]
        for first in range(0, len(alike), _YARDS_A_BLOCK):
            chosen = alike[first : first + _YARDS_A_BLOCK]
            here = records.colonies["apiary"].isin([p.name for p in chosen])
            colonies = records.colonies.loc[here, "colony"]
            for row in range(0, len(colonies), _COLONIES_A_BLOCK):
                yield records.of(pd.Index(colonies.iloc[row : row + _COLONIES_A_BLOCK])), chosen


def _scores_of(
    records: Records,
    places: list[Place],
    *,
    ahead: int,
    parameters: tuple[Parameters, Parameters],
    evidence: Evidence,
    seed: int,
    chance_key: str,
    words: bool,
) -> pd.DataFrame:
    middle, many = parameters
    block = block_of(records, places, ahead=ahead, parameters=middle, evidence=evidence)
    spread = chances_of(
        block,
        setting_of(block, many, seed=seed, chance_key=chance_key),
        (0, _WEEK, _FORTNIGHT),
    )
    inspected = last_dates(records.inspections, records.colonies)
    columns: dict[str, object] = {
        "colony": records.colonies["colony"],
        "apiary": records.colonies["apiary"],
        "on": pd.Timestamp(records.on),
        **_ranges(block, spread, evidence),
        "inspected_on": inspected,
        "inspection_age_d": (pd.Timestamp(records.on) - inspected).dt.days.to_numpy(),
        "weather_kind": np.array([y.weather_kind for y in block.yards], dtype=object)[block.yard],
    }
    if words:
        setting = setting_of(block, middle, seed=None, chance_key=chance_key)
        columns |= _words(block, setting, columns, ahead, evidence)
    return pd.DataFrame(columns)


def _words(
    block: Block, setting: Setting, columns: dict[str, object], ahead: int, evidence: Evidence
) -> dict[str, object]:
    """Return the columns that rest on the central run: likely date, reasons, advice and dates."""
    once = chances_of(block, setting, tuple(range(ahead + 1)))
    advice = _advice(block, setting, once, columns, evidence)
    swarmed = swarmed_on(block)
    likely = _likely_dates(block, once)
    return {
        "because": reasons_of(block, setting, once.by[0, :, _FORTNIGHT]),
        "likely_date": [None if s else d for s, d in zip(swarmed, likely, strict=True)],
        "level": [a.level for a in advice],
        "advice": [a.text for a in advice],
        "do_by": [a.do_by for a in advice],
        "look_by": [a.look_by for a in advice],
    }


def _ranges(block: Block, spread: Chances, evidence: Evidence) -> dict[str, Floats]:
    """Return the chances with their 80 % ranges, from the draws.

    p is the ratio of sums over the draws, so that draws in which the colony has likely gone
    weigh less; the range is of the ratios of each draw, widened to hold p.
    """
    sick = _sick(block)
    gone = spread.by[..., 0]
    out = {"p_gone": gone.mean(axis=0), "p_after_7d": spread.after.mean(axis=0)}
    here = np.maximum(1 - gone, np.finfo(float).tiny)
    known_gone = (gone >= 1 - np.finfo(np.float32).eps).all(axis=0)
    for i, name in ((1, "p_7d"), (2, "p_14d")):
        coming = np.maximum(spread.by[..., i] - gone, 0)
        p = np.clip(coming.sum(axis=0) / here.sum(axis=0), 0, 1)
        each = np.clip(coming / here, 0, 1)
        low, high = np.quantile(each, (_LOW_SHARE, _HIGH_SHARE), axis=0)
        low, high = np.minimum(low, p), np.maximum(high, p)
        wide = np.where(sick, evidence.value("seeing.health_widening"), 0.0)
        out[name] = np.where(known_gone, 0, p)
        out[f"{name}_low"] = np.where(known_gone, 0, _moved(low, -wide))
        out[f"{name}_high"] = np.where(known_gone, 0, _moved(high, wide))
    return out


def _moved(chance: Floats, by: Floats) -> Floats:
    """Move a chance on the logit scale."""
    with np.errstate(divide="ignore"):
        return np.asarray(expit(logit(chance) + by))


def _sick(block: Block) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    sick = block.notes.rows["brood_health"].isin(["unsure", "suspect"]).to_numpy(dtype=bool)
    return np.append(sick, False)[last_look(block)]


def _likely_dates(block: Block, once: Chances) -> list[dt.date]:
    a_day = np.diff(once.by[0], axis=1)
    return [block.records.on + dt.timedelta(days=int(i) + 1) for i in a_day.argmax(axis=1)]


def _advice(
    block: Block,
    setting: Setting,
    once: Chances,
    columns: dict[str, object],
    evidence: Evidence,
) -> list[Advice]:
    lines, after, actions = (evidence.group(g) for g in ("advice", "afterswarm", "actions"))
    split, room = (
        _week(chances_of(with_event(block, e), setting, (0, _WEEK)))
        for e in ("split", "room-added")
    )
    as_is = (once.by[0, :, _WEEK] - once.by[0, :, 0]) / np.maximum(
        1 - once.by[0, :, 0], np.finfo(float).tiny
    )
    gone = once.by[0, :, :1]
    unseen = (once.by[0, :, 1:] - gone) / np.maximum(1 - gone, np.finfo(float).tiny)
    look, swarmed, crowding = last_look(block), swarmed_on(block), crowding_now(block)
    long_hives = is_long(hive_types(evidence, block.records.hives))
    season = [
        block.yards[i].curve.weight_from_peak((block.records.on - block.yards[i].peak_on).days)
        for i in block.yard
    ]
    facts = _Facts(block)
    return [
        advice_of(
            Situation(
                on=block.records.on,
                p_7d=float(np.asarray(columns["p_7d"])[i]),
                p_gone=float(np.asarray(columns["p_gone"])[i]),
                p_after_7d=float(np.asarray(columns["p_after_7d"])[i]),
                unseen_by_day=tuple(unseen[i, :_FORTNIGHT]),
                in_season=bool(season[i] >= evidence.value("season.in_season_weight")),
                swarmed_on=swarmed[i],
                sick=bool(facts.sick[i]),
                cells_seen=bool(facts.cells[i]),
                queen_seen=bool(facts.queen[i]),
                unclear_cells=bool(facts.unclear[i]),
                crowding=float(np.nan_to_num(crowding[i])),
                clipped_or_young=bool(facts.clipped_or_young[i]),
                long_hive=bool(long_hives[facts.hive[i]]),
                looked_on=facts.looked_on(int(look[i])),
                removed_on=facts.removed_on[i],
                warm_enough=bool(facts.warm[block.yard[i]]),
                p_7d_as_is=float(as_is[i]),
                p_7d_split=float(split[i]),
                p_7d_room=float(room[i]),
            ),
            lines=lines,
            after=after,
            actions=actions,
        )
        for i in range(block.count)
    ]


def _week(chances: Chances) -> Floats:
    gone, by_week = chances.by[0, :, 0], chances.by[0, :, 1]
    return np.asarray((by_week - gone) / np.maximum(1 - gone, np.finfo(float).tiny))


class _Facts:
    """What the last look and the events say of each colony of a block, for the advice."""

    def __init__(self, block: Block) -> None:
        look = last_look(block)
        self._dates = block.notes.rows["date"]
        self.sick = _sick(block)
        self.cells = np.append(block.looks.oldest.any(axis=1), False)[look]
        self.queen = np.append(equals(block.notes.rows, "queen_seen", "yes") == 1, False)[look]
        self.unclear = np.append(block.looks.supersedure, False)[look]
        age = block.covariates.queen_age_y
        self.clipped_or_young = (block.records.colonies["queen_clipped"] == "yes").to_numpy(
            dtype=bool
        ) | (age < 1)
        self.hive = pd.Index(hive_types(block.evidence, block.records.hives).index).get_indexer(
            block.records.colonies["hive_type"]
        )
        removed = block.records.events["event"] == "queen-cells-removed"
        self.removed_on = [
            None if pd.isna(d) else d.date()
            for d in last_dates(block.records.events[removed], block.records.colonies)
        ]
        soon = slice(block.days.on + 1, block.days.on + 1 + _FORTNIGHT // 2)
        self.warm = [
            bool(
                (
                    y.daily["temp_max_c"].iloc[soon] >= block.evidence.value("advice.open_above")
                ).any()
            )
            for y in block.yards
        ]

    def looked_on(self, look: int) -> dt.date | None:
        """Return the date of a look by its row, None for -1."""
        return None if look < 0 else self._dates.iloc[look].date()
