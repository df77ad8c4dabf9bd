"""How good was the score in past seasons, using only what was known each day?

`replay` scores past days and labels them with what happened; `with_rivals` puts other forecasts
beside the score; `metrics` and `summary` say how good each was.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from functools import partial

import numpy as np
import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.swarming.backtest_baselines import RIVALS, forecasts_in, with_rivals
from swarmwatch.swarming.backtest_cover import range_cover
from swarmwatch.swarming.backtest_features import features_on
from swarmwatch.swarming.backtest_known import Tables, conformed, known_on
from swarmwatch.swarming.backtest_labels import FATE, fates, labels, season_of, still_there
from swarmwatch.swarming.backtest_metrics import by_kind_of_look, metrics, reliability, summary
from swarmwatch.swarming.score import score_colonies
from swarmwatch.swarming.timeline import Place, places_of

__all__ = [
    "RIVALS",
    "by_kind_of_look",
    "forecasts_in",
    "metrics",
    "range_cover",
    "reliability",
    "replay",
    "season_days",
    "summary",
    "with_rivals",
]

Scorer = Callable[..., pd.DataFrame]
_WEEK = 7
_MIDYEAR = (7, 1)
_HORIZONS = (7, 14)  # definition: the horizons of table scores, tables.md
_KEPT = ("colony", "apiary", "on", "p_gone", "inspected_on", "inspection_age_d")
# what was worth doing on a past evening is not asked, and takes as long to say as the chances
_chances = partial(score_colonies, words=False)


def season_days(
    tables: Tables,
    *,
    seasons: Iterable[int] | None = None,
    every: int = _WEEK,
    evidence: Evidence | None = None,
) -> list[dt.date]:
    """Return the evenings through each swarm season on which to replay the score.

    Parameters
    ----------
    tables
        Tables of the data contract by name.
    seasons
        Years; those with an outcome by default.
    every
        Days from one evening to the next [d].
    evidence
        The numbers; the shipped ones by default.

    Returns
    -------
    Evenings from the first to the last on which any of the yards is in season.
    """
    evidence = evidence or load_evidence()
    read = conformed(tables)
    years = read["outcomes"]["season"].dropna().unique() if seasons is None else seasons
    days: list[dt.date] = []
    for year in sorted({int(y) for y in years}):
        places = _places(read, dt.date(year, *_MIDYEAR), evidence)
        least = evidence.value("season.in_season_weight")
        spans = []
        for place in places:
            far = np.sqrt(-2 * np.log(least))
            spans.append(
                (
                    place.peak_on - dt.timedelta(days=round(far * place.curve.sd_before_d)),
                    place.peak_on + dt.timedelta(days=round(far * place.curve.sd_after_d)),
                )
            )
        if spans:
            first, last = min(s[0] for s in spans), max(s[1] for s in spans)
            days += [first + dt.timedelta(days=i) for i in range(0, (last - first).days + 1, every)]
    return days


def replay(
    tables: Tables,
    *,
    days: Iterable[dt.date] | None = None,
    evidence: Evidence | None = None,
    truth: pd.DataFrame | None = None,
    horizons: tuple[int, ...] = _HORIZONS,
    score: Scorer = _chances,
    with_features: bool = False,
) -> pd.DataFrame:
    """Score past evenings with only what was known on each, and say what happened after.

    Parameters
    ----------
    tables
        Tables of the data contract by name: apiaries, colonies, inspections, events, weather,
        outcomes, hives.
    days
        Evenings; weekly through the season of each year with an outcome by default.
    evidence
        The numbers; the shipped ones by default.
    truth
        What truly happened in one simulated season (``colony``, ``prime_on``, ``treated_on``,
        ``died_on``); it takes the place of the outcomes.
    horizons
        Days to look ahead, of those that the score gives [d].
    score
        Called as `score_colonies` is; by default that, without its words.
    with_features
        Add the columns, named ``x_...``, that a trained model may look at.

    Returns
    -------
    One row a colony and evening: ``colony``, ``apiary``, ``season``, ``on``, ``p_7d``,
    ``p_7d_low``, ``p_7d_high`` and so on, ``p_gone``, ``inspected_on``, ``inspection_age_d``,
    ``stage`` (oldest queen cell of the last look: its place in the order of stages, -1 none, NaN
    not looked), ``days_from_peak``, ``season_weight``, what happened (``swarm_from``,
    ``swarm_until``, ``censored_on``, ``ended_on``), and ``swarmed_7d`` and so on: 1 where the
    prime swarm left in (on, on + 7], 0 where not, NaN where that can't be said. A colony whose
    outcome isn't known has no row, nor has an evening once the prime swarm has left.

    Raises
    ------
    RecordsError
        Cells that can't be read.
    UsageError
        A horizon that the score does not give.

    Notes
    -----
    From a treatment on (outcome ``treated``, or an event that takes bees, brood, queen or cells)
    labels are NaN: what the colony would have done can't be known.
    """
    if not set(horizons) <= set(_HORIZONS):
        message = f"horizons = {horizons}: the score looks 7 and 14 days ahead. Choose of these."
        raise UsageError(message)
    evidence = evidence or load_evidence()
    read = conformed(tables)
    evenings = season_days(read, evidence=evidence) if days is None else sorted(set(days))
    if not evenings or read["colonies"].empty:
        return _no_rows(horizons)
    middle = evenings[len(evenings) // 2]
    peaks = {p.name: p.curve.peak_day for p in _places(read, middle, evidence)}
    if truth is not None and "season" not in truth:
        season = season_of(pd.Series([pd.Timestamp(middle)]), next(iter(peaks.values())))
        truth = truth.assign(season=season[0])
    fate = fates(read, peak_day=peaks, truth=truth)
    parts = [
        _evening(
            read,
            on,
            fate,
            peaks=peaks,
            evidence=evidence,
            score=score,
            with_features=with_features,
        )
        for on in evenings
    ]
    rows = pd.concat([p for p in parts if not p.empty] or [_no_rows(horizons)], ignore_index=True)
    if rows.empty:
        return rows
    for horizon in horizons:
        rows[f"swarmed_{horizon}d"] = labels(rows["on"], rows, horizon)
    return rows.drop(
        columns=[c for h in set(_HORIZONS) - set(horizons) for c in _chance_columns(h)]
    )


def _evening(
    read: Mapping[str, pd.DataFrame],
    on: dt.date,
    fate: pd.DataFrame,
    *,
    peaks: Mapping[str, float],
    evidence: Evidence,
    score: Scorer,
    with_features: bool,
) -> pd.DataFrame:
    """Score one evening's colonies whose fate is known and whose prime swarm may still come."""
    known = known_on(read, on)
    colonies = known["colonies"].drop_duplicates("colony", keep="last")
    when = pd.Series(pd.Timestamp(on), index=colonies.index)
    peak_day = colonies["apiary"].map(dict(peaks)).to_numpy(dtype=np.float64)
    colonies = colonies.assign(season=season_of(when, peak_day))
    mine = colonies[["colony", "season"]].merge(fate, on=["colony", "season"], how="inner")
    mine = mine[still_there(pd.Series(pd.Timestamp(on), index=mine.index), mine)]
    wanted = colonies["colony"].isin(mine["colony"])
    if not wanted.any():
        return pd.DataFrame()
    known["colonies"] = colonies.loc[wanted].drop(columns="season").reset_index(drop=True)
    scores = score(
        known["colonies"],
        known["inspections"],
        known["weather"],
        on,
        events=known["events"],
        apiaries=known["apiaries"],
        hives=known["hives"],
        evidence=evidence,
    )
    columns = [*_KEPT, *(c for h in _HORIZONS for c in _chance_columns(h))]
    rows = scores[columns].merge(mine, on="colony", how="inner")
    features = features_on(known, on, evidence).reindex(rows["colony"]).reset_index(drop=True)
    rows["stage"] = features["last_stage"]
    for column in ("days_from_peak", "season_weight"):
        rows[column] = features[column]
    return pd.concat([rows, features.add_prefix("x_")], axis=1) if with_features else rows


def _chance_columns(horizon: int) -> list[str]:
    return [f"p_{horizon}d{end}" for end in ("", "_low", "_high")]


def _no_rows(horizons: tuple[int, ...]) -> pd.DataFrame:
    columns = [*_KEPT, "season", "stage", "days_from_peak", "season_weight", *FATE]
    columns += [c for h in horizons for c in (*_chance_columns(h), f"swarmed_{h}d")]
    return pd.DataFrame({c: pd.Series(dtype=np.float64) for c in columns})


def _places(read: Mapping[str, pd.DataFrame], on: dt.date, evidence: Evidence) -> list[Place]:
    names = sorted(read["colonies"]["apiary"].dropna().unique())
    return places_of(names, read["apiaries"], read["weather"], on=on, evidence=evidence)
