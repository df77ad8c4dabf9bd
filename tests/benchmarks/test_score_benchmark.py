"""How long a score takes, beside reading the same tables from text on the same machine."""

import io
import time

import pandas as pd
import pytest

import demo_data
from swarmwatch import score_colonies
from swarmwatch.tables import TABLES, conform

NAMES = ("apiaries", "colonies", "hives", "inspections", "events", "weather")


def read(name):
    return pd.read_csv(
        demo_data.folder() / f"{name}.csv", dtype=str, keep_default_na=False, na_values=[""]
    )


def many(count):
    """The demo's colonies over and over, under other names."""
    frames = {name: read(name) for name in NAMES}
    copies = -(-count // len(frames["colonies"]))
    for name in ("colonies", "inspections", "events"):
        frames[name] = pd.concat(
            [frames[name].assign(colony=frames[name]["colony"] + f"-{i}") for i in range(copies)],
            ignore_index=True,
        )
    return frames


@pytest.mark.parametrize("count", [20, 200])
def test_colonies_are_scored_with_ranges(benchmark, count):
    frames = many(count)
    text = {name: frame.to_csv(index=False) for name, frame in frames.items()}
    began = time.perf_counter()
    for name, cells in text.items():
        conform(
            pd.read_csv(io.StringIO(cells), dtype=str, keep_default_na=False, na_values=[""]),
            TABLES[name],
        )
    reading_s = time.perf_counter() - began

    def score():
        return score_colonies(
            frames["colonies"],
            frames["inspections"],
            frames["weather"],
            demo_data.ON,
            events=frames["events"],
            apiaries=frames["apiaries"],
            hives=frames["hives"],
        )

    began = time.perf_counter()
    scores = benchmark(score)
    share = (time.perf_counter() - began) / reading_s
    if benchmark.stats is None:
        print(f"\n{len(scores)} colonies: {share:.1f} times reading their tables")  # noqa: T201
    assert len(scores) >= count * 15 // 16
