"""What stands in a keeper's tables after a simulated season, and what truly happened?"""

import numpy as np
import pandas as pd

from swarmwatch.swarming.simulation.climate import (
    SEASON_ENDS,
    SEASON_STARTS,
    VALUES,
    YEARS_BEFORE,
)
from swarmwatch.swarming.simulation.colonies import NEVER, Colonies
from swarmwatch.swarming.simulation.drawing import Flags, Integers, Numbers, Words
from swarmwatch.swarming.simulation.keepers import Keepers
from swarmwatch.swarming.simulation.seasons import Diary, span
from swarmwatch.tables import TABLES, conform

# a keeper seldom leaves these out: the cells, the bees, the brood
_CORE = (
    "combs",
    "combs_bees",
    "combs_brood",
    "queen_cells_egg",
    "queen_cells_larva",
    "queen_cells_capped",
    "eggs_seen",
)
_COUNTED = (
    "queen_cups",
    *(f"queen_cells_{s}" for s in ("egg", "larva", "capped", "emerged", "torn")),
)
_NEVER_BLANK = ("colony", "date")
PROVIDER = "simulated"


def blank_columns(keepers: int, numbers: Numbers, rng: np.random.Generator) -> list[frozenset[str]]:
    """Choose the columns of the table ``inspections`` that each keeper never fills."""
    share = np.array([_blank_share(name, numbers) for name in _OPTIONAL])
    chosen = rng.random((keepers, len(_OPTIONAL))) < share
    return [
        frozenset(n for n, b in zip(_OPTIONAL, row, strict=True) if b) for row in chosen.tolist()
    ]


def _blank_share(name: str, numbers: Numbers) -> float:
    return numbers["blank_share"] * (numbers["blank_cells"] if name in _CORE else 1)


_OPTIONAL = tuple(
    c
    for c in TABLES["inspections"].names
    if c not in (*_NEVER_BLANK, "visit", "comb_straight", "note")
)


def names_of(colonies: Colonies, years: tuple[int, ...]) -> Words:
    """Name each colony by season and number, so that tables of several seasons can be joined."""
    a_season = colonies.count // len(years)
    digits = len(str(a_season))
    return np.array(
        [
            f"{chr(_FIRST + s)}{i:0{digits}d}"
            for s in range(len(years))
            for i in range(1, a_season + 1)
        ],
        dtype=object,
    )


_FIRST = ord("A")


def tables_of(
    season: int,
    year: int,
    *,
    colonies: Colonies,
    names: Words,
    keepers: Keepers,
    daily: pd.DataFrame,
    place: tuple[float, float],
    numbers: Numbers,
    rng: np.random.Generator,
) -> dict[str, pd.DataFrame]:
    """Write one season's tables as the keepers would hand them in, each conformed."""
    mine = colonies.season == season
    raw = {
        "apiaries": _apiaries(keepers, place),
        "colonies": _colonies(colonies, names, keepers, mine, year=year, rng=rng),
        "inspections": _inspections(
            keepers, colonies, names, mine, year=year, numbers=numbers, rng=rng
        ),
        "events": _events(keepers, names, mine, year),
        "outcomes": _outcomes(colonies, names, mine, year),
        "weather": _weather(daily, year),
    }
    return {name: conform(frame, TABLES[name]) for name, frame in raw.items()}


def truth_of(
    season: int,
    year: int,
    *,
    colonies: Colonies,
    names: Words,
    diary: Diary,
) -> pd.DataFrame:
    """Say what truly happened to each colony of a season, dates blank where nothing did."""
    rows = np.flatnonzero(colonies.season == season)
    after: dict[int, list[pd.Timestamp]] = {int(r): [] for r in rows}
    for row, day in diary.afterswarms:
        if row in after:
            after[row].append(_first_day(year) + pd.Timedelta(days=day))
    dates = {
        f"{name}_on": _dates(getattr(colonies, f"{name}_day")[rows], year)
        for name in ("began", "prime", "returned", "superseded", "treated", "died")
    }
    lost = _dates(colonies.lost_day[rows], year)
    return pd.DataFrame(
        {
            "colony": names[rows].astype(str),
            "season": year,
            **dates,
            "queen_lost_on": lost,
            "afterswarms_on": pd.Series([after[int(r)] for r in rows], dtype=object),
            "larva_in_cells": diary.larvae[rows],
            "sealed_cells": diary.sealed[rows],
            "crowding": span(diary).to_numpy()[rows],
        }
    )


def _first_day(year: int) -> pd.Timestamp:
    return pd.Timestamp(f"{year}-{SEASON_STARTS}")


def _dates(days: Integers, year: int) -> pd.Series:
    at = _first_day(year) + pd.to_timedelta(pd.Series(np.maximum(days, 0)), unit="D")
    return at.astype("datetime64[us]").where(pd.Series(days) != NEVER)


def _yard(keeper: int) -> str:
    return f"yard-{keeper + 1}"


def _apiaries(keepers: Keepers, place: tuple[float, float]) -> pd.DataFrame:
    latitude, elevation = place
    return pd.DataFrame(
        {
            "apiary": [_yard(k) for k in range(len(keepers.hives))],
            "latitude": latitude,
            "longitude": 0.0,
            "elevation_m": elevation,
        }
    )


def _colonies(
    colonies: Colonies,
    names: Words,
    keepers: Keepers,
    mine: Flags,
    *,
    year: int,
    rng: np.random.Generator,
) -> pd.DataFrame:
    rows = np.flatnonzero(mine)
    keeper = colonies.keeper[rows]
    knows_year = rng.random(len(rows)) < keepers.of("knows_year", colonies)[rows]
    knows_swarmed = rng.random(len(rows)) < keepers.of("knows_swarmed", colonies)[rows]
    born = year - colonies.age_at_start[rows]
    swarmed = np.where(colonies.swarmed_last_year[rows], "yes", "no")
    clipped = np.where(colonies.clipped_at_start[rows], "yes", "no")
    return pd.DataFrame(
        {
            "colony": names[rows],
            "apiary": [_yard(int(k)) for k in keeper],
            "hive_type": keepers.hives["hive_type"].to_numpy()[keeper],
            "combs_max": colonies.combs_max[rows],
            "queen_year": pd.Series(born).where(pd.Series(knows_year)),
            "queen_clipped": clipped,
            "swarmed_last_year": pd.Series(swarmed).where(pd.Series(knows_swarmed)),
        }
    )


def _inspections(
    keepers: Keepers,
    colonies: Colonies,
    names: Words,
    mine: Flags,
    *,
    year: int,
    numbers: Numbers,
    rng: np.random.Generator,
) -> pd.DataFrame:
    if not keepers.looks:
        return pd.DataFrame(columns=list(TABLES["inspections"].names))
    frame = pd.DataFrame(
        {
            c: np.concatenate([np.asarray(part[c]) for part in keepers.looks])
            for c in keepers.looks[0]
        }
    )
    frame = frame.loc[mine[frame["row"].to_numpy(dtype=int)]].reset_index(drop=True)
    row = frame.pop("row").to_numpy(dtype=int)
    dates = _dates(frame.pop("day").to_numpy(dtype=np.int64), year)
    written = _with_blanks(frame, keepers, colonies, row, numbers=numbers, rng=rng)
    written.insert(0, "date", dates)
    written.insert(0, "colony", names[row])
    return written.sort_values(["date", "colony"], ignore_index=True)


def _with_blanks(
    frame: pd.DataFrame,
    keepers: Keepers,
    colonies: Colonies,
    row: Integers,
    *,
    numbers: Numbers,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Blank what a keeper never fills, forgets, or does not write because he found none."""
    keeper = colonies.keeper[row]
    zeros = rng.random(len(row)) < keepers.habits["writes_zero"][keeper]
    out = {}
    for name in frame.columns:
        cells = frame[name].astype(object)
        never = np.array([name in b for b in keepers.blank])[keeper]
        blank = never | (rng.random(len(row)) < numbers["blank_once"])
        if name in _COUNTED:
            blank |= ~zeros & (frame[name].to_numpy(dtype=float) == 0)
        out[name] = cells.where(~blank, None)
    return pd.DataFrame(out)


def _events(keepers: Keepers, names: Words, mine: Flags, year: int) -> pd.DataFrame:
    frame = pd.DataFrame(keepers.events, columns=list(_EVENT))
    frame = frame.loc[mine[frame["row"].to_numpy(dtype=int)]].reset_index(drop=True)
    row = frame.pop("row").to_numpy(dtype=int)
    frame.insert(0, "colony", names[row])
    frame["date"] = _dates(frame.pop("day").to_numpy(dtype=np.int64), year)
    start = frame.pop("from_day").to_numpy(dtype=float, na_value=np.nan)
    start = np.where(np.isnan(start), NEVER, start).astype(np.int64)
    frame["date_from"] = _dates(start, year)
    ordered: pd.DataFrame = frame.sort_values(["date", "colony"], ignore_index=True, kind="stable")
    return ordered


_EVENT = (
    "row",
    "day",
    "event",
    "from_day",
    "amount",
    "where",
    "queen_went",
    "queen_kind",
    "cells_left",
    "how_known",
)


def _outcomes(colonies: Colonies, names: Words, mine: Flags, year: int) -> pd.DataFrame:
    """Write what a diligent keeper would: the first of swarm and treatment decides."""
    rows = np.flatnonzero(mine)
    far = np.iinfo(np.int64).max
    prime, treated, died, superseded = (
        np.where(days[rows] == NEVER, far, days[rows])
        for days in (
            colonies.prime_day,
            colonies.treated_day,
            colonies.died_day,
            colonies.superseded_day,
        )
    )
    words = ("swarmed", "treated", "died", "superseded", "no-swarm")
    # a swarm on the day of a treatment left after it
    cases = (
        (prime < far) & (prime < treated),
        treated < far,
        died < far,
        superseded < far,
    )
    which = np.select(cases, range(len(cases)), len(cases))
    days = np.select(cases, (prime, treated, died, superseded), NEVER)
    return pd.DataFrame(
        {
            "colony": names[rows],
            "season": year,
            "outcome": np.array(words, dtype=object)[which],
            "date": _dates(days.astype(np.int64), year),
        }
    )


def _weather(daily: pd.DataFrame, year: int) -> pd.DataFrame:
    first = pd.Timestamp(f"{year - YEARS_BEFORE}-01-01")
    last = pd.Timestamp(f"{year}-{SEASON_ENDS}")
    rows = daily[(daily["date"] >= first) & (daily["date"] <= last)]
    rows = rows.dropna(subset=["temp_max_c", "temp_min_c"])
    return rows[["date", *VALUES]].assign(kind="observed", provider=PROVIDER)
