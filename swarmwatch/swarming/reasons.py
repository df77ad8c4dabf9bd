"""Why is the score what it is? The things that moved it most, in words with the number seen.

Each input is set to the reference colony's value in turn; how far the chance falls or rises by
that is the input's effect, on the logit scale, and its share is of the effects of all inputs.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.special import logit

from swarmwatch.swarming.notes import Floats
from swarmwatch.swarming.readiness import ACTIONS
from swarmwatch.swarming.run import Block, crowding_now, last_look, swarmed_on
from swarmwatch.wording import per_cent

_MOST_REASONS = 3
# definition: effects below this on the logit scale, a tenth up or down, are not worth a word
_LEAST_EFFECT = 0.1
# numerical: keeps the logit finite
_ROUNDING = 1e-6

_DONE_BY_KEEPER = (*ACTIONS, "queen-cells-removed", "queen-cells-thinned", "requeened")
_STAGE_WORDS = {
    "egg": "an egg in a queen cell",
    "small-larva": "a small larva in a queen cell",
    "large-larva": "a large larva in a queen cell",
    "capped": "capped queen cells",
    "ripe": "ripe queen cells",
    "emerged": "queen cells with the queen out",
}


def without_each(block: Block) -> dict[str, Block]:
    """Return the block with each input in turn as the reference colony has it."""
    return {name: without(block) for name, without in _RESETS.items()}


def reasons_of(block: Block, by_fortnight: Floats, reset: Mapping[str, Floats]) -> list[str]:
    """Return each colony's reasons, joined by '; '.

    Parameters
    ----------
    block
        The colonies.
    by_fortnight
        (n,) central chance that the prime swarm has left within 14 days after `on`.
    reset
        The same chance of each block of `without_each`.

    Returns
    -------
    A text a colony.
    """
    effects = {name: _logit(by_fortnight) - _logit(chance) for name, chance in reset.items()}
    total = np.sum([np.abs(e) for e in effects.values()], axis=0)
    look, crowding, swarmed = last_look(block), crowding_now(block), swarmed_on(block)
    out = []
    for i in range(block.count):
        told = [_standing_words(block, i, int(look[i]), swarmed[i])]
        ordered = sorted(effects, key=lambda n: -abs(effects[n][i]))
        for name in ordered[:_MOST_REASONS]:
            effect = float(effects[name][i])
            words = _WORDS[name](block, i, int(look[i]), float(crowding[i]))
            if abs(effect) < _LEAST_EFFECT or not words or swarmed[i] is not None:
                continue
            direction = "raises" if effect > 0 else "lowers"
            told.append(
                f"{words} ({direction} it, {per_cent(abs(effect) / total[i])} of what moved it)"
            )
        out.append("; ".join(t for t in told if t))
    return out


def _logit(chance: Floats) -> Floats:
    return np.asarray(logit(np.clip(chance, _ROUNDING, 1 - _ROUNDING)))


def _without_cells(block: Block) -> Block:
    looks = block.looks
    nothing = np.zeros_like(looks.oldest)
    blank = np.full(len(looks.eggs), np.nan)
    return replace(
        block,
        looks=replace(
            looks,
            stages_looked=nothing,
            oldest=nothing,
            cells=blank,
            one_age=blank,
            emerged=blank,
            torn=blank,
            piping=blank,
        ),
    )


def _without_queen_signs(block: Block) -> Block:
    blank = np.full(len(block.looks.eggs), np.nan)
    return replace(block, looks=replace(block.looks, eggs=blank, queen=blank, log_bees=blank))


def _without_crowding(block: Block) -> Block:
    blank = np.full_like(block.covariates.crowding, np.nan)
    return replace(block, covariates=replace(block.covariates, crowding=blank, congestion=blank))


def _without_history(block: Block) -> Block:
    blank = np.full(block.count, np.nan)
    no = np.zeros(block.count, dtype=bool)
    flying = block.records.colonies.assign(queen_clipped="no")
    return replace(
        block,
        records=replace(block.records, colonies=flying),
        covariates=replace(
            block.covariates,
            queen_age_y=blank,
            swarmed_last_year=blank,
            new_swarm=no,
            new_colony=no,
        ),
    )


def _without_actions(block: Block) -> Block:
    events = block.records.events
    records = replace(block.records, events=events[~events["event"].isin(_DONE_BY_KEEPER)])
    return replace(block, records=records, covariates=replace(block.covariates, actions={}))


_RESETS: dict[str, Callable[[Block], Block]] = {
    "cells": _without_cells,
    "queen signs": _without_queen_signs,
    "crowding": _without_crowding,
    "history": _without_history,
    "actions": _without_actions,
}


def _standing_words(block: Block, i: int, look: int, swarmed: object) -> str:
    """Say what the score starts from: the swarm on record, no look at all, or the season."""
    if swarmed is not None:
        return f"a prime swarm left on {swarmed}"
    yard = block.yards[block.yard[i]]
    days = (block.records.on - yard.peak_on).days
    if days == 0:
        season = "today is the usual peak of the swarm season here"
    else:
        side = "after" if days > 0 else "before"
        season = f"{abs(days)} days {side} the usual peak of the swarm season here"
    if look < 0:
        return f"not inspected this season, so the season's usual chance; {season}"
    return season


def _cells_words(block: Block, i: int, look: int, crowding: float) -> str:  # noqa: ARG001
    if look < 0:
        return ""
    row = block.notes.rows.iloc[look]
    on = _day(row["date"])
    counts = [
        (f"{int(row[c])} {words}")
        for c, words in (
            ("queen_cells_egg", "with egg"),
            ("queen_cells_larva", "with larva"),
            ("queen_cells_capped", "capped"),
        )
        if not pd.isna(row[c]) and row[c] > 0
    ]
    if counts:
        return f"queen cells seen on {on}: {', '.join(counts)}"
    if block.looks.oldest[look].any():
        stage = row["oldest_queen_cell"]
        return f"{_STAGE_WORDS.get(stage, 'queen cells')} seen on {on}"
    if block.looks.stages_looked[look].any():
        return f"no occupied queen cell found on {on}"
    return "what earlier looks found of queen cells"


def _queen_words(block: Block, i: int, look: int, crowding: float) -> str:  # noqa: ARG001
    if look < 0:
        return ""
    row = block.notes.rows.iloc[look]
    told = []
    if not pd.isna(row["eggs_seen"]):
        told.append("eggs seen" if row["eggs_seen"] == "yes" else "no eggs seen")
    if not pd.isna(row["queen_seen"]):
        told.append("queen seen" if row["queen_seen"] == "yes" else "queen not found")
    change = block.looks.log_bees[look]
    if np.isfinite(change) and change < -_LEAST_EFFECT:
        told.append(f"bees fell to {per_cent(float(np.exp(change)))} of what the brood foretold")
    return f"{', '.join(told)} on {_day(row['date'])}" if told else ""


def _crowding_words(block: Block, i: int, look: int, crowding: float) -> str:  # noqa: ARG001
    return (
        ""
        if np.isnan(crowding)
        else f"bees fill {per_cent(crowding)} of the comfortable room by now"
    )


def _history_words(block: Block, i: int, look: int, crowding: float) -> str:  # noqa: ARG001
    told = []
    age = block.covariates.queen_age_y[i]
    if np.isfinite(age):
        season = ("reared this season", "in her first full season", "in her second season")
        told.append(f"queen {season[int(age)] if age < len(season) else 'older than two seasons'}")
    if block.records.colonies["queen_clipped"].iloc[i] == "yes":
        told.append("queen clipped, so a swarm comes back and leaves later")
    if block.covariates.swarmed_last_year[i] == 1:
        told.append("it swarmed last year")
    if block.covariates.new_swarm[i]:
        told.append("a swarm hived this season")
    elif block.covariates.new_colony[i]:
        told.append("a colony made this season")
    return ", ".join(told)


def _action_words(block: Block, i: int, look: int, crowding: float) -> str:  # noqa: ARG001
    events = block.records.events
    name = block.records.colonies["colony"].iloc[i]
    mine = events[(events["colony"] == name) & events["event"].isin(_DONE_BY_KEEPER)]
    if mine.empty:
        return ""
    last = mine.iloc[-1]
    return f"{last['event']} on {_day(last['date'])}"


_WORDS: dict[str, Callable[[Block, int, int, float], str]] = {
    "cells": _cells_words,
    "queen signs": _queen_words,
    "crowding": _crowding_words,
    "history": _history_words,
    "actions": _action_words,
}


def _day(when: pd.Timestamp) -> str:
    return when.date().isoformat()
