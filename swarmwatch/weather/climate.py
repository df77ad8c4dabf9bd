"""What weather is usual here at this time of the year?"""

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather.arrays import Floats, floats
from swarmwatch.weather.book import (
    VALUES,
    Day,
    Flags,
    Integers,
    WeatherBook,
    day_number,
    days_of_year,
    first_a_day,
    read_weather,
)
from swarmwatch.weather.daylight import day_length_h

_YEAR_D = 365.25  # definition: mean length of the Julian calendar's year
_DAYS = np.arange(1, 367)
_MONTHS = 12
_LATITUDES = (0, 15, 30, 45, 60, 75)  # of the evidence's mean_c_lat_* and swing_c_lat_*
_METRES_A_KM = 1000
# a year's course: the yearly wave and its first overtone
_WAVES = 2


def climatology(
    weather: pd.DataFrame | WeatherBook | None,
    *,
    on: Day | None = None,
    evidence: Evidence | None = None,
) -> pd.DataFrame | None:
    """Fit the year's course of the weather to a table of one place.

    Parameters
    ----------
    weather
        Table ``weather``, rows of one place. Rows of kind normal are used where they make a year,
        else the observed ones (a row without kind counts as observed); never a forecast.
    on
        Rows after this day are not used; None uses all.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    A frame indexed by ``day_of_year`` 1 to 366 with the mean ``temp_max_c``, ``temp_min_c`` [C],
    ``rain_mm``, ``wind_max_m_s`` and ``sunshine_h``: a yearly wave and its first overtone, by
    least squares. A column of which there is no year is blank. None where there is no year of
    temperatures.
    """
    least = _number(evidence, "year_days_min")
    book = read_weather(weather)
    for rows in (_of_kind(book, "normal"), observed_until(book, on)):
        curves = np.column_stack([_curve(rows.day, rows.cells[:, i], least) for i in range(5)])
        if not np.isnan(curves[:, :2]).any():
            return _frame(curves)
    return None


def observed_until(book: WeatherBook, on: Day | None) -> WeatherBook:
    """Return the observed rows, one a day, up to `on`; without `on` all of them."""
    seen = (book.kind == "observed") | (book.kind == "")
    if on is not None:
        seen &= book.day <= day_number(on)
    return one_a_day(book.take(seen))


def one_a_day(book: WeatherBook) -> WeatherBook:
    """Keep each day's most complete row, of equals a yard's own, then the newest."""
    return first_a_day(book, [-book.known, book.apiary == "", -(book.fetched // 2)])


def monthly_means_c(
    weather: pd.DataFrame | WeatherBook | None,
    *,
    on: Day | None = None,
    evidence: Evidence | None = None,
) -> Floats | None:
    """Average the temperature of each month.

    Parameters
    ----------
    weather
        Table ``weather``, rows of one place; used as by `climatology`.
    on
        Rows after this day are not used; None uses all. Normal rows are not bound by it.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    (12,) mean of the daily (max + min) / 2, January to December [C]; None where no kind of row
    makes a full year, every month with ``month_days_min`` days.
    """
    year = _number(evidence, "year_days_min")
    month_least = _number(evidence, "month_days_min")
    book = read_weather(weather)
    for rows in (_of_kind(book, "normal"), observed_until(book, on)):
        mean = rows.cells[:, :2].mean(axis=1)
        known = ~np.isnan(mean)
        days, mean = rows.day[known], mean[known]
        month = days.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % _MONTHS
        counts = np.bincount(month, minlength=_MONTHS)
        if len(np.unique(days_of_year(days))) >= year and counts.min() >= month_least:
            return np.asarray(np.bincount(month, weights=mean, minlength=_MONTHS) / counts)
    return None


def place_climatology(
    latitude: float, elevation_m: float | None = 0.0, *, evidence: Evidence | None = None
) -> pd.DataFrame:
    """Guess the year's course of the weather from latitude and elevation alone.

    Parameters
    ----------
    latitude
        Degrees north; in the south the year is turned by half.
    elevation_m
        Height above the sea [m]; None or NaN counts as 0.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    As `climatology`, no cell blank. A last resort: a place may lie several degrees off, cities
    and western coasts above, continental interiors below.

    Source
    ------
    Evidence ``weather.mean_c_lat_*``, ``weather.swing_c_lat_*``, ``weather.lapse_c_km``.
    """
    rules = (load_evidence() if evidence is None else evidence).group("weather")
    mean = _by_latitude(latitude, rules, "mean_c_lat_")
    swing = _by_latitude(latitude, rules, "swing_c_lat_")
    height_m = float(np.nan_to_num(floats(elevation_m)))
    warmest = rules["warmest_day"]
    if latitude < 0:
        swing *= rules["south_swing_share"]
        warmest += _YEAR_D / 2
    wave = np.cos(2 * np.pi * (_DAYS - warmest) / _YEAR_D)
    temp = mean - rules["lapse_c_km"] * height_m / _METRES_A_KM + swing * wave
    half = rules["day_spread_c"] / 2
    light = floats(day_length_h(latitude, _DAYS))
    steady = np.ones(len(_DAYS))
    return _frame(
        np.column_stack(
            [
                temp + half,
                temp - half,
                steady * rules["rain_usual_mm"],
                steady * rules["wind_usual_m_s"],
                light * rules["sun_share"],
            ]
        )
    )


def year_course(days: Integers, waves: int) -> Floats:
    """Return the (n_days, 1 + 2 waves) regressors of a yearly wave and its overtones."""
    angle = 2 * np.pi * (days_of_year(days) - 1) / _YEAR_D
    turns = np.outer(angle, np.arange(1, waves + 1))
    return np.column_stack([np.ones(len(days)), np.cos(turns), np.sin(turns)])


def _curve(days: Integers, values: Floats, least: float) -> Floats:
    known = ~np.isnan(values)
    if len(np.unique(days_of_year(days[known]))) < least:
        return np.full(len(_DAYS), np.nan)
    fit = np.linalg.lstsq(year_course(days[known], _WAVES), values[known])[0]
    leap_year = np.datetime64("2000-01-01", "D").astype(np.int64) + np.arange(len(_DAYS))
    return np.asarray(year_course(leap_year, _WAVES) @ fit)


def _frame(curves: Floats) -> pd.DataFrame:
    frame = pd.DataFrame(curves, columns=list(VALUES), index=pd.Index(_DAYS, name="day_of_year"))
    amounts = list(VALUES[2:])
    frame[amounts] = frame[amounts].clip(lower=0.0)
    return frame


def _of_kind(book: WeatherBook, kind: str) -> WeatherBook:
    rows: Flags = book.kind == kind
    return one_a_day(book.take(rows))


def _by_latitude(latitude: float, rules: dict[str, float], prefix: str) -> float:
    values = [rules[f"{prefix}{at:02d}"] for at in _LATITUDES]
    return float(np.interp(abs(latitude), _LATITUDES, values))


def _number(evidence: Evidence | None, name: str) -> float:
    return (load_evidence() if evidence is None else evidence).value(f"weather.{name}")
