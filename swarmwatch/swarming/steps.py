"""In which order did looks and events come, and what did each event do to the colony's state?"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from swarmwatch.swarming.belief import ABANDONED, CELLS, GONE, IDLE, LONGEST_GONE
from swarmwatch.swarming.departure import AGES, STAGES
from swarmwatch.swarming.notes import (
    Flags,
    Floats,
    Integers,
    Records,
    colony_rows,
    day_index,
    equals,
    numbers,
    yes,
)
from swarmwatch.swarming.parameters import Parameters
from swarmwatch.swarming.readiness import Notes
from swarmwatch.swarming.seen import Look
from swarmwatch.swarming.timeline import Days

_COUNTS = {
    "queen_cells_egg": (0,),
    "queen_cells_larva": (1, 2),
    "queen_cells_capped": (3, 4),
    "queen_cells_emerged": (5,),
}
LOOK = 0
# events that change the state itself; what the others change is in `readiness`
STATE_EVENTS = (
    "swarmed",
    "swarm-returned",
    "queen-cells-removed",
    "queen-cells-thinned",
    "split",
    "queen-removed",
    "requeened",
    "superseded",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Looks and events in order of time; every array (n_steps,).

    `rank` counts a colony's steps from 0. `kind` is `LOOK` or 1 + the index in `STATE_EVENTS`.
    `row` is the row of the look; `span` the days that an event's date is uncertain by; `flag` is
    1 where a split took the old queen away, 0 where she stayed, NaN elsewhere.
    """

    colony: Integers
    day: Integers
    rank: Integers
    kind: Integers
    row: Integers
    span: Integers
    flag: Floats


def steps_of(records: Records, notes: Notes, days: Days) -> Steps:
    """Put the looks and the events that change a state in order; events follow the day's look."""
    events = records.events[records.events["event"].isin(STATE_EVENTS)].reset_index(drop=True)
    colony = colony_rows(events, records.colonies)
    day = day_index(events, "date", days.start)
    span = np.maximum(day - np.maximum(day_index(events, "date_from", days.start), 0), 0)
    span = np.where(events["date_from"].isna(), 0, span)
    keep = day >= 0
    codes = np.array([1 + STATE_EVENTS.index(e) for e in events["event"]], dtype=np.int64)
    went = events["queen_went"].to_numpy(dtype=object)
    flag = np.select([went == "moved", went == "stayed"], [1.0, 0.0], np.nan)
    both = {
        "colony": np.concatenate([notes.colony, colony[keep]]),
        "day": np.concatenate([notes.day, day[keep]]),
        "kind": np.concatenate([np.full(len(notes.colony), LOOK), codes[keep]]),
        "row": np.concatenate([np.arange(len(notes.colony)), np.full(keep.sum(), -1)]),
        "span": np.concatenate([np.zeros(len(notes.colony), dtype=np.int64), span[keep]]),
        "flag": np.concatenate([np.full(len(notes.colony), np.nan), flag[keep]]),
    }
    order = np.lexsort((both["row"], both["kind"] > LOOK, both["day"], both["colony"]))
    both = {k: v[order] for k, v in both.items()}
    first = np.r_[True, both["colony"][1:] != both["colony"][:-1]] if len(order) else np.array([])
    starts = np.flatnonzero(first)
    rank = np.arange(len(order)) - np.repeat(starts, np.diff(np.r_[starts, len(order)]))
    return Steps(rank=rank.astype(np.int64), **both)


def looks_of(
    notes: Notes, crowding_at_look: Floats, parameters: Parameters, crowded: float
) -> Look:
    """Read what each look noted of cells, eggs, queen and bees.

    Parameters
    ----------
    notes
        The looks.
    crowding_at_look
        (n_looks,) crowding [-], NaN unknown.
    parameters
        Any draw: only fixed evidence is read.
    crowded
        Crowding from which a few cells are not taken for supersedure [-].
    """
    rows = notes.rows
    counts = {c: numbers(rows, c) for c in _COUNTS}
    stages_looked, oldest = _stages(notes, counts)
    total = np.nansum(np.stack([counts[c] for c in _COUNTS]), axis=0)
    counted = np.any(np.stack([counts[c] > 0 for c in _COUNTS]), axis=0)
    share = _share_looked(notes, parameters)
    one_stage = sum((counts[c] > 0).astype(int) for c in _COUNTS) == 1
    few = (
        counted
        & (total <= parameters["seeing.supersedure_cells_most"][0])
        & (crowding_at_look < crowded)
        & (numbers(rows, "combs_looked") >= numbers(rows, "combs_brood"))
    )
    emerged = np.where(
        np.isnan(counts["queen_cells_emerged"]), np.nan, counts["queen_cells_emerged"] > 0
    )
    torn = numbers(rows, "queen_cells_torn")
    return Look(
        stages_looked=stages_looked,
        oldest=oldest,
        cells=np.where(counted, total, np.nan),
        one_age=np.where(few, one_stage, np.nan),
        share_looked=share,
        eggs=yes(rows, "eggs_seen"),
        queen=yes(rows, "queen_seen"),
        emerged=emerged,
        torn=np.where(np.isnan(torn), np.nan, torn > 0),
        piping=yes(rows, "piping"),
        log_bees=notes.log_bees,
    )


def _stages(notes: Notes, counts: dict[str, Floats]) -> tuple[Flags, Flags]:
    """Return which stages a look speaks of, and which the oldest cell noted may be in."""
    n = len(notes.rows)
    looked = np.zeros((n, len(STAGES)), dtype=bool)
    oldest = np.zeros((n, len(STAGES)), dtype=bool)
    for column, stages in _COUNTS.items():
        seen = counts[column] > 0
        looked[:, list(stages)] |= ~np.isnan(counts[column])[:, None]
        # columns go from young to old: an older stage takes the place of a younger one
        oldest[seen] = False
        oldest[np.ix_(np.flatnonzero(seen), np.array(stages))] = True
    highest = np.where(oldest.any(axis=1), len(STAGES) - 1 - oldest[:, ::-1].argmax(axis=1), -1)
    for i, stage in enumerate(STAGES):
        said = equals(notes.rows, "oldest_queen_cell", stage) == 1
        looked[said, : i + 1] = True
        # the word is finer than the counts, but an older counted cell outweighs it
        said &= i >= highest - 1
        within = ~oldest.any(axis=1) | oldest[:, i] | (i > highest)
        chosen = said & within
        oldest[chosen] = False
        oldest[chosen, i] = True
    return looked, oldest


def _share_looked(notes: Notes, parameters: Parameters) -> Floats:
    brood = numbers(notes.rows, "combs_brood")
    looked = numbers(notes.rows, "combs_looked")
    usual = parameters["seeing.share_looked_unknown"][0]
    share = np.where(brood > 0, looked / np.where(brood > 0, brood, 1), np.nan)
    return np.clip(np.where(np.isnan(share), usual, share), 0, 1)


def apply_event(
    belief: Floats, kind: int, *, span: Integers, flag: Floats, parameters: Parameters
) -> Floats:
    """Change the belief (n_draws, n, n_states) as an event of one kind does."""
    change: dict[str, Callable[[], Floats]] = {
        "swarmed": lambda: _swarmed(belief, span),
        "swarm-returned": lambda: _returned(belief, parameters),
        "queen-cells-removed": lambda: _cells_removed(belief, parameters),
        "queen-cells-thinned": lambda: belief,
        "split": lambda: _split(belief, flag, parameters),
        "queen-removed": lambda: _split(belief, np.ones_like(flag), parameters),
        "requeened": lambda: _all_idle(belief),
        "superseded": lambda: _all_idle(belief),
    }
    return change[STATE_EVENTS[kind - 1]]()


def _all_idle(belief: Floats) -> Floats:
    out = np.zeros_like(belief)
    out[..., IDLE] = 1
    return out


def _swarmed(belief: Floats, span: Integers) -> Floats:
    """Put all mass on gone, spread evenly over the days on which it may have left."""
    out = np.zeros_like(belief)
    days = np.arange(LONGEST_GONE + 1)
    possible = days <= np.minimum(span, LONGEST_GONE)[:, None]
    out[..., GONE] = possible / possible.sum(axis=1, keepdims=True)
    return out


def _returned(belief: Floats, parameters: Parameters) -> Floats:
    """Put the colony back to cells that a virgin leaves in as many days as a lost queen costs."""
    out = np.zeros_like(belief)
    wait = parameters["departure.clipped_delay"].mean()
    age = int(np.argmin(np.abs(AGES - (parameters["cells.emergence_age"].mean() - wait))))
    out[..., CELLS.start + age] = 1
    return out


def _cells_removed(belief: Floats, parameters: Parameters) -> Floats:
    """Split the mass of cells: one missed, new ones from larvae at hand, or none."""
    out = belief.copy()
    cells = belief[..., CELLS]
    mass = cells.sum(axis=-1)
    missed = parameters.column("actions.cells_removed_missed")
    anew = (1 - missed) * parameters.column("actions.cells_removed_anew")
    youngest, oldest = (
        int(parameters[f"actions.cells_anew_{k}"][0]) for k in ("youngest", "oldest")
    )
    out[..., CELLS] = cells * missed[..., None]
    ages = slice(CELLS.start + youngest, CELLS.start + oldest + 1)
    out[..., ages] += (mass * anew / (oldest - youngest + 1))[..., None]
    out[..., IDLE] += mass * (1 - missed - anew)
    return out


def _split(belief: Floats, flag: Floats, parameters: Parameters) -> Floats:
    """End preparation: wholly where the old queen was taken away, mostly where she stayed."""
    kept = np.where(flag == 1, 0.0, parameters.column("actions.split_cells_kept"))
    out = belief.copy()
    mass = belief[..., CELLS].sum(axis=-1) + belief[..., ABANDONED]
    out[..., CELLS] *= kept[..., None]
    out[..., ABANDONED] *= kept
    out[..., IDLE] += mass * (1 - kept)
    return out
