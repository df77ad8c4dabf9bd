"""A small invented scene for tests of the score: one yard, its weather, and rows to vary."""

import datetime as dt

import pandas as pd

ON = dt.date(2026, 5, 30)
YARD = {"apiary": "Home", "latitude": 50.0, "longitude": 10.0, "season_peak": "05-30"}
COLONY = {"colony": "A", "apiary": "Home", "hive_type": "zander-10"}
LOOK = {
    "colony": "A",
    "date": "2026-05-27",
    "combs": 20,
    "combs_bees": 16,
    "combs_brood": 8,
    "combs_looked": 8,
}
NO_CELLS = {"queen_cells_egg": 0, "queen_cells_larva": 0, "queen_cells_capped": 0}


def frame(*rows):
    return pd.DataFrame(list(rows))


def apiaries(**change):
    return frame(YARD | change)


def colonies(**change):
    return frame(COLONY | change)


def looks(*changes):
    return frame(*(LOOK | change for change in changes))


def weather(*, first="2026-03-01", last="2026-06-12", temp_max_c=22.0, kind=None):
    days = pd.date_range(first, last)
    return pd.DataFrame(
        {
            "date": days,
            "temp_max_c": temp_max_c,
            "temp_min_c": temp_max_c - 10,
            "rain_mm": 0.0,
            "wind_max_m_s": 3.0,
            "kind": kind,
        }
    )
