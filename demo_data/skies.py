"""What weather do the invented yards have? Seeded, plausible for 58 degrees north, inland."""

from datetime import date, timedelta
from math import acos, asin, cos, pi, radians, sin, tan

import numpy as np

from demo_data.frame import ORIGIN_LATITUDE

Row = dict[str, object]

FIRST_DAY = date(2024, 1, 1)
FORECAST_DAYS = 10
# the story of this spring: (first day, last day, degrees warmer, dry or wet or as it falls)
_SPELLS = (
    (date(2026, 4, 14), date(2026, 4, 19), 5.0, "dry"),
    (date(2026, 4, 26), date(2026, 4, 28), 2.0, "dry"),
    (date(2026, 5, 1), date(2026, 5, 1), 3.0, "dry"),
    (date(2026, 5, 6), date(2026, 5, 11), 2.5, "dry"),
    (date(2026, 5, 13), date(2026, 5, 16), -2.5, "wet"),
    (date(2026, 5, 25), date(2026, 5, 29), 3.5, "dry"),
    (date(2026, 5, 30), date(2026, 6, 2), -4.0, "wet"),
    (date(2026, 6, 3), date(2026, 6, 4), 1.5, "dry"),
    (date(2026, 6, 5), date(2026, 6, 9), 3.0, "dry"),
    (date(2026, 6, 10), date(2026, 6, 11), 1.0, "wet"),
)


def weather(rng: np.random.Generator, *, on: date) -> list[Row]:
    """Draw one day after the other: seasonal mean, and a departure that carries over in part."""
    rows: list[Row] = []
    departure, cloud, wet = 0.0, 0.5, False
    day = FIRST_DAY
    while day <= on + timedelta(days=FORECAST_DAYS):
        warmer, sky = _spell(day)
        departure = 0.76 * departure + rng.normal(0.0, 2.0)
        chance = 0.62 if wet else 0.30
        wet = bool(rng.random() < chance) if sky == "" else sky == "wet"
        cloud = float(np.clip(0.45 * cloud + 0.55 * rng.beta(2.6, 1.2 if wet else 2.6), 0, 1))
        if sky:
            departure *= 0.5
            cloud = (0.72 if sky == "wet" else 0.08) + 0.26 * rng.random()
        amount = rng.gamma(0.85, 4.2)
        wind = rng.gamma(9.0, 0.52) + (0.8 if wet else 0.0)
        mean = _mean_c(day) + warmer + departure
        swing = (2.6 + 0.55 * _day_length_h(day)) * (1.15 - 0.75 * cloud) / 2
        rows.append(
            {
                "apiary": "",
                "date": day.isoformat(),
                "temp_max_c": round(mean + swing, 1),
                "temp_min_c": round(mean - swing, 1),
                "rain_mm": round(0.1 + amount, 1) if wet else 0,
                "wind_max_m_s": round(wind, 1),
                "sunshine_h": round(max(0.0, 0.92 * _day_length_h(day) * (1 - cloud) ** 0.8), 1),
                "kind": "observed" if day <= on else "forecast",
                "provider": "invented",
                "fetched_at": f"{on.isoformat()}T15:00:00Z" if day > on else "",
            }
        )
        day += timedelta(days=1)
    return rows


def _spell(day: date) -> tuple[float, str]:
    for first, last, warmer, sky in _SPELLS:
        if first <= day <= last:
            return warmer, sky
    return 0.0, ""


def _mean_c(day: date) -> float:
    """Return the day's usual mean: coldest about 20 January, warmest about 20 July."""
    return 6.6 - 11.6 * cos(2 * pi * (day.timetuple().tm_yday - 20) / 365.25)


def _day_length_h(day: date) -> float:
    turn = 2 * pi * (day.timetuple().tm_yday - 81) / 365.25
    tilt = asin(0.39795 * sin(turn))
    return 24 / pi * acos(-tan(radians(ORIGIN_LATITUDE)) * tan(tilt))
