"""Did the prime swarm leave in the days after an evening? Yes, no, or it can't be said."""

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from swarmwatch.swarming.backtest_known import Tables
from swarmwatch.swarming.season import DAYS_A_YEAR

Floats = NDArray[np.float64]
Dates = NDArray[np.datetime64]
_HALF_YEAR = DAYS_A_YEAR // 2
# what a keeper does that makes it unknowable whether the colony would have swarmed
CENSORING = (
    "split",
    "brood-removed",
    "queen-removed",
    "queen-confined",
    "requeened",
    "queen-cells-removed",
)
FATE = ("swarm_from", "swarm_until", "censored_on", "ended_on")


def season_of(dates: pd.Series, peak_day: ArrayLike) -> pd.Series:
    """Return the season that each date belongs to: the year of the nearest peak.

    `peak_day` is the day of year of the season's peak at the place of each row.
    """
    shift = pd.to_timedelta(np.round(np.asarray(peak_day, dtype=np.float64)) - _HALF_YEAR, unit="D")
    return (dates - shift).dt.year.astype("Int64")


def fates(
    tables: Tables, *, peak_day: Mapping[str, float], truth: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Return how each season went for each colony of which that is known.

    Parameters
    ----------
    tables
        Of `conformed`.
    peak_day
        Day of year of the season's peak by apiary.
    truth
        What truly happened in a simulation, colony by colony: ``colony``, ``season``,
        ``prime_on``, and optionally ``treated_on``, ``died_on``. It takes the place of the
        outcomes.

    Returns
    -------
    One row a colony and season: ``colony``, ``season``, ``swarm_from``, ``swarm_until`` (days
    between which the prime swarm left, both included; NaT where none did), ``censored_on`` (first
    treatment) and ``ended_on`` (death; nothing is known from that day on).

    Notes
    -----
    No outcome, ``unknown``, ``swarmed`` without any date, ``treated`` or ``died`` without a day,
    and ``no-swarm`` against a swarm among the events give no row.
    """
    apiary = tables["colonies"].drop_duplicates("colony", keep="last").set_index("colony")["apiary"]
    peaks = apiary.map(dict(peak_day)).astype(float)
    events = tables["events"]
    events = events[events["colony"].isin(apiary.index)].copy()
    events["season"] = season_of(
        events["date"], events["colony"].map(peaks).astype(float).to_numpy()
    )
    if truth is None:
        known = _from_outcomes(tables["outcomes"], events)
    else:
        known = _from_truth(truth, peaks)
    treated = events[events["event"].isin(CENSORING)]
    first = treated.groupby(["colony", "season"])["date"].min().rename("event_on").reset_index()
    known = known.merge(first, on=["colony", "season"], how="left")
    known["censored_on"] = known[["censored_on", "event_on"]].min(axis=1)
    lost = known["needs_treatment_day"] & known["censored_on"].isna()
    return known.loc[~lost, ["colony", "season", *FATE]].reset_index(drop=True)


def _from_truth(truth: pd.DataFrame, peaks: pd.Series) -> pd.DataFrame:
    blank = pd.Series(pd.NaT, index=truth.index)
    when = {
        c: pd.to_datetime(truth.get(c, blank)).astype("datetime64[us]")
        for c in ("prime_on", "treated_on", "died_on")
    }
    return pd.DataFrame(
        {
            "colony": truth["colony"].astype(peaks.index.dtype),
            "season": truth["season"].astype("Int64"),
            "swarm_from": when["prime_on"],
            "swarm_until": when["prime_on"],
            "censored_on": when["treated_on"],
            "ended_on": when["died_on"],
            "needs_treatment_day": False,
        }
    )


def _from_outcomes(outcomes: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    seen = events[events["event"] == "swarmed"].sort_values("date")
    seen = seen.drop_duplicates(["colony", "season"])[["colony", "season", "date", "date_from"]]
    out = outcomes.merge(seen, on=["colony", "season"], how="left", suffixes=("", "_event"))
    swarmed = out["outcome"] == "swarmed"
    until = out["date"].fillna(out["date_event"]).where(swarmed)
    start = out["date_from"].where(out["date"].notna(), out["date_from_event"]).fillna(until)
    contradicted = ~swarmed & out["date_event"].notna() & (out["outcome"] == "no-swarm")
    undated = out["outcome"].isin(["swarmed", "died"]) & until.fillna(out["date"]).isna()
    keep = (out["outcome"] != "unknown") & ~contradicted & ~undated
    # a swarm among the events stands beside any other outcome
    beside = ~swarmed & out["date_event"].notna()
    until = until.where(~beside, out["date_event"])
    start = start.where(swarmed, out["date_from_event"].fillna(out["date_event"]).where(beside))
    # of a treatment or death only the first day of its span is surely untouched
    day = out["date_from"].fillna(out["date"])
    return pd.DataFrame(
        {
            "colony": out["colony"],
            "season": out["season"],
            "swarm_from": start,
            "swarm_until": until,
            "censored_on": day.where(out["outcome"] == "treated"),
            "ended_on": day.where(out["outcome"] == "died"),
            "needs_treatment_day": out["outcome"] == "treated",
        }
    )[keep]


def labels(on: pd.Series, fate: pd.DataFrame, horizon: int) -> Floats:
    """Return 1 where the prime swarm left in (on, on + horizon], 0 where not, NaN where unknown.

    Parameters
    ----------
    on
        (n,) evenings.
    fate
        (n,) rows of `fates`, row by row.
    horizon
        Days [d].
    """
    now = _days(on)
    first, last, treated, ended = (_days(fate[c]) for c in FATE)
    swarmed = ~np.isnat(last)
    end: Dates = now + np.timedelta64(horizon, "D")
    # a comparison with a date that never came is False
    reached = (treated <= end) | (ended <= end)
    after = (treated < first) | (ended < first)
    yes = swarmed & (now < first) & (last <= end) & ~after & ~(treated < last)
    no = ~reached & np.where(swarmed, end < first, True)
    return np.select([yes, no], [1.0, 0.0], np.nan)


def still_there(on: pd.Series, fate: pd.DataFrame) -> NDArray[np.bool_]:
    """Say of each row whether the prime swarm may still come: False from its last day on."""
    return ~(_days(fate["swarm_until"]) <= on.to_numpy(dtype="datetime64[D]"))


def _days(column: pd.Series) -> Dates:
    return column.to_numpy(dtype="datetime64[us]").astype("datetime64[D]")
