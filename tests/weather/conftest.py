import numpy as np
import pandas as pd
import pytest


def invented_days(first: str, last: str, **columns: object) -> pd.DataFrame:
    """Return an invented year's course of daily weather, warmest in late July."""
    dates = pd.date_range(first, last)
    wave = np.cos(2 * np.pi * (dates.day_of_year - 205) / 365.25)
    frame = pd.DataFrame(
        {
            "date": dates,
            "temp_max_c": 15 + 10 * wave,
            "temp_min_c": 6 + 8 * wave,
            "rain_mm": 2.0,
            "wind_max_m_s": 4.0,
            "sunshine_h": 5.0,
        }
    )
    return frame.assign(**columns)


@pytest.fixture
def days():
    return invented_days
