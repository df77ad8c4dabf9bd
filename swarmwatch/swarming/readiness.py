"""How ready is each colony to start swarm cells on each day, given its notes?

Everything here is relative to the reference colony: log hazard ratios, 0 where nothing is known.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
import pandas as pd

from swarmwatch.colony import Strength, crowding_by_day, strength_of
from swarmwatch.evidence import Evidence
from swarmwatch.hives import hive_types
from swarmwatch.swarming.notes import (
    Flags,
    Floats,
    Integers,
    Records,
    colony_rows,
    day_index,
    equals,
    latest_by_day,
    numbers,
    yes,
)
from swarmwatch.swarming.parameters import Parameters
from swarmwatch.swarming.preparation import crowding_log_ratio, reference_crowding
from swarmwatch.swarming.timeline import Days, Yard

# event of the keeper: evidence key of its factor on the start of preparation
ACTIONS = {
    "room-added": "actions.room_added_factor",
    "combs-added": "actions.room_in_nest_factor",
    "split": "actions.split_factor",
    "brood-removed": "actions.brood_removed_factor",
    "queen-confined": "actions.queen_confined_factor",
    "queen-removed": "actions.queen_removed_factor",
    "honey-removed": "actions.small_factor",
    "excluder-on": "actions.small_factor",
    "excluder-off": "actions.small_factor",
}


# beyond one generation of workers the projection rests on assumed laying alone
LONGEST_PROJECTION_D = 21


@dataclass(frozen=True, slots=True, kw_only=True)
class Covariates:
    """What bears on the start of preparation; each array (n,) or (n, n_days), NaN if unknown.

    `crowding_sd` is the log error of the count behind `crowding`. `from_peak` are the days from
    the yard's peak. `actions` holds, by evidence key, the days on which an action still works.
    """

    crowding: Floats
    crowding_sd: Floats
    congestion: Floats
    no_drones: Flags
    bees_outside: Flags
    queen_age_y: Floats
    swarmed_last_year: Floats
    new_swarm: Flags
    new_colony: Flags
    from_peak: Floats
    actions: Mapping[str, Flags]

    def take(self, rows: Integers | slice) -> "Covariates":
        """Return some colonies."""
        plain = {f.name: getattr(self, f.name)[rows] for f in fields(self) if f.name != "actions"}
        return Covariates(**plain, actions={k: v[rows] for k, v in self.actions.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """Looks as strength and place in time, one row an inspection that lies on the line of days."""

    rows: pd.DataFrame
    colony: Integers
    day: Integers
    strength: Strength
    log_bees: Floats


def read_notes(records: Records, days: Days, evidence: Evidence) -> Notes:
    """Turn the inspections into strength, and compare bees with what the last count foresaw."""
    colony = colony_rows(records.inspections, records.colonies)
    day = day_index(records.inspections, "date", days.start)
    on_line = day >= 0
    rows = records.inspections[on_line].reset_index(drop=True)
    colony, day = colony[on_line], day[on_line]
    types = hive_types(evidence, records.hives)
    strength = strength_of(
        rows, records.colonies.iloc[colony].reset_index(drop=True), types, evidence
    )
    log_bees = _against_projection(colony, day, strength, _bee_factor(records, days, evidence))
    return Notes(rows=rows, colony=colony, day=day, strength=strength, log_bees=log_bees)


def covariates_of(
    records: Records,
    notes: Notes,
    *,
    days: Days,
    yards: list[Yard],
    yard: Integers,
    evidence: Evidence,
) -> Covariates:
    """Gather what bears on the start of preparation, day by day.

    Parameters
    ----------
    records, notes
        The tables and the looks.
    days, yards
        The line of days and the yards.
    yard
        (n,) index of each colony's yard.
    evidence
        The numbers.
    """
    count = len(records.colonies)
    crowding, sd = _crowding(records, notes, days, evidence)
    last = latest_by_day(notes.colony, notes.day, colonies=count, days=days.count)
    peaks = [y.peak_on for y in yards]
    peak_year = np.array([p.year for p in peaks], dtype=np.float64)[yard]
    age = peak_year - _queen_year(records)
    age = np.where(np.isnan(age), np.nan, np.maximum(age, 0))
    season_start = np.array(peaks, dtype="datetime64[D]")[yard] - np.timedelta64(183)
    started = records.colonies["started"].to_numpy(dtype="datetime64[D]")
    this_season = ~np.isnat(started) & (started >= season_start)
    origin = records.colonies["origin"].to_numpy(dtype=object)
    day = np.arange(days.count)[None]
    peak_index = np.array([(p - days.start).days for p in peaks])[yard][:, None]
    return Covariates(
        crowding=crowding,
        crowding_sd=sd,
        congestion=_last(notes.strength.congestion, last),
        no_drones=_last(equals(notes.rows, "drones", "none"), last) == 1,
        bees_outside=_last(equals(notes.rows, "bees_outside", "many"), last) == 1,
        queen_age_y=age,
        swarmed_last_year=yes(records.colonies, "swarmed_last_year"),
        new_swarm=this_season & (origin == "swarm"),
        new_colony=this_season & np.isin(origin, ["package", "nucleus", "split"]),
        from_peak=(day - peak_index).astype(np.float64),
        actions=_actions(records, days, evidence),
    )


def log_ratio(covariates: Covariates, parameters: Parameters) -> Floats:
    """Return each colony's log hazard ratio to one of reference crowding at the peak.

    Returns
    -------
    (n_draws, n, n_days) [-].
    Source: evidence ``preparation.*``, ``actions.*``.
    """
    log_crowding, error = (a.T.copy() for a in _log_crowding(covariates, parameters))
    congestion = covariates.congestion.T - parameters["preparation.reference_congestion"][0]
    congestion = np.nan_to_num(congestion, nan=0.0)
    congested = bool(congestion.any())
    standing = _standing(covariates, parameters)
    # a day's colonies lie side by side in memory, as what is done next goes from day to day
    out = np.empty((parameters.draws, *log_crowding.shape))
    for draw, total in enumerate(out):
        one = parameters.one(draw)
        value = one.numbers()
        crowding = np.exp(log_crowding + value["preparation.counting_error"] * error)
        np.add(crowding_log_ratio(crowding, one), standing[draw], out=total)
        if congested:
            total += value["preparation.congestion_effect"] * congestion
        _add_crowding_by_age(total, covariates.queen_age_y, crowding, value)
        _add_of_the_day(total, covariates, value)
    return out.swapaxes(1, 2)


def _log_crowding(covariates: Covariates, parameters: Parameters) -> tuple[Floats, Floats]:
    """Return the log of the likely crowding (n, n_days), and its error on that scale.

    A count is rough, so it is drawn towards what colonies are usually like by as much as it is
    worth: the mean of two normal laws on the log scale. Without a count the usual is all there is.
    """
    usual = np.log(reference_crowding(covariates.from_peak, parameters))
    spread = parameters["preparation.crowding_spread"][0]
    trust = spread**2 / (spread**2 + covariates.crowding_sd**2)
    trust = np.where(np.isnan(covariates.crowding), 0, trust)
    with np.errstate(divide="ignore"):
        counted = np.maximum(np.log(covariates.crowding), _LEAST_LOG)
    likely = usual + np.where(trust > 0, trust * (counted - usual), 0)
    return likely, spread * np.sqrt(1 - trust)


# numerical: a colony without bees is not crowded, and its logarithm still a number
_LEAST_LOG = -7.0


def _add_crowding_by_age(
    total: Floats, queen_age_y: Floats, crowding: Floats, value: Mapping[str, float]
) -> None:
    """Add to (n_days, n) what crowding beyond the reference's does more with an old queen."""
    old = queen_age_y >= 2
    if old.any():
        excess = np.maximum(crowding - value["preparation.reference_crowding_peak"], 0)
        excess *= value["preparation.crowding_by_queen_age"] * old
        total += excess


def _add_of_the_day(total: Floats, covariates: Covariates, value: Mapping[str, float]) -> None:
    """Add to (n_days, n) what the last look and the keeper's actions do on each day."""
    for seen, key in (
        (covariates.no_drones, "preparation.factor_no_drones"),
        (covariates.bees_outside, "preparation.odds_bees_outside"),
    ):
        if seen.any():
            total += seen.T * np.log(value[key])
    for key, working in covariates.actions.items():
        total += working.T * np.log(value[key])


def _standing(covariates: Covariates, parameters: Parameters) -> Floats:
    """Return the part (n_draws, n) that holds all season: queen, history, origin, the unseen."""
    second, older, young = (
        parameters.column(f"preparation.{k}")
        for k in ("odds_queen_second_year", "odds_queen_older", "factor_queen_this_year")
    )
    share = parameters.column("preparation.share_queen_second_year")
    usual = 1 - share + share * second
    age = covariates.queen_age_y[None]
    by_age = np.select(
        [np.isnan(age), age < 1, age < 2, age == 2], [usual, young, 1.0, second], older
    )
    total = np.log(by_age / usual)
    for held, key in (
        (np.nan_to_num(covariates.swarmed_last_year, nan=0.0), "odds_swarmed_last_year"),
        (covariates.new_swarm, "factor_origin_swarm"),
        (covariates.new_colony, "factor_origin_new"),
    ):
        total += held * np.log(parameters.column(f"preparation.{key}"))
    return np.asarray(total + parameters.column("preparation.unseen_readiness"))


def _last(values: Floats, last: Integers) -> Floats:
    """Read each day's last note, NaN where there is none."""
    return np.append(values, np.nan)[last]


def _taken(strength: Strength, rows: Integers) -> Strength:
    return Strength(**{f.name: getattr(strength, f.name)[rows] for f in fields(strength)})


def _crowding(
    records: Records, notes: Notes, days: Days, evidence: Evidence
) -> tuple[Floats, Floats]:
    """Return crowding and its log error on each day (n, n_days), from the last count of bees."""
    known = ~np.isnan(notes.strength.adults)
    last = latest_by_day(
        notes.colony, notes.day, colonies=len(records.colonies), days=days.count, which=known
    )
    crowding = np.full(last.shape, np.nan)
    sd = np.zeros(last.shape)
    where = np.nonzero(last >= 0)
    if len(where[0]) == 0:
        return crowding, sd
    rows = last[where]
    behind = _taken(notes.strength, rows)
    since = where[1] - notes.day[rows]
    room = _room_since(records, notes, days, evidence)
    extra = room.capacity[where] - room.capacity_before[rows]
    bees = room.log_bees[where] - room.log_bees_before[rows]
    path = crowding_by_day(behind, days=since[:, None], extra_capacity_bees=extra[:, None])[:, 0]
    crowding[where] = path * np.exp(bees)
    sd[where] = behind.adults_sd
    return crowding, sd


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """Room and bees that events added, summed up to each day, and up to before each look."""

    capacity: Floats
    capacity_before: Floats
    log_bees: Floats
    log_bees_before: Floats


def _room_since(records: Records, notes: Notes, days: Days, evidence: Evidence) -> _Room:
    count = len(records.colonies)
    last = latest_by_day(notes.colony, notes.day, colonies=count, days=days.count)
    one_super = _last(notes.strength.super_capacity_bees, last)
    one_comb = _last(notes.strength.comb_capacity_bees, last)
    amounts = np.zeros((count, days.count))
    colony = colony_rows(records.events, records.colonies)
    day = day_index(records.events, "date", days.start)
    for event, size in (("room-added", one_super), ("combs-added", one_comb)):
        these = (records.events["event"] == event).to_numpy() & (day >= 0)
        amount = np.nan_to_num(numbers(records.events, "amount")[these], nan=1.0)
        at = (colony[these], day[these])
        np.add.at(amounts, at, amount * np.nan_to_num(size[at]))
    capacity = np.cumsum(amounts, axis=1)
    left = _bee_factor(records, days, evidence)
    log_bees = np.cumsum(left, axis=1)
    before = (notes.colony, notes.day)
    # an event on the day of a look came after it: it counts for the look's own day already
    return _Room(
        capacity=capacity,
        capacity_before=capacity[before] - amounts[before],
        log_bees=log_bees,
        log_bees_before=log_bees[before] - left[before],
    )


def _bee_factor(records: Records, days: Days, evidence: Evidence) -> Floats:
    """Return the log of the share of bees that splits leave, on the day of each (n, n_days)."""
    out = np.zeros((len(records.colonies), days.count))
    day = day_index(records.events, "date", days.start)
    these = (records.events["event"] == "split").to_numpy() & (day >= 0)
    usual, most = (evidence.value(f"actions.split_share{k}") for k in ("", "_most"))
    amount = numbers(records.events, "amount")[these]
    # an amount above 1 counts combs, not a share
    share = np.where(np.isnan(amount) | (amount > 1), usual, amount)
    left = np.log1p(-np.minimum(share, most))
    np.add.at(out, (colony_rows(records.events, records.colonies)[these], day[these]), left)
    return out


def _against_projection(
    colony: Integers, day: Integers, strength: Strength, log_left: Floats
) -> Floats:
    """Return the log of counted to foreseen bees at each look, NaN without an earlier count."""
    known = np.flatnonzero(~np.isnan(strength.adults))
    out = np.full(len(colony), np.nan)
    order = known[np.lexsort((known, day[known], colony[known]))]
    same = colony[order[1:]] == colony[order[:-1]]
    now, before = order[1:][same], order[:-1][same]
    gap = day[now] - day[before]
    fresh = (gap > 0) & (gap <= LONGEST_PROJECTION_D)
    now, before, gap = now[fresh], before[fresh], gap[fresh]
    if len(now) == 0:
        return out
    past = _taken(strength, before)
    foreseen = crowding_by_day(past, days=gap[:, None])[:, 0] * past.capacity_bees
    total = np.cumsum(log_left, axis=1)
    # splits from the day of the earlier look (after it) to the day before the later one
    left = total[colony[now], day[now]] - log_left[colony[now], day[now]]
    left -= total[colony[before], day[before]] - log_left[colony[before], day[before]]
    out[now] = np.log(np.maximum(strength.adults[now], 1) / np.maximum(foreseen, 1)) - left
    return out


def _queen_year(records: Records) -> Floats:
    """Return the year of each colony's queen, a requeening counting as one of that year."""
    year = numbers(records.colonies, "queen_year")
    given = (records.events["event"] == "requeened").to_numpy()
    colony = colony_rows(records.events, records.colonies)[given]
    when = records.events["date"].dt.year.to_numpy(dtype=np.float64)[given]
    np.fmax.at(year, colony, when)
    return year


def _actions(records: Records, days: Days, evidence: Evidence) -> dict[str, Flags]:
    colony = colony_rows(records.events, records.colonies)
    day = day_index(records.events, "date", days.start)
    lasting = round(evidence.value("actions.split_days"))
    count = len(records.colonies)
    out: dict[str, Flags] = {}
    for event, key in ACTIONS.items():
        these = (records.events["event"] == event).to_numpy() & (day + lasting >= 0)
        working = out.setdefault(key, np.zeros((count, days.count), dtype=bool))
        for c, d in zip(colony[these], day[these], strict=True):
            working[c, max(d + 1, 0) : d + 1 + lasting] = True
    return {k: v for k, v in out.items() if v.any()}
