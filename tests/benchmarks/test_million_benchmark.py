"""How a score grows with the number of colonies, beside reading the same tables from Parquet files.

1,000 colonies where benchmarks are off; ``pytest tests/benchmarks -n0 --benchmark-enable`` takes a
million. The colonies and their looks are invented: drawn from a few patterns with a fixed seed.
"""

import datetime as dt
import time

import numpy as np
import pandas as pd
import pytest

from swarmwatch import score_colonies
from swarmwatch.tables import TABLES, conform

ON = dt.date(2026, 5, 30)
FEW, MANY = 1_000, 1_000_000
CELLS = ("queen_cells_egg", "queen_cells_larva", "queen_cells_capped")


def crowd(count, *, yards, seed=5):
    """One look a colony within the last 14 days; one weather table for all yards."""
    rng = np.random.default_rng(seed)
    yard = np.array([f"Yard {i}" for i in range(yards)], dtype=object)
    names = np.char.add("C", np.arange(count).astype(str)).astype(object)
    colonies = pd.DataFrame(
        {
            "colony": names,
            "apiary": yard[rng.integers(0, yards, count)],
            "hive_type": rng.choice(np.array(["zander-10", "dadant-12"], dtype=object), count),
            "queen_year": rng.choice([2024.0, 2025.0, 2026.0, np.nan], count),
        }
    )
    combs = rng.integers(8, 23, count)
    found = rng.choice(4, count, p=[0.85, 0.05, 0.06, 0.04])
    number = rng.integers(1, 21, count)
    days = pd.Timestamp(ON) - pd.to_timedelta(rng.integers(0, 14, count), unit="D")
    looks = pd.DataFrame(
        {
            "colony": names,
            "date": days.strftime("%Y-%m-%d").astype(object),
            "combs": combs,
            "combs_bees": np.minimum(rng.integers(4, 23, count), combs),
            "combs_brood": np.minimum(rng.integers(1, 11, count), combs),
            "eggs_seen": rng.choice(np.array(["yes", "no", None], dtype=object), count),
        }
        | {c: np.where(found == i + 1, number, 0) for i, c in enumerate(CELLS)}
    )
    apiaries = pd.DataFrame(
        {"apiary": yard, "latitude": 50.0, "longitude": 10.0, "season_peak": "05-30"}
    )
    dates = pd.date_range("2026-03-01", "2026-06-12")
    weather = pd.DataFrame(
        {
            "date": dates,
            "temp_max_c": 20 + 5 * np.sin(np.arange(len(dates))),
            "temp_min_c": 8.0,
            "rain_mm": 0.0,
            "wind_max_m_s": 3.0,
        }
    )
    return {"colonies": colonies, "inspections": looks, "apiaries": apiaries, "weather": weather}


def reading_s(frames, folder):
    """Time the reading of the same tables from Parquet files: the yardstick."""
    for name, frame in frames.items():
        frame.astype({c: "str" for c in frame if frame[c].dtype == object}).to_parquet(
            folder / f"{name}.parquet"
        )
    took = []
    for _ in range(2):  # the first time loads the libraries
        began = time.perf_counter()
        for name in frames:
            conform(pd.read_parquet(folder / f"{name}.parquet"), TABLES[name])
        took.append(time.perf_counter() - began)
    return min(took)


@pytest.mark.parametrize("yards", [1, 50])
def test_a_crowd_of_colonies_is_scored_with_ranges(benchmark, yards, tmp_path):
    frames = crowd(MANY if benchmark.enabled else FEW, yards=yards)
    yardstick_s = reading_s(frames, tmp_path)

    def score():
        return score_colonies(
            frames["colonies"],
            frames["inspections"],
            frames["weather"],
            ON,
            apiaries=frames["apiaries"],
            words=False,
        )

    began = time.perf_counter()
    scores = benchmark.pedantic(score, rounds=1)
    share = (time.perf_counter() - began) / yardstick_s
    print(f"\n{len(scores)} colonies: {share:.2f} times reading and checking their tables")  # noqa: T201
    assert scores["p_7d"].between(scores["p_7d_low"], scores["p_7d_high"]).all()
