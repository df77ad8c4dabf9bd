"""What a trained model may look at: numbers from the tables as known on one evening."""

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.colony import crowding_by_day, strength_of
from swarmwatch.evidence import Evidence
from swarmwatch.hives import hive_types
from swarmwatch.swarming.backtest_known import Tables
from swarmwatch.swarming.departure import STAGES
from swarmwatch.swarming.season import DAYS_A_YEAR
from swarmwatch.swarming.timeline import places_of
from swarmwatch.weather import departure_weather

Floats = NDArray[np.float64]
_COUNTS = (
    "combs",
    "combs_foundation",
    "supers",
    "combs_bees",
    "combs_brood",
    "combs_brood_capped",
    "combs_drone",
    "combs_honey",
    "combs_empty",
    "combs_looked",
    "queen_cups",
    "queen_cells_egg",
    "queen_cells_larva",
    "queen_cells_capped",
    "queen_cells_emerged",
    "queen_cells_torn",
)
_WORDS = {
    "nectar_in_brood": ("none", "some", "heavy"),
    "eggs_seen": ("no", "yes"),
    "queen_seen": ("no", "yes"),
    "queen_cell_place": ("face", "both", "edge"),
    "piping": ("no", "yes"),
    "bees_outside": ("none", "some", "many"),
    "drones": ("none", "some", "many"),
}
_EVENTS = ("room-added", "combs-added", "split", "queen-cells-removed", "requeened", "fed")
_STANDING = {
    "queen_clipped": ("no", "yes"),
    "swarmed_last_year": ("no", "yes"),
    "origin": ("package", "nucleus", "split", "swarm", "unknown"),
}
# stage that each count stands for, by its place in STAGES
_STAGE_OF = {
    "queen_cells_egg": 0,
    "queen_cells_larva": 2,
    "queen_cells_capped": 3,
    "queen_cells_emerged": 5,
}
# days of past weather that are summed up, definition of these columns
_SPELLS = (3, 7, 14)


def oldest_stage(rows: pd.DataFrame) -> Floats:
    """Return the oldest queen cell noted at each look, (n_rows,).

    The place in `STAGES`; -1 where cells were looked for and none found, NaN where not looked.
    """
    stage = np.full(len(rows), np.nan)
    for column, place in _STAGE_OF.items():
        count = _numbers(rows, column)
        stage = np.fmax(stage, np.where(np.isnan(count), np.nan, np.where(count > 0, place, -1)))
    word = rows["oldest_queen_cell"].to_numpy(dtype=object)
    for place, name in enumerate(STAGES):
        stage = np.where(word == name, np.fmax(stage, place), stage)
    return stage


def features_on(known: Tables, on: dt.date, evidence: Evidence) -> pd.DataFrame:
    """Return what is known of each colony on one evening as numbers, NaN where blank.

    Parameters
    ----------
    known
        Of `known_on`.
    on
        The evening.
    evidence
        The numbers, for the projection of bees and the ages of cells.

    Returns
    -------
    One row a colony, indexed by its name.
    """
    colonies = known["colonies"].drop_duplicates("colony", keep="last").reset_index(drop=True)
    looks = known["inspections"].sort_values(["date", "visit"], kind="stable", na_position="first")
    evening = pd.Timestamp(on)
    names = pd.Index(colonies["colony"])
    last = looks.groupby("colony").nth(-1).set_index("colony").reindex(names)
    before = looks.groupby("colony").nth(-2).set_index("colony").reindex(names)
    columns: dict[str, Any] = {
        **_of_look(last, evening, "last"),
        **_of_look(before, evening, "before"),
        **_strength(last, colonies, known["hives"], evening, evidence),
        **_cells_so_far(looks, names, evening),
        **_events(known["events"], names, evening),
        **_standing(colonies, on),
    }
    columns["bees_gained"] = columns["last_combs_bees"] - columns["before_combs_bees"]
    columns["cell_age_now"] = columns["last_age_d"] + _age_of_stage(columns["last_stage"], evidence)
    columns |= _place(known, colonies, on, evidence)
    return pd.DataFrame(columns, index=names)


def _numbers(rows: pd.DataFrame, column: str) -> Floats:
    return rows[column].to_numpy(dtype=np.float64, na_value=np.nan)


def _coded(rows: pd.DataFrame, column: str, words: tuple[str, ...]) -> Floats:
    code = {word: float(i) for i, word in enumerate(words)}
    return np.asarray(rows[column].map(code).to_numpy(dtype=np.float64, na_value=np.nan))


def _since(dates: pd.Series, evening: pd.Timestamp) -> Floats:
    days = (evening - dates).dt.days.to_numpy(dtype=np.float64, na_value=np.nan)
    return np.asarray(days)


def _of_look(rows: pd.DataFrame, evening: pd.Timestamp, prefix: str) -> dict[str, Floats]:
    out = {f"{prefix}_{c}": _numbers(rows, c) for c in _COUNTS}
    out |= {f"{prefix}_{c}": _coded(rows, c, words) for c, words in _WORDS.items()}
    out[f"{prefix}_age_d"] = _since(rows["date"], evening)
    out[f"{prefix}_stage"] = oldest_stage(rows)
    cells = np.stack([out[f"{prefix}_{c}"] for c in _STAGE_OF])
    out[f"{prefix}_cells"] = np.where(np.isnan(cells).all(axis=0), np.nan, np.nansum(cells, axis=0))
    with np.errstate(divide="ignore", invalid="ignore"):
        for name, above, below in (
            ("fullness", "combs_bees", "combs"),
            ("brood_share", "combs_brood", "combs"),
            ("capped_share", "combs_brood_capped", "combs_brood"),
            ("looked_share", "combs_looked", "combs_brood"),
        ):
            share = out[f"{prefix}_{above}"] / out[f"{prefix}_{below}"]
            out[f"{prefix}_{name}"] = np.where(np.isfinite(share), share, np.nan)
    return out


def _strength(
    last: pd.DataFrame,
    colonies: pd.DataFrame,
    hives: pd.DataFrame,
    evening: pd.Timestamp,
    evidence: Evidence,
) -> dict[str, Floats]:
    rows = last.reset_index()
    strength = strength_of(rows, colonies, hive_types(evidence, hives), evidence)
    age = np.nan_to_num(_since(rows["date"], evening)).astype(np.int64)
    return {
        "crowding_at_look": strength.crowding,
        "crowding_now": crowding_by_day(strength, days=age[:, None])[:, 0],
        "congestion": strength.congestion,
        "adults": strength.adults,
        "brood_capped": strength.brood_capped,
        "capacity": strength.capacity_bees,
    }


def _cells_so_far(looks: pd.DataFrame, names: pd.Index, evening: pd.Timestamp) -> dict[str, Floats]:
    stage = oldest_stage(looks)
    this_year = (evening - looks["date"]).dt.days.to_numpy() < DAYS_A_YEAR // 2
    with_cells = looks[(stage >= 0) & this_year]
    worst = pd.Series(stage[this_year], index=looks.loc[this_year, "colony"])
    return {
        "looks": looks[this_year].groupby("colony").size().reindex(names).to_numpy(dtype=float),
        "stage_ever": worst.groupby(level=0).max().reindex(names).to_numpy(dtype=float),
        "looks_with_cells": with_cells.groupby("colony")
        .size()
        .reindex(names, fill_value=0)
        .to_numpy(dtype=float),
        "cells_since_d": _since(with_cells.groupby("colony")["date"].min().reindex(names), evening),
        "cells_last_d": _since(with_cells.groupby("colony")["date"].max().reindex(names), evening),
    }


def _events(events: pd.DataFrame, names: pd.Index, evening: pd.Timestamp) -> dict[str, Floats]:
    return {
        f"since_{event}": _since(
            events[events["event"] == event].groupby("colony")["date"].max().reindex(names),
            evening,
        )
        for event in _EVENTS
    }


def _standing(colonies: pd.DataFrame, on: dt.date) -> dict[str, Floats]:
    out = {c: _coded(colonies, c, words) for c, words in _STANDING.items()}
    out["queen_age_y"] = on.year - _numbers(colonies, "queen_year")
    out["hived_d"] = _since(colonies["started"], pd.Timestamp(on))
    out["combs_max"] = _numbers(colonies, "combs_max")
    return out


def _age_of_stage(stage: Floats, evidence: Evidence) -> Floats:
    """Return the usual age of a cell in the middle of its stage [d], NaN where none was seen."""
    marks = ("hatch_age", "large_larva_age", "sealing_age", "ripe_age", "emergence_age")
    ends = np.array([0.0, *(evidence.value(f"cells.{m}") for m in marks)])
    middle = np.append((ends[:-1] + ends[1:]) / 2, ends[-1])
    seen = stage >= 0
    return np.where(seen, middle[np.where(seen, stage, 0).astype(np.int64)], np.nan)


def _place(
    known: Tables, colonies: pd.DataFrame, on: dt.date, evidence: Evidence
) -> dict[str, Floats]:
    """Return season and recent weather of each colony's yard."""
    names = sorted(colonies["apiary"].unique())
    places = places_of(names, known["apiaries"], known["weather"], on=on, evidence=evidence)
    by_yard = {
        p.name: {
            "days_from_peak": float((on - p.peak_on).days),
            "season_weight": float(p.curve.weight_from_peak((on - p.peak_on).days)),
            **_recent(known["weather"], p.name, on, evidence),
        }
        for p in places
    }
    frame = pd.DataFrame.from_dict(by_yard, orient="index").loc[colonies["apiary"]]
    return {str(c): frame[c].to_numpy(dtype=np.float64) for c in frame}


def _recent(
    weather: pd.DataFrame, apiary: str, on: dt.date, evidence: Evidence
) -> dict[str, float]:
    here = (weather["apiary"] == apiary) | weather["apiary"].isna()
    rows = weather[here & (weather["date"] <= pd.Timestamp(on)) & (weather["kind"] != "normal")]
    rows = rows.drop_duplicates("date", keep="last").sort_values("date")
    ago = (pd.Timestamp(on) - rows["date"]).dt.days.to_numpy()
    high, low = _numbers(rows, "temp_max_c"), _numbers(rows, "temp_min_c")
    rain = _numbers(rows, "rain_mm")
    gate = np.asarray(
        departure_weather(high, rain, _numbers(rows, "wind_max_m_s"), evidence=evidence)
    )
    warmth = np.clip((high + low) / 2 - evidence.value("season.degree_day_base"), 0, None)
    this_year = rows["date"].dt.year.to_numpy() == on.year
    out = {"warmth_c_d": float(np.nansum(warmth[this_year]))}
    for spell in _SPELLS:
        recent = ago < spell
        out[f"temp_max_{spell}d"] = _mean(high[recent])
        out[f"rain_{spell}d"] = _mean(rain[recent])
        out[f"departure_weather_{spell}d"] = _mean(gate[recent])
    return out


def _mean(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(known.mean()) if len(known) else np.nan
