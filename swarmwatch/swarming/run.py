"""Put one block of colonies through the model: once centrally, with draws, or with a change."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.swarming.chances import Chances
from swarmwatch.swarming.departure import CellRates, cell_rates
from swarmwatch.swarming.notes import Floats, Integers, Records, colony_rows, day_index
from swarmwatch.swarming.parameters import Parameters
from swarmwatch.swarming.readiness import Covariates, Notes, covariates_of, log_ratio, read_notes
from swarmwatch.swarming.replay import Colonies, replay
from swarmwatch.swarming.seen import Look
from swarmwatch.swarming.steps import Steps, looks_of, steps_of
from swarmwatch.swarming.timeline import Course, Days, Place, Yard, course_of, places_of, yards_of

_AFTER_A_SWARM = ("queen-cells-thinned", "afterswarmed")
_Arrays = TypeVar("_Arrays", Colonies, Steps, Look)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Colonies whose yards share one line of days, with their notes in arrays."""

    records: Records
    days: Days
    yards: list[Yard]
    yard: Integers
    notes: Notes
    covariates: Covariates
    looks: Look
    evidence: Evidence

    @property
    def count(self) -> int:
        """How many colonies."""
        return len(self.records.colonies)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A set of draws with their rates and the weather under each."""

    parameters: Parameters
    rates: CellRates
    course: Course


def block_of(
    records: Records,
    places: list[Place],
    *,
    ahead: int,
    parameters: Parameters,
    evidence: Evidence,
) -> Block:
    """Lay out some colonies' days, yards, notes and what bears on them.

    `places` are the colonies' yards, all with the same ``back``.
    """
    days, yards = yards_of(places, on=records.on, ahead=ahead, evidence=evidence)
    return block_on(records, days, yards, parameters=parameters, evidence=evidence)


def blocks_of(
    records: Records,
    weather: pd.DataFrame | None,
    *,
    ahead: int,
    parameters: Parameters,
    evidence: Evidence,
) -> Iterator[Block]:
    """Lay out all colonies, those whose yards share a line of days together."""
    names = sorted(records.colonies["apiary"].unique())
    places = places_of(names, records.apiaries, weather, on=records.on, evidence=evidence)
    for back in sorted({p.back for p in places}):
        alike = [p for p in places if p.back == back]
        here = records.colonies["apiary"].isin([p.name for p in alike])
        mine = records.of(pd.Index(records.colonies.loc[here, "colony"]))
        yield block_of(mine, alike, ahead=ahead, parameters=parameters, evidence=evidence)


def block_on(
    records: Records,
    days: Days,
    yards: list[Yard],
    *,
    parameters: Parameters,
    evidence: Evidence,
) -> Block:
    """Lay out some colonies' notes and what bears on them on a line of days of their yards."""
    yard = (
        pd.Index([y.name for y in yards])
        .get_indexer(pd.Index(records.colonies["apiary"]))
        .astype(np.int64)
    )
    notes = read_notes(records, days, evidence)
    covariates = covariates_of(records, notes, days=days, yards=yards, yard=yard, evidence=evidence)
    looks = looks_of(
        notes,
        covariates.crowding[notes.colony, notes.day],
        parameters,
        evidence.value("advice.crowded"),
    )
    return Block(
        records=records,
        days=days,
        yards=yards,
        yard=yard,
        notes=notes,
        covariates=covariates,
        looks=looks,
        evidence=evidence,
    )


def with_event(block: Block, event: str) -> Block:
    """Return the block as if `event` had been done to every colony on the evening of the score."""
    names = block.records.colonies["colony"]
    done = pd.DataFrame(
        {c: pd.Series([None] * len(names), dtype=t) for c, t in block.records.events.dtypes.items()}
    )
    done["colony"] = names.to_numpy()
    done["date"] = pd.Timestamp(block.records.on)
    done["event"] = event
    events = pd.concat([block.records.events, done], ignore_index=True)
    records = replace(block.records, events=events.astype(block.records.events.dtypes.to_dict()))
    covariates = covariates_of(
        records,
        block.notes,
        days=block.days,
        yards=block.yards,
        yard=block.yard,
        evidence=block.evidence,
    )
    return replace(block, records=records, covariates=covariates)


def setting_of(
    block: Block, parameters: Parameters, *, seed: int | None, chance_key: str
) -> Setting:
    """Work out rates and weather under each draw; `seed` None takes the expected weather."""
    return setting_on(
        block.days,
        block.yards,
        parameters,
        evidence=block.evidence,
        seed=seed,
        chance_key=chance_key,
    )


def setting_on(
    days: Days,
    yards: list[Yard],
    parameters: Parameters,
    *,
    evidence: Evidence,
    seed: int | None,
    chance_key: str,
) -> Setting:
    """Work out a `Setting` for a line of days of some yards, as `setting_of` does for a block."""
    rates = cell_rates(parameters)
    course = course_of(
        days,
        yards,
        parameters,
        rates,
        evidence=evidence,
        seed=seed,
        chance_key=chance_key,
    )
    return Setting(parameters=parameters, rates=rates, course=course)


def chances_of(block: Block, setting: Setting, targets: tuple[int, ...]) -> Chances:
    """Return the chances of every colony of the block by each target day after `on`."""
    return replay(
        colonies=colonies_of(block, log_ratio(block.covariates, setting.parameters)),
        steps=steps_of(block.records, block.notes, block.days),
        looks=block.looks,
        course=setting.course,
        rates=setting.rates,
        parameters=setting.parameters,
        days=block.days,
        targets=targets,
    )


def chances_of_each(
    blocks: Sequence[Block], setting: Setting, targets: tuple[int, ...]
) -> list[Chances]:
    """Return what `chances_of` gives of each of some blocks, worked out together.

    The blocks are versions of one: the same colonies, yards and days, whatever is known of them.
    """
    count = blocks[0].count
    first_look = np.cumsum([0, *(len(b.looks.eggs) for b in blocks)])
    steps = [
        replace(s, colony=s.colony + i * count, row=s.row + first_look[i])
        for i, s in enumerate(steps_of(b.records, b.notes, b.days) for b in blocks)
    ]
    colonies = [colonies_of(b, log_ratio(b.covariates, setting.parameters)) for b in blocks]
    together = replay(
        colonies=_joined(colonies, axis={"log_ratio": 1}),
        steps=_joined(steps),
        looks=_joined([b.looks for b in blocks]),
        course=setting.course,
        rates=setting.rates,
        parameters=setting.parameters,
        days=blocks[0].days,
        targets=targets,
    )
    arrays = {f.name: getattr(together, f.name) for f in fields(together)}
    return [
        Chances(**{k: v[:, i * count : (i + 1) * count] for k, v in arrays.items()})
        for i in range(len(blocks))
    ]


def _joined(parts: Sequence[_Arrays], axis: Mapping[str, int] | None = None) -> _Arrays:
    """Put dataclasses of arrays behind each other, along the first axis where not said."""
    return replace(
        parts[0],
        **{
            f.name: np.concatenate(
                [getattr(p, f.name) for p in parts], axis=(axis or {}).get(f.name, 0)
            )
            for f in fields(parts[0])
        },
    )


def colonies_of(block: Block, readiness: Floats) -> Colonies:
    """Gather what the replay needs of each colony; `readiness` is the log hazard ratio."""
    since = _since_swarm(block)
    thinned, afterswarms = (_events_since(block, e, since) for e in _AFTER_A_SWARM)
    torn = np.zeros(block.count, dtype=bool)
    torn[block.notes.colony] = (block.looks.torn == 1) & (
        block.notes.day >= since[block.notes.colony]
    )
    return Colonies(
        yard=block.yard,
        clipped=(block.records.colonies["queen_clipped"] == "yes").to_numpy(dtype=bool),
        log_ratio=readiness,
        thinned=thinned > 0,
        torn=torn,
        afterswarms=afterswarms,
    )


def _since_swarm(block: Block) -> Integers:
    """Return the evening (n,) of each colony's recorded prime swarm, else the line's first."""
    start = block.days.start
    return np.array([0 if day is None else (day - start).days for day in swarmed_on(block)])


def _events_since(block: Block, event: str, since: Integers) -> Integers:
    """Count one kind of event from an evening of each colony's own (n,) on."""
    events = block.records.events
    colony = colony_rows(events, block.records.colonies)
    day = day_index(events, "date", block.days.start)
    these = (events["event"] == event).to_numpy() & (day >= since[colony])
    return np.bincount(colony[these], minlength=block.count)


def last_look(block: Block) -> Integers:
    """Return the row of each colony's last look on the line of days, -1 where there is none."""
    last = np.full(block.count, -1, dtype=np.int64)
    last[block.notes.colony] = np.arange(len(block.notes.colony))
    return last


def is_sick(block: Block) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    """Tell of which colonies (n,) the last look found brood health unsure or suspect."""
    sick = block.notes.rows["brood_health"].isin(["unsure", "suspect"]).to_numpy(dtype=bool)
    return np.append(sick, False)[last_look(block)]


def swarmed_on(block: Block) -> list[dt.date | None]:
    """Return the date of each colony's recorded prime swarm of this season, or None."""
    out: list[dt.date | None] = [None] * block.count
    events = block.records.events
    colony = colony_rows(events, block.records.colonies)
    for row, (event, when) in enumerate(zip(events["event"], events["date"], strict=True)):
        if when.date() < block.days.start:
            continue
        if event == "swarmed":
            out[colony[row]] = when.date()
        elif event in ("requeened", "swarm-returned", "superseded"):
            out[colony[row]] = None
    return out


def crowding_now(block: Block) -> Floats:
    """Return each colony's crowding on the evening of the score (n,), NaN where unknown."""
    return block.covariates.crowding[:, block.days.on]
