"""What do light, warmth and bloom bring to the bees of a place on each day of its seasons?"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from swarmwatch.swarming.simulation.climate import (
    SEASON_ENDS,
    SEASON_STARTS,
)
from swarmwatch.swarming.simulation.drawing import (
    Flags,
    Floats,
    Integers,
    Numbers,
    logistic,
    lognormal,
    ramp,
)
from swarmwatch.weather import day_length_h, degree_days

# Schmickl & Crailsheim 2007, Ecol Model 204:219: x1 to x5 of the season's laying
_LAYING = (385.0, 30.0, 36.0, 155.0, 30.0)
_BLOOMS = ("early", "fruit", "main", "late")
_PENT_UP_DAYS = 3  # days without flight before a backlog; as in evidence simulation.leave_pent_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Each season's days at one place; arrays (n_seasons, n_days), chances and shares 0 to 1.

    `flow` is 1 in the best flow; `laying` the share of a queen's best; `urge` the part of the
    season's readiness to swarm that light and time allow; `day_of_year` counts from 1.
    """

    years: tuple[int, ...]
    spring_day: Floats
    day_of_year: Integers
    temp_max_c: Floats
    flight: Floats
    flow: Floats
    laying: Floats
    urge: Floats
    drone_laying: Flags
    leaving: Floats
    pent_up: Flags
    mating: Flags
    dry: Flags

    @property
    def days(self) -> int:
        """Return the number of days of a season."""
        return int(self.flow.shape[1])


def course_of(
    daily: pd.DataFrame,
    years: tuple[int, ...],
    *,
    latitude: float,
    numbers: Numbers,
    rng: np.random.Generator,
) -> Course:
    """Work out each day's flight, flow, laying and weather for swarms.

    Parameters
    ----------
    daily
        One row a day, of `generated_weather` or `given_weather`.
    years
        The seasons.
    latitude
        Degrees north.
    numbers
        The world's parameters.
    rng
        Where chance comes from: how strong each flow is each year.

    Returns
    -------
    The course of all seasons, 1 March to 30 September.
    """
    cells = {y: _season(daily, y) for y in years}
    temp, rain, wind = (
        np.stack([cells[y][c].to_numpy(dtype=float) for y in years])
        for c in ("temp_max_c", "rain_mm", "wind_max_m_s")
    )
    rain = np.nan_to_num(rain)
    wind = np.where(np.isnan(wind), numbers["wind_usual"], wind)
    day = np.stack([cells[y]["date"].dt.day_of_year.to_numpy() for y in years])
    spring = _spring_days(daily, years, numbers)
    flight = _flight(temp, rain, wind, numbers)
    flow = _bloom(day, spring, numbers, rng) * flight
    leaving = _leaving(temp, rain, wind, numbers)
    return Course(
        years=years,
        spring_day=spring,
        day_of_year=day,
        temp_max_c=temp,
        flight=flight,
        flow=flow,
        laying=_laying(day, spring, numbers),
        urge=_urge(day, spring, latitude, numbers),
        drone_laying=day >= spring[:, None] + numbers["drone_start"],
        leaving=leaving,
        pent_up=_after_confinement(flight),
        mating=(temp >= numbers["mating_temp"]) & (rain < 1) & (wind < numbers["flight_wind_stop"]),
        dry=rain < 1,
    )


def _season(daily: pd.DataFrame, year: int) -> pd.DataFrame:
    first, last = pd.Timestamp(f"{year}-{SEASON_STARTS}"), pd.Timestamp(f"{year}-{SEASON_ENDS}")
    return daily[(daily["date"] >= first) & (daily["date"] <= last)]


def _spring_days(daily: pd.DataFrame, years: tuple[int, ...], numbers: Numbers) -> Floats:
    """Return the day of year of each season's spring: the place's, moved by a part of its own."""
    low, high = (daily[c].to_numpy(dtype=float) for c in ("temp_min_c", "temp_max_c"))
    warmth = degree_days(low, high, base_c=numbers["heat_base"])
    table = pd.DataFrame(
        {
            "year": daily["date"].dt.year.to_numpy(),
            "day": daily["date"].dt.day_of_year.to_numpy(),
            "warmth": np.asarray(warmth),
        }
    ).dropna()
    by_day = table.groupby("day")["warmth"].mean().reindex(range(1, 367)).interpolate()
    usual = by_day.bfill().to_numpy(dtype=float)
    place = _reached(usual, numbers)
    own = []
    for year in years:
        rows = table[table["year"] == year]
        mine = usual.copy()
        mine[rows["day"].to_numpy() - 1] = rows["warmth"]
        own.append(_reached(mine, numbers))
    return np.asarray(place + numbers["year_share"] * (np.array(own) - place))


def _reached(warmth: Floats, numbers: Numbers) -> float:
    # never later than midsummer
    reached = int(np.searchsorted(np.cumsum(warmth), numbers["spring_heat"]))
    return float(min(reached + 1, _MIDSUMMER))


_MIDSUMMER = 172  # definition: day of year of the June solstice


def _flight(temp: Floats, rain: Floats, wind: Floats, numbers: Numbers) -> Floats:
    warm = ramp(temp, start=numbers["flight_cold"], end=numbers["flight_full"])
    calm = 1 - ramp(wind, start=numbers["flight_wind_calm"], end=numbers["flight_wind_stop"])
    return np.asarray(warm * np.exp(-rain / numbers["flight_rain"]) * calm)


def _bloom(day: Integers, spring: Floats, numbers: Numbers, rng: np.random.Generator) -> Floats:
    flow = np.full(day.shape, numbers["flow_floor"])
    for name in _BLOOMS:
        strength = numbers[f"flow_{name}"] * lognormal(rng, numbers["flow_year_sd"], len(spring))
        off = (day - spring[:, None] - numbers[f"bloom_{name}"]) / numbers["bloom_width"]
        flow += strength[:, None] * np.exp(-(off**2) / 2)
    return np.asarray(np.minimum(flow, 2.0))


def _laying(day: Integers, spring: Floats, numbers: Numbers) -> Floats:
    """Return the season's laying, the curve moved to the place's spring.

    Source: Schmickl & Crailsheim 2007, Ecol Model 204:219.
    """
    x1, x2, x3, x4, x5 = _LAYING
    moved = numbers["spring_share"] * (spring - numbers["spring_reference"])
    d = day - moved[:, None]
    rise = 1 - 1 / (1 + x1 * np.exp(-2 * d / x2))
    fall = 1 / (1 + x3 * np.exp(-2 * (d - x4) / x5))
    return np.asarray(1 - np.maximum(rise, fall))


def _urge(day: Integers, spring: Floats, latitude: float, numbers: Numbers) -> Floats:
    light = np.asarray(day_length_h(latitude, day.astype(float)))
    lit = logistic((light - numbers["light_at"]) / numbers["light_width"])
    end = spring[:, None] + numbers["season_end"]
    left = logistic((end - day) / numbers["season_end_width"])
    return np.asarray((1 - numbers["light_share"] * (1 - lit)) * left)


def _leaving(temp: Floats, rain: Floats, wind: Floats, numbers: Numbers) -> Floats:
    warm = logistic((temp - numbers["leave_temp"]) / numbers["leave_temp_width"])
    wet = 1 - np.exp(-rain / numbers["flight_rain"])
    stormy = ramp(wind, start=numbers["flight_wind_calm"], end=numbers["flight_wind_stop"])
    factor = (1 - (1 - numbers["leave_rain"]) * wet) * (1 - (1 - numbers["leave_wind"]) * stormy)
    return np.asarray(warm * factor)


def _after_confinement(flight: Floats) -> Flags:
    """Return the days before which three in a row had next to no flight."""
    idle = flight < _IDLE
    out = np.zeros(flight.shape, dtype=bool)
    run = np.zeros(len(flight), dtype=np.int64)
    for i in range(flight.shape[1]):
        out[:, i] = run >= _PENT_UP_DAYS
        run = np.where(idle[:, i], run + 1, 0)
    return out


_IDLE = 0.15  # definition: a day with less than this share of a perfect day's flight confines
