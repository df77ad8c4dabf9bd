"""How long ten years of a station take to read, beside reading as many bytes as a plain table."""

import datetime as dt
import io
import time
from calendar import monthrange

import pandas as pd

from data_sources.weather.ghcn_daily import read_ghcn_daily

NOW = dt.datetime(2026, 1, 2, tzinfo=dt.UTC)
YEARS = range(2016, 2026)
# in the files' own units; invented
VALUES = {"TMAX": 148, "TMIN": 31, "PRCP": 12, "WSF2": 62}


def station_file(years):
    """A file of the fixed-width form: months with a day for each of 31, some of them missing."""
    lines = []
    for year in years:
        for month in range(1, 13):
            for element, value in VALUES.items():
                cells = [
                    f"{value + day:5d}  E" if day <= monthrange(year, month)[1] else "-9999   "
                    for day in range(1, 32)
                ]
                lines.append(f"ZZE00000001{year}{month:02d}{element}{''.join(cells)}")
    return "\n".join(lines) + "\n"


def test_ten_years_of_a_station_are_read(benchmark):
    # plainly run, one year of it is enough
    text = station_file(YEARS if benchmark.enabled else YEARS[-1:])
    table = benchmark(read_ghcn_daily, text, fetched_at=NOW)
    assert len(table) == sum(365 + (y % 4 == 0) for y in (YEARS if benchmark.enabled else (2025,)))
    if benchmark.enabled:
        began = time.perf_counter()
        pd.read_fwf(io.StringIO(text), header=None, widths=[11, 4, 2, 4, *[5, 1, 1, 1] * 31])
        benchmark.extra_info["as often as pandas' own reader of the columns takes"] = round(
            benchmark.stats.stats.mean / (time.perf_counter() - began), 2
        )
