"""What weather does a simulated place have, day by day, over several years?"""

import numpy as np
import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Numbers
from swarmwatch.weather import place_climatology

VALUES = ("temp_max_c", "temp_min_c", "rain_mm", "wind_max_m_s")
SEASON_STARTS = "03-01"
SEASON_ENDS = "09-30"
YEARS_BEFORE = 2


def generated_weather(
    numbers: Numbers, rng: np.random.Generator, *, first_year: int, years: int
) -> pd.DataFrame:
    """Draw daily weather round a cold to temperate place's usual year.

    Parameters
    ----------
    numbers
        The world's parameters: place, spreads, persistence, rain, wind.
    rng
        Where chance comes from.
    first_year, years
        From 1 January of the first to 31 December of the last year.

    Returns
    -------
    One row a day: ``date``, ``temp_max_c``, ``temp_min_c``, ``rain_mm``, ``wind_max_m_s``.

    Notes
    -----
    Temperatures are an autoregressive course round the usual; rain days follow one another in a
    two-state chain, with gamma amounts, a lower high and a smaller daily range.
    """
    date = pd.date_range(f"{first_year}-01-01", f"{first_year + years - 1}-12-31", unit="us")
    mean, spread = _usual(numbers)
    at = date.day_of_year.to_numpy() - 1
    count = len(date)
    by_year = rng.normal(0, numbers["year_shift_sd"], years)
    wet = _wet_days(numbers, rng, count)
    amount = rng.gamma(
        numbers["rain_shape"], numbers["rain_a_wet_day"] / numbers["rain_shape"], count
    )
    middle = (
        mean[at]
        + by_year[date.year.to_numpy() - first_year]
        + numbers["temp_sd"] * _persistent(rng, numbers["temp_persistence"], count)
        - np.where(wet, numbers["wet_cooling"] / 2, 0)
    )
    width = spread[at] * np.exp(rng.normal(0, numbers["day_spread_sd"], count))
    half = np.where(wet, numbers["day_spread_wet"], 1.0) * width / 2
    wind = numbers["wind_usual"] * np.exp(
        numbers["wind_sd"] * _persistent(rng, numbers["wind_persistence"], count)
        - numbers["wind_sd"] ** 2 / 2
    )
    return pd.DataFrame(
        {
            "date": date,
            "temp_max_c": np.round(middle + half, 1),
            "temp_min_c": np.round(middle - half, 1),
            "rain_mm": np.where(wet, np.round(amount, 1), 0.0),
            "wind_max_m_s": np.round(wind, 1),
        }
    )


def given_weather(weather: pd.DataFrame) -> pd.DataFrame:
    """Bring a real daily table into the shape of `generated_weather`, every day once.

    Days that are missing take the temperature between their neighbours; unknown rain stays blank.

    Raises
    ------
    UsageError
        A column is missing or no day has a temperature.
    """
    missing = [c for c in ("date", "temp_max_c", "temp_min_c") if c not in weather]
    if missing:
        message = f"the weather table lacks {', '.join(missing)}. Give daily rows of one place."
        raise UsageError(message)
    table = pd.DataFrame({"date": pd.to_datetime(weather["date"]).astype("datetime64[us]")})
    for column in VALUES:
        table[column] = (
            pd.to_numeric(weather[column], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
            if column in weather
            else np.nan
        )
    table = table.dropna(subset=["temp_max_c", "temp_min_c"]).drop_duplicates("date", keep="last")
    if table.empty:
        message = "the weather table has no day with a highest and a lowest temperature."
        raise UsageError(message)
    days = table.set_index("date").sort_index().asfreq("D")
    temps = ["temp_max_c", "temp_min_c"]
    # short gaps only: a season that is mostly missing must not be made up
    days[temps] = days[temps].interpolate(limit=_LONGEST_GAP_D)
    return days.reset_index()


# numerical: gaps of up to a week are bridged
_LONGEST_GAP_D = 7


def whole_seasons(daily: pd.DataFrame) -> list[int]:
    """Return the years whose season, March to September, has a temperature on every day."""
    known = daily.dropna(subset=["temp_max_c", "temp_min_c"])["date"]
    years = []
    for year in sorted(set(known.dt.year)):
        wanted = pd.date_range(f"{year}-{SEASON_STARTS}", f"{year}-{SEASON_ENDS}")
        if wanted.isin(known).all():
            years.append(int(year))
    return years


def _usual(numbers: Numbers) -> tuple[Floats, Floats]:
    """Return the usual mean and the usual high less low of each day of the year, (366,)."""
    place = place_climatology(numbers["latitude"], numbers["elevation"])
    high, low = (place[c].to_numpy(dtype=float) for c in ("temp_max_c", "temp_min_c"))
    mean = (high + low) / 2
    mean = mean.mean() + numbers["swing_share"] * (mean - mean.mean()) + numbers["mean_shift"]
    return mean + max(0.0, numbers["warmest_least"] - float(mean.max())), high - low


def _wet_days(numbers: Numbers, rng: np.random.Generator, count: int) -> Flags:
    chances = rng.random(count)
    wet = np.zeros(count, dtype=bool)
    for i in range(1, count):
        wet[i] = chances[i] < (numbers["wet_to_wet"] if wet[i - 1] else numbers["dry_to_wet"])
    return wet


def _persistent(rng: np.random.Generator, persistence: float, count: int) -> Floats:
    """Draw an autoregressive course of mean 0 and spread 1, (count,)."""
    noise = rng.normal(0, np.sqrt(1 - persistence**2), count)
    out = np.empty(count)
    out[0] = rng.normal()
    for i in range(1, count):
        out[i] = persistence * out[i - 1] + noise[i]
    return out
