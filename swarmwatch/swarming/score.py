"""How likely is each colony to swarm, with what range, why, and what to do by when?"""

import datetime as dt
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from scipy.special import expit, logit

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.swarming.central_run import words_of
from swarmwatch.swarming.chances import Chances
from swarmwatch.swarming.notes import (
    Cutter,
    Floats,
    Integers,
    Records,
    last_dates,
    read_records,
)
from swarmwatch.swarming.parameters import Parameters, central, drawn
from swarmwatch.swarming.run import (
    Block,
    Setting,
    block_on,
    chances_of,
    is_sick,
    setting_on,
)
from swarmwatch.swarming.single_looks import chances_of_single_looks, shared_of
from swarmwatch.swarming.steps import STATE_EVENTS
from swarmwatch.swarming.timeline import Days, Place, Yard, places_of, yards_of
from swarmwatch.tables import TABLES, conform, empty

DRAWS = 32
SEED = 20260401
# numerical: about a minute's work in words
MOST_IN_WORDS = 50_000
_WEEK, _FORTNIGHT = 7, 14
_TARGETS = (0, _WEEK, _FORTNIGHT)
# numerical: keeps a block's arrays in the processor's cache rather than in memory
_COLONIES_A_BLOCK = 1000
# numerical: with fewer, what each block costs once was measured to weigh
_SINGLE_LOOKS_A_BLOCK = 16_384
# numerical: colonies a yard and day from which sharing their work was measured to be faster
_FEWEST_TO_SHARE = 24
_YARDS_A_BLOCK = 16
# numpy lets go of the interpreter in its loops, so that two cores can work
_THREADS = 2
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
    words: bool | None = None,
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
        Whether to work out what rests on the central run (likely date, level, reasons, advice,
        dates); without it these are blank, and a score is many times faster. By default they are
        there up to `MOST_IN_WORDS` colonies: nobody reads more.

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
    table = TABLES["scores"]
    if len(records.colonies) == 0:
        return empty(table)
    run = _Run(
        cutter=Cutter(records),
        on=records.on,
        ahead=max(horizon_days, _FORTNIGHT),
        middle=central(evidence),
        many=drawn(evidence, draws=draws, seed=seed),
        evidence=evidence,
        seed=seed,
        chance_key=chance_key,
        words=len(records.colonies) <= MOST_IN_WORDS if words is None else words,
    )
    rows, parts = [], []
    for places, here in _by_line_of_days(records, weather, evidence):
        done = _score_yards(run, places, here)
        rows += [r for r, _ in done]
        parts += [part for _, part in done]
    order = np.argsort(np.concatenate(rows))
    return conform(pd.concat(parts, ignore_index=True).take(order), table)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """What is asked of every colony alike."""

    cutter: Cutter
    on: dt.date
    ahead: int
    middle: Parameters
    many: Parameters
    evidence: Evidence
    seed: int
    chance_key: str
    words: bool

    def setting(self, days: Days, yards: list[Yard], *, central_run: bool = False) -> Setting:
        """Work out rates and weather of the draws, or of the central run."""
        return setting_on(
            days,
            yards,
            self.middle if central_run else self.many,
            evidence=self.evidence,
            seed=None if central_run else self.seed,
            chance_key=self.chance_key,
        )


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


def _by_line_of_days(
    records: Records, weather: pd.DataFrame | None, evidence: Evidence
) -> Iterator[tuple[list[Place], Integers]]:
    """Give yards that share a line of days, a few at a time, with the rows of their colonies.

    A colony's score does not depend on the colonies or yards beside it.
    """
    code, names = pd.factorize(records.colonies["apiary"], sort=True)
    places = places_of(list(names), records.apiaries, weather, on=records.on, evidence=evidence)
    by_yard = np.argsort(code, kind="stable")
    begins = np.searchsorted(code[by_yard], np.arange(len(names) + 1))
    for back in sorted({p.back for p in places}):
        alike = [i for i, p in enumerate(places) if p.back == back]
        for first in range(0, len(alike), _YARDS_A_BLOCK):
            chosen = alike[first : first + _YARDS_A_BLOCK]
            rows = [by_yard[begins[i] : begins[i + 1]] for i in chosen]
            yield [places[i] for i in chosen], np.sort(np.concatenate(rows))


def _score_yards(
    run: _Run, places: list[Place], rows: Integers
) -> list[tuple[Integers, pd.DataFrame]]:
    """Return scores of the colonies in `rows`, block by block with the rows of each."""
    days, yards = yards_of(places, on=run.on, ahead=run.ahead, evidence=run.evidence)
    many = run.setting(days, yards)
    middle = run.setting(days, yards, central_run=True) if run.words else None
    once = np.zeros(len(rows), dtype=bool)
    jobs: list[tuple[Integers, Callable[[Integers], pd.DataFrame]]] = []
    if middle is None:
        looked, day = run.cutter.days_of("inspections", rows, days.start)
        changed, _ = run.cutter.days_of("events", rows, days.start, words=STATE_EVENTS)
        looks, changes = (np.bincount(w, minlength=len(rows)) for w in (looked, changed))
        once = (looks == 1) & (changes == 0)
        groups = len(yards) * len(np.unique(day[once[looked]]))
        # what a yard's colonies looked at on one day share has to pay for being worked out
        once &= once.sum() >= _FEWEST_TO_SHARE * groups
        jobs += _jobs_once(run, (days, yards), many, rows[once], day[once[looked]])

    def block(these: Integers) -> pd.DataFrame:
        return _general(run, days, yards, (many, middle), these)

    jobs += [(these, block) for these in _slices(rows[~once], _COLONIES_A_BLOCK)]
    if len(jobs) == 1:
        return [(these, job(these)) for these, job in jobs]
    with ThreadPoolExecutor(_THREADS) as pool:
        parts = list(pool.map(lambda job: job[1](job[0]), jobs))
    return [(these, part) for (these, _), part in zip(jobs, parts, strict=True)]


def _slices(rows: Integers, size: int) -> list[Integers]:
    return [rows[i : i + size] for i in range(0, len(rows), size)]


def _jobs_once(
    run: _Run, line: tuple[Days, list[Yard]], many: Setting, rows: Integers, day: Integers
) -> list[tuple[Integers, Callable[[Integers], pd.DataFrame]]]:
    """Cut colonies that were looked at once, in `rows`, by the day of the look, and share work."""
    if len(rows) == 0:
        return []
    days, yards = line
    colonies = run.cutter.colonies.take(rows)
    clipped = (colonies["queen_clipped"] == "yes").to_numpy(dtype=bool)
    yard = pd.Index([y.name for y in yards]).get_indexer(pd.Index(colonies["apiary"]))
    order = np.lexsort((clipped, yard, day))
    rows, day = rows[order], day[order]
    shared = shared_of(
        many, days, looked=set(day.tolist()), clipped=set(clipped.tolist()), targets=_TARGETS
    )

    def scores_on(first: int) -> Callable[[Integers], pd.DataFrame]:
        after = shared.days_from(first)

        def scores(these: Integers) -> pd.DataFrame:
            block = block_on(
                run.cutter.of(these), after, yards, parameters=run.middle, evidence=run.evidence
            )
            spread = chances_of_single_looks(block, shared, first=first, targets=len(_TARGETS))
            return pd.DataFrame(_columns(block, spread, run.evidence))

        return scores

    begins = np.flatnonzero(np.diff(day, prepend=-1, append=-1))
    return [
        (these, scores_on(int(day[begin])))
        for begin, end in pairwise(begins)
        for these in _slices(rows[begin:end], _SINGLE_LOOKS_A_BLOCK)
    ]


def _general(
    run: _Run,
    days: Days,
    yards: list[Yard],
    settings: tuple[Setting, Setting | None],
    rows: Integers,
) -> pd.DataFrame:
    """Return the scores of any colonies, with the words where there is a central setting."""
    many, middle = settings
    block = block_on(run.cutter.of(rows), days, yards, parameters=run.middle, evidence=run.evidence)
    columns = _columns(block, chances_of(block, many, _TARGETS), run.evidence)
    if middle is not None:
        columns |= words_of(block, middle, columns, ahead=run.ahead)
    return pd.DataFrame(columns)


def _columns(block: Block, spread: Chances, evidence: Evidence) -> dict[str, object]:
    """Return the columns that rest on the draws and on the records alone."""
    records = block.records
    inspected = last_dates(records.inspections, records.colonies)
    kinds = np.array([y.weather_kind for y in block.yards], dtype=object)
    return {
        "colony": records.colonies["colony"],
        "apiary": records.colonies["apiary"],
        "on": pd.Timestamp(records.on),
        **_ranges(block, spread, evidence),
        "inspected_on": inspected,
        "inspection_age_d": (pd.Timestamp(records.on) - inspected).dt.days.to_numpy(),
        "weather_kind": kinds[block.yard],
    }


def _ranges(block: Block, spread: Chances, evidence: Evidence) -> dict[str, Floats]:
    """Return the chances with their 80 % ranges, from the draws.

    A draw counts for as much as it explains what was seen of the colony. The range is of the
    chances of each draw, widened to hold p.
    """
    sick = is_sick(block)
    gone, weight = spread.by[..., 0], spread.weight
    here = np.maximum(1 - gone, np.finfo(float).tiny)
    known_gone = (gone >= 1 - np.finfo(np.float32).eps).all(axis=0)
    out = {
        "p_gone": np.where(known_gone, 1, np.clip((weight * gone).sum(axis=0), 0, 1)),
        "p_after_7d": np.clip((weight * spread.after).sum(axis=0), 0, 1),
    }
    for i, name in ((1, "p_7d"), (2, "p_14d")):
        coming = np.maximum(spread.by[..., i] - gone, 0)
        p = spread.within(i)
        each = np.clip(coming / here, 0, 1)
        low, high = _weighted_quantiles(each, weight * here, (_LOW_SHARE, _HIGH_SHARE))
        low, high = np.minimum(low, p), np.maximum(high, p)
        wide = np.where(sick, evidence.value("seeing.health_widening"), 0.0)
        out[name] = np.where(known_gone, 0, p)
        # to the logit scale and back costs a last digit
        out[f"{name}_low"] = np.where(known_gone, 0, np.minimum(_moved(low, -wide), p))
        out[f"{name}_high"] = np.where(known_gone, 0, np.maximum(_moved(high, wide), p))
    return out


def _weighted_quantiles(values: Floats, weight: Floats, shares: tuple[float, ...]) -> list[Floats]:
    """Return quantiles (n,) over the first axis of `values` (n_draws, n), weighted.

    A value stands at the middle of its own weight, and lines are drawn between (Hazen 1914 where
    all weigh alike).
    """
    order = np.argsort(values, axis=0)
    ordered = np.take_along_axis(values, order, axis=0)
    each = np.take_along_axis(weight, order, axis=0)
    middle = np.cumsum(each, axis=0)
    total = middle[-1]
    middle -= each / 2
    last, column = len(values) - 1, np.arange(values.shape[1])
    out = []
    for share in shares:
        above = (middle < share * total).sum(axis=0)
        right, left = np.minimum(above, last), np.maximum(above - 1, 0)
        span = middle[right, column] - middle[left, column]
        part = np.where(
            span > 0, (share * total - middle[left, column]) / np.where(span > 0, span, 1), 0
        )
        start = ordered[left, column]
        out.append(start + np.clip(part, 0, 1) * (ordered[right, column] - start))
    return out


def _moved(chance: Floats, by: Floats) -> Floats:
    """Move a chance on the logit scale."""
    with np.errstate(divide="ignore"):
        return np.asarray(expit(logit(chance) + by))
