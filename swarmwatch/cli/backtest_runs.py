"""Which seasons does a backtest replay, and how do they come together?"""

import datetime as dt
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence
from swarmwatch.swarming.backtest import (
    forecasts_in,
    range_cover,
    replay,
    season_days,
    summary,
    with_rivals,
)
from swarmwatch.swarming.backtest_known import joined
from swarmwatch.swarming.backtest_learned import with_learned_score

if TYPE_CHECKING:
    from swarmwatch.swarming.simulate import Season

Say = Callable[[str], None]
# colonies drawn in the report of a simulation: enough to see how the chance moves
_EXAMPLES = 12


def of_records(
    location: str,
    *,
    wanted: list[int] | None,
    own_evidence: Path | None,
    every: int,
    seed: int,
    learned: bool,
    say: Say,
) -> pd.DataFrame:
    """Replay the seasons of a keeper's records, with the rivals' forecasts.

    With `learned` the score with numbers learned from the other seasons stands beside.

    Raises
    ------
    UsageError
        There is no outcome, or none in the seasons wanted.
    """
    from swarmwatch.cli.score import frames_and_evidence

    frames, evidence = frames_and_evidence(location, own_evidence)
    known = sorted({int(y) for y in frames["outcomes"]["season"]})
    unknown = [y for y in wanted or [] if y not in known]
    if unknown or not known:
        there = f"There are outcomes of {', '.join(map(str, known))}." if known else ""
        asked = ", ".join(map(str, unknown)) or "any season"
        message = (
            f"outcomes: none for {asked}. {there} Note in the table outcomes how the season ended "
            "for each colony: a colony without an outcome can't be counted."
        )
        raise UsageError(message)
    days = season_days(frames, every=every, evidence=evidence)
    say(f"{len(days)} evenings of {len(known)} seasons")
    # the rivals learn from every season, also where only some are shown
    rows = replay(frames, days=days, evidence=evidence, with_features=True).assign(world="")
    if rows.empty:
        message = (
            "outcomes: no colony has an outcome that can be counted: a swarm needs a date. "
            "Note date, or date_from and date, in the table outcomes."
        )
        raise UsageError(message)
    rows = with_rivals(rows, evidence=evidence, seed=seed)
    if learned:
        say("learning from the other seasons")
        rows = with_learned_score(
            rows,
            frames,
            again=lambda _, evenings, own: replay(frames, days=evenings, evidence=own),
            evidence=evidence,
        )
    return rows if not wanted else rows[rows["season"].isin(wanted)].reset_index(drop=True)


def of_simulation(
    *,
    worlds: int,
    seasons: int,
    colonies: int,
    every: int,
    seed: int,
    evidence: Evidence,
    learned: bool,
    say: Say,
) -> tuple[pd.DataFrame, list[dict[str, pd.DataFrame]]]:
    """Replay simulated worlds, with the rivals' forecasts; each world's first tables beside.

    `learned` as for `of_records`.
    """
    from swarmwatch.swarming.simulate import seasons as simulated_seasons

    made = simulated_seasons(
        worlds=worlds,
        seasons_a_world=seasons,
        colonies=colonies,
        rng=np.random.default_rng(seed),
        evidence=evidence,
    )
    parts = []
    for world in made:
        frames = []
        for season in world.seasons:
            say(f"world {world.number}, season {season.year}")
            days = season_days(season.tables, seasons=[season.year], every=every, evidence=evidence)
            frames.append(
                replay(
                    season.tables,
                    days=days,
                    truth=season.truth,
                    evidence=evidence,
                    with_features=True,
                )
            )
        rows = pd.concat(frames, ignore_index=True).assign(world=f"world {world.number}")
        rows = with_rivals(rows, evidence=evidence, seed=seed)
        if learned:
            say(f"world {world.number}, learning from the other seasons")
            rows = with_learned_score(
                rows,
                joined([season.tables for season in world.seasons]),
                again=partial(_again, {s.year: s for s in world.seasons}),
                evidence=evidence,
            )
        parts.append(rows)
    return pd.concat(parts, ignore_index=True), [dict(w.seasons[0].tables) for w in made]


def _again(
    by_year: "Mapping[int, Season]", year: int, evenings: list[dt.date], evidence: Evidence
) -> pd.DataFrame:
    """Replay one of a world's seasons with other numbers."""
    season = by_year[year]
    return replay(season.tables, days=evenings, truth=season.truth, evidence=evidence)


def forecasts_by_group(rows: pd.DataFrame, *, seed: int) -> pd.DataFrame:
    """Compare the forecasts over all rows, by world and by season of a world.

    Returns
    -------
    ``world``, ``season`` ("all" where pooled) and the columns of `summary`.
    """
    compared = forecasts_in(rows)
    parts = [summary(rows, compared, seed=seed).assign(world="all", season="all")]
    if len(rows["world"].unique()) > 1:
        parts += [
            summary(part, compared).assign(world=str(world), season="all")
            for world, part in rows.groupby("world", sort=False)
        ]
    parts += [
        summary(part, compared).assign(world=str(world), season=str(season))
        for (world, season), part in rows.groupby(["world", "season"], sort=False)
    ]
    out = pd.concat(parts, ignore_index=True)
    first = ["world", "season", "forecast", "horizon_d"]
    return out[[*first, *(c for c in out if c not in first)]]


def cover_of_ranges(
    tables: list[dict[str, pd.DataFrame]], *, sets: int, seed: int, evidence: Evidence
) -> Mapping[str, float]:
    """Return the cover of the 80 % ranges on seasons drawn from the score's own model."""
    share = -(-sets // len(tables))
    parts = [
        range_cover(
            one, days=_mid_season(one, evidence), sets=share, seed=seed + i, evidence=evidence
        )
        for i, one in enumerate(tables)
    ]
    held = pd.concat(parts)
    return {
        "sets": float(share * len(tables)),
        "cover_7d": float(held["held_7d"].mean()),
        "cover_14d": float(held["held_14d"].mean()),
    }


def _mid_season(tables: dict[str, pd.DataFrame], evidence: Evidence) -> list[dt.date]:
    """Return evenings of the middle half of the season, when something is at stake."""
    year = pd.to_datetime(tables["inspections"]["date"]).dt.year.mode()[0]
    days = season_days(tables, seasons=[int(year)], evidence=evidence)
    quarter = len(days) // 4
    return days[quarter : len(days) - quarter]


def examples_of(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of the colonies to draw: all of a keeper's own, a few of a simulation.

    Of a simulation the first that swarmed and the first that didn't are taken in turn.
    """
    keys = ["world", "season", "colony"]
    each = rows.drop_duplicates(keys)
    if (rows["world"] == "").all():
        return rows
    swarmed = each["swarm_until"].notna()
    half = _EXAMPLES // 2
    chosen = pd.concat([each[swarmed].head(half), each[~swarmed].head(half)])[keys]
    return rows.merge(chosen, on=keys, how="inner")
