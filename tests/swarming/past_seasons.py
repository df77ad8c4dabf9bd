"""Invented past seasons for tests of the backtest: small, seeded, with a plain mechanism.

Colonies swarm 9 days after they lay the first egg in a queen cup; looks every 8 days see the cells
three times in four. Nothing here comes from the score's model.
"""

import datetime as dt

import numpy as np
import pandas as pd

YARD = {"apiary": "Home", "latitude": 50.0, "longitude": 10.0, "season_peak": "05-30"}


def day(year, from_peak):
    return pd.Timestamp(dt.date(year, 5, 30)) + pd.Timedelta(days=int(from_peak))


def one_season(year, *, colonies=10, seed=0):
    """Return tables and truth of one season."""
    rng = np.random.default_rng([seed, year])
    looks, fates = [], []
    for i in range(colonies):
        name = f"C{i}"
        swarms = rng.random() < 0.5
        prime = rng.integers(-14, 20) if swarms else None
        fates.append(
            {
                "colony": name,
                "season": year,
                "outcome": "swarmed" if swarms else "no-swarm",
                "date": day(year, prime) if swarms else pd.NaT,
            }
        )
        for at in range(-30 + int(rng.integers(8)), 36, 8):
            if swarms and at >= prime:
                break
            looks.append(_look(name, at, year=year, prime=prime, swarms=swarms, rng=rng))
    weather = pd.DataFrame({"date": pd.date_range(day(year, -120), day(year, 60))}).assign(
        temp_max_c=21.0, temp_min_c=10.0, rain_mm=0.0, wind_max_m_s=3.0, kind="observed"
    )
    outcomes = pd.DataFrame(fates)
    tables = {
        "apiaries": pd.DataFrame([YARD]),
        "colonies": pd.DataFrame(
            [
                {"colony": f"C{i}", "apiary": "Home", "hive_type": "zander-10"}
                for i in range(colonies)
            ]
        ),
        "inspections": pd.DataFrame(looks),
        "weather": weather,
        "outcomes": outcomes,
    }
    truth = outcomes[["colony", "season"]].assign(prime_on=outcomes["date"])
    return tables, truth


def _look(name, at, *, year, prime, swarms, rng):
    age = at - (prime - 9) if swarms else -1
    seen = age >= 0 and rng.random() < 0.75
    stage = "egg" if age < 3 else "larva" if age < 8 else "capped"
    return {
        "colony": name,
        "date": day(year, at),
        "combs": 20,
        "combs_bees": 13 + (4 if swarms else 0) + int(rng.integers(3)),
        "combs_brood": 8,
        "combs_looked": 8,
        "queen_cells_egg": 8 if seen and stage == "egg" else 0,
        "queen_cells_larva": 8 if seen and stage == "larva" else 0,
        "queen_cells_capped": 8 if seen and stage == "capped" else 0,
    }


def joined(*tables):
    """Return one set of records over several seasons."""
    names = dict.fromkeys(name for one in tables for name in one)
    return {
        name: pd.concat([one[name] for one in tables], ignore_index=True).drop_duplicates()
        for name in names
    }


def fake_score(colonies, inspections, _weather, on, **_):
    """Stand in for the score where its number is no matter: by what the last look saw."""
    from swarmwatch.swarming.backtest_features import oldest_stage

    last = inspections.sort_values("date").groupby("colony").tail(1).set_index("colony")
    stage = pd.Series(oldest_stage(last), index=last.index).reindex(colonies["colony"])
    p = np.where(stage.fillna(-1) >= 0, 0.6, 0.1)
    seen = last["date"].reindex(colonies["colony"]).to_numpy()
    out = pd.DataFrame(
        {
            "colony": colonies["colony"].to_numpy(),
            "apiary": colonies["apiary"].to_numpy(),
            "on": pd.Timestamp(on),
            "p_gone": 0.0,
            "inspected_on": seen,
        }
    )
    out["inspection_age_d"] = (out["on"] - out["inspected_on"]).dt.days
    for h in (7, 14):
        out[f"p_{h}d"], out[f"p_{h}d_low"], out[f"p_{h}d_high"] = p, p / 2, (1 + p) / 2
    return out
