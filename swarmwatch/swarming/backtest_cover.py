"""Do the 80 % ranges hold what they promise, where the score's own model is the truth?

A set of parameters is drawn, each colony's season is drawn day by day from the score's own model
under it, and so is what the keeper notes of cells, eggs and queen. The score then reads those
notes, once as ever and once knowing the parameters: the chance it gives when it knows them should
lie within the range it gives when it does not, four times in five.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.swarming.backtest_known import Tables, conformed, known_on
from swarmwatch.swarming.belief import ABANDONED, IDLE, STATES, Day, step
from swarmwatch.swarming.departure import STAGES
from swarmwatch.swarming.notes import read_records
from swarmwatch.swarming.parameters import SUBJECTS, Parameters, drawn
from swarmwatch.swarming.readiness import Notes, log_ratio
from swarmwatch.swarming.run import Block, Setting, blocks_of, setting_of
from swarmwatch.swarming.score import score_colonies
from swarmwatch.swarming.seen import MANY_CELLS, likelihood
from swarmwatch.swarming.steps import looks_of

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
_SEEDS = 2**31  # numerical: how many seeds there are
_CHANCE_KEY = "season.yearly_chance_inspected"
# columns that the drawn notes fill, or that would speak of the state behind the invented counts
_DRAWN = (
    "queen_cups",
    "queen_cells_egg",
    "queen_cells_larva",
    "queen_cells_capped",
    "queen_cells_emerged",
    "queen_cells_torn",
    "oldest_queen_cell",
    "queen_cell_place",
    "eggs_seen",
    "queen_seen",
    "piping",
    "combs_looked",
)
_COUNT_OF = (
    "queen_cells_egg",
    "queen_cells_larva",
    "queen_cells_larva",
    "queen_cells_capped",
    "queen_cells_capped",
)


def range_cover(
    tables: Tables,
    *,
    days: Sequence[dt.date],
    sets: int,
    seed: int,
    evidence: Evidence | None = None,
    score: Callable[..., pd.DataFrame] = score_colonies,
) -> pd.DataFrame:
    """Draw seasons from the score's own model, and see whether its ranges hold the true chance.

    Parameters
    ----------
    tables
        Colonies, yards, weather and the days and comb counts of inspections; what the notes say
        of cells, eggs and queen is drawn anew, and events and outcomes are not used.
    days
        Evenings to score; one a set of parameters, in turn.
    sets
        Sets of parameters drawn from the evidence.
    seed
        Seed of sets, seasons and notes.
    evidence
        The numbers; the shipped ones by default.
    score
        Called as `score_colonies` is.

    Returns
    -------
    One row a set and colony: ``set``, ``colony``, ``on``, and for 7 and 14 days ``p_7d`` (the
    chance under the set), ``p_7d_low``, ``p_7d_high`` (the range of a score that doesn't know it)
    and ``held_7d``. The mean of ``held_7d`` is the cover.

    Notes
    -----
    Left out: events, how many combs were viewed, whether few cells are of one age, piping, torn and
    emerged cells, and the loss of bees that a swarm leaves behind (it bears on `p_gone`, not on
    chances given that none has left).
    """
    evidence = evidence or load_evidence()
    read = conformed(tables)
    read["events"] = read["events"].iloc[:0]
    rng = np.random.default_rng(seed)
    # a Sobol sequence is even at powers of 2; its first sets are as good
    many = drawn(evidence, draws=1 << (sets - 1).bit_length(), seed=seed)
    parts = []
    for i in range(sets):
        on = days[i % len(days)]
        true = _known(evidence, many.one(i))
        known = known_on(read, on)
        known["inspections"] = _draw_notes(known, on, many.one(i), true, rng)
        both = [
            score(
                known["colonies"],
                known["inspections"],
                known["weather"],
                on,
                apiaries=known["apiaries"],
                hives=known["hives"],
                evidence=e,
            )
            for e in (evidence, true)
        ]
        parts.append(_held(*both).assign(set=i))
    return pd.concat(parts, ignore_index=True)


def _known(evidence: Evidence, one: Parameters) -> Evidence:
    """Return the evidence of somebody who knows the parameters: ranges shrunk to a point."""
    values = one.numbers()
    return Evidence(
        {
            key: replace(
                entry, value=values[key], low=values[key], high=values[key], distribution="uniform"
            )
            if key.partition(".")[0] in SUBJECTS
            else entry
            for key, entry in evidence.items()
        }
    )


def _held(ordinary: pd.DataFrame, knowing: pd.DataFrame) -> pd.DataFrame:
    out = ordinary[["colony", "on"]].copy()
    for h in ("7d", "14d"):
        true = knowing[f"p_{h}"].to_numpy(dtype=np.float64)
        low, high = (ordinary[f"p_{h}_{e}"].to_numpy(dtype=np.float64) for e in ("low", "high"))
        out[f"p_{h}"], out[f"p_{h}_low"], out[f"p_{h}_high"] = true, low, high
        out[f"held_{h}"] = (low <= true) & (true <= high)
    return out


def _draw_notes(
    known: Tables, on: dt.date, one: Parameters, true: Evidence, rng: np.random.Generator
) -> pd.DataFrame:
    """Return the inspections with cells, eggs and queen drawn from each colony's drawn season."""
    blank = known["inspections"].copy()
    blank[list(_DRAWN)] = pd.NA
    blank = blank.astype(known["inspections"].dtypes.to_dict())
    records = read_records(
        known["colonies"], blank, on=on, apiaries=known["apiaries"], hives=known["hives"]
    )
    parts = []
    # yards that share a line of days are drawn together
    for block in blocks_of(records, known["weather"], ahead=1, parameters=one, evidence=true):
        setting = setting_of(block, one, seed=int(rng.integers(_SEEDS)), chance_key=_CHANCE_KEY)
        parts.append(_season(block, setting, rng))
    return pd.concat(parts, ignore_index=True)


def _season(block: Block, setting: Setting, rng: np.random.Generator) -> pd.DataFrame:
    """Draw each colony's state day by day, and at each look what is noted of it."""
    rows = block.notes.rows.copy()
    course, ratio = setting.course, log_ratio(block.covariates, setting.parameters)[0]
    clipped = (block.records.colonies["queen_clipped"] == "yes").to_numpy(dtype=bool)
    state = np.full(block.count, IDLE)
    for t in range(block.days.on + 1):
        if t > 0:
            rate = course.season_rate[t, block.yard, 0] * np.exp(ratio[:, t])
            today = Day(
                start=-np.expm1(-rate)[None],
                restart=course.restart[t, block.yard, 0][None],
                gate=course.gate[t, block.yard, 0][None],
            )
            sure = np.eye(STATES)[state][None]
            state = _choice(step(sure, today, rates=setting.rates, clipped=clipped)[0], rng)
        looks = np.flatnonzero(block.notes.day == t)
        if len(looks):
            noted = _noted(block, setting.parameters, looks, state, rng)
            rows.loc[looks, noted.columns] = noted.to_numpy(dtype=object)
            # the model takes a colony that gave up for idle from the next look on
            state = np.where(
                np.isin(np.arange(block.count), block.notes.colony[looks]) & (state == ABANDONED),
                IDLE,
                state,
            )
    return rows


def _choice(chances: Floats, rng: np.random.Generator) -> Integers:
    """Draw one column for each row of `chances` (n, n_columns)."""
    steps = np.cumsum(chances, axis=1)
    return np.asarray((rng.random(len(chances))[:, None] * steps[:, -1:] > steps).sum(axis=1))


def _possible_notes() -> pd.DataFrame:
    """List what a look may note: no cells or so many of a stage, eggs or none, queen or not."""
    none: dict[str, object] = dict.fromkeys(_COUNT_OF, 0)
    cells = [none]
    cells += [
        none | {column: count, "oldest_queen_cell": STAGES[i]}
        for i, column in enumerate(_COUNT_OF)
        for count in range(1, MANY_CELLS + 1)
    ]
    words = ("no", "yes")
    return pd.DataFrame(
        [
            c | {"eggs_seen": eggs, "queen_seen": queen}
            for c, eggs, queen in product(cells, words, words)
        ]
    )


def _noted(
    block: Block,
    parameters: Parameters,
    looks: Integers,
    state: Integers,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Draw the notes (n_looks rows) by the score's own chance of each under the drawn state."""
    possible = _possible_notes()
    each = np.repeat(looks, len(possible))
    rows = block.notes.rows.iloc[each].reset_index(drop=True)
    for column in possible:
        filled = np.tile(possible[column].to_numpy(dtype=object), len(looks))
        rows[column] = pd.Series(filled).astype(rows[column].dtype)
    unread = np.full(len(each), np.nan)
    notes = Notes(
        rows=rows,
        colony=block.notes.colony[each],
        day=block.notes.day[each],
        strength=block.notes.strength,
        log_bees=unread,
    )
    read = looks_of(notes, unread, parameters, block.evidence.value("advice.crowded"))
    now = state[block.notes.colony[each]]
    chance = likelihood(read, parameters)[0, np.arange(len(each)), now]
    chosen = _choice(chance.reshape(len(looks), len(possible)), rng)
    return possible.iloc[chosen]
