"""Put the central run into words: the likely date, the level, reasons, advice and dates."""

import datetime as dt

import numpy as np
import pandas as pd

from swarmwatch.hives import hive_types, is_long
from swarmwatch.swarming.advice import Advice, advice_of
from swarmwatch.swarming.chances import Chances
from swarmwatch.swarming.notes import Floats, equals, last_dates
from swarmwatch.swarming.reasons import reasons_of, without_each
from swarmwatch.swarming.run import (
    Block,
    Setting,
    chances_of_each,
    crowding_now,
    is_sick,
    last_look,
    swarmed_on,
    with_event,
)
from swarmwatch.swarming.situation import Situation

_WEEK, _FORTNIGHT = 7, 14
_AS_IS = "as is"
# what the advice weighs: the bees taken apart, or given room
_CHANGES = ("split", "room-added")


def words_of(
    block: Block, setting: Setting, columns: dict[str, object], *, ahead: int
) -> dict[str, object]:
    """Return the columns that rest on the central run: likely date, reasons, advice and dates.

    Parameters
    ----------
    block, setting
        The colonies, and the central parameters with the expected weather.
    columns
        The chances that the draws gave.
    ahead
        Days to look ahead for the likely date [d].
    """
    changed = {change: with_event(block, change) for change in _CHANGES}
    versions = {_AS_IS: block} | changed | without_each(block)
    each = chances_of_each(list(versions.values()), setting, tuple(range(ahead + 1)))
    found = dict(zip(versions, each, strict=True))
    once = found.pop(_AS_IS)
    advice = _advice(block, once, [found.pop(c).within(_WEEK) for c in _CHANGES], columns)
    swarmed = swarmed_on(block)
    likely = _likely_dates(block, once)
    return {
        "because": reasons_of(
            block,
            once.by[0, :, _FORTNIGHT],
            {name: chances.by[0, :, _FORTNIGHT] for name, chances in found.items()},
        ),
        "likely_date": [None if s else d for s, d in zip(swarmed, likely, strict=True)],
        "level": [a.level for a in advice],
        "advice": [a.text for a in advice],
        "do_by": [a.do_by for a in advice],
        "look_by": [a.look_by for a in advice],
    }


def _likely_dates(block: Block, once: Chances) -> list[dt.date]:
    a_day = np.diff(once.by[0], axis=1)
    return [block.records.on + dt.timedelta(days=int(i) + 1) for i in a_day.argmax(axis=1)]


def _advice(
    block: Block,
    once: Chances,
    changed: list[Floats],
    columns: dict[str, object],
) -> list[Advice]:
    """Return the advice; `changed` are the week's chances after each of `_CHANGES`."""
    evidence = block.evidence
    lines, after, actions = (evidence.group(g) for g in ("advice", "afterswarm", "actions"))
    split, room = changed
    as_is = once.within(_WEEK)
    unseen = np.stack([once.within(day) for day in range(1, 1 + _FORTNIGHT)], axis=1)
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
                unseen_by_day=tuple(unseen[i]),
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


class _Facts:
    """What the last look and the events say of each colony of a block, for the advice."""

    def __init__(self, block: Block) -> None:
        look = last_look(block)
        self._dates = block.notes.rows["date"]
        self.sick = is_sick(block)
        self.cells = np.append(block.looks.oldest.any(axis=1), False)[look]
        self.queen = np.append(equals(block.notes.rows, "queen_seen", "yes") == 1, False)[look]
        self.unclear = np.append(block.looks.one_age == 1, False)[look]
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
