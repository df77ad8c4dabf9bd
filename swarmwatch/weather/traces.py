"""How may the weather turn out, given what is observed, forecast and usual?"""

from dataclasses import dataclass
from statistics import NormalDist
from typing import TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather.arrays import Floats, floats
from swarmwatch.weather.book import Flags, Integers, WeatherBook, days_of_year, read_weather
from swarmwatch.weather.climate import observed_until, year_course
from swarmwatch.weather.flight import departure_weather
from swarmwatch.weather.verification import forecast_sd_c

Words: TypeAlias = NDArray[np.object_]

_YEAR_D = 365
_TEMP, _RAIN, _WIND = 0, 2, 3  # columns of `VALUES` in a book
# numerical: 63 slices of equal chance stand for a bell
_SLICES = np.array([NormalDist().inv_cdf((i + 0.5) / 63) for i in range(63)])
_CANDIDATES_MIN = 5  # fewer past blocks than this would be the same spell over and over


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeatherTraces:
    """Ways the weather may turn out, each array (draws, days); NaN where nothing is known."""

    temp_max_c: Floats
    rain_mm: Floats
    wind_max_m_s: Floats


def weather_traces(
    daily: pd.DataFrame,
    history: pd.DataFrame | WeatherBook | None,
    *,
    draws: int,
    rng: np.random.Generator,
    evidence: Evidence | None = None,
) -> WeatherTraces:
    """Draw ways the weather may turn out.

    Parameters
    ----------
    daily
        (n_days,) frame of `daily_weather`.
    history
        Table ``weather`` of the same place; its observed rows up to the last day of `daily` with
        ``lead_d`` 0 are used. None where there is none.
    draws
        How many ways.
    rng
        Source of chance: equal generators give equal traces.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    Arrays (draws, n_days). Observed days are the same in every draw.

    Notes
    -----
    A forecast day errs by a normal error whose spread grows with the lead (or is the frame's own
    ``temp_sd_c``) and which carries on from day to day (first order autoregression); its wind by
    a factor, its rain by being replaced with a usual day's. Normal days are blocks of whole past
    days: the block's temperatures as departures from the history's own course of the year, its
    rain and wind as they were. Where there is less than a season of history they are
    autoregressive departures, drawn rain days and log-normal wind.
    """
    rules = (load_evidence() if evidence is None else evidence).group("weather")
    chance = _Chance.draw(draws, len(daily), rng, persistence=rules["temp_persistence"])
    kind = daily["kind"].to_numpy(dtype=object)
    lead = daily["lead_d"].to_numpy(dtype=np.float64)
    temp, rain, wind = (
        np.tile(floats(daily[c]), (draws, 1)) for c in ("temp_max_c", "rain_mm", "wind_max_m_s")
    )
    temp = temp + _spread_c(daily, rules) * chance.temp
    wind = wind * _log_normal(_wind_sd(kind, lead, rules), chance.wind)
    drawn = chance.rain_share < _rain_miss(kind, lead, rules)
    rain = np.where(drawn, _usual_rain(rain, kind, chance.rain, rules), rain)
    traces = WeatherTraces(temp_max_c=temp, rain_mm=rain, wind_max_m_s=wind)
    past = _past_days(daily, history, rules)
    if past is not None:
        _lay_blocks(traces, daily, past, rng, rules)
    return traces


def expected_departure_weather(daily: pd.DataFrame, *, evidence: Evidence | None = None) -> Floats:
    """Rate each day's departure weather on average over how it may turn out.

    The gate bends, so the rating of a mean temperature is not the mean rating: a normal day of
    16 C hides days of 22 C. Observed days are rated as they are; forecast and normal days by
    weighing the rating over the error of their temperature.

    Parameters
    ----------
    daily
        (n_days,) frame of `daily_weather`.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    (n_days,) 0 to 1 [-].

    Notes
    -----
    The error stands for itself in 63 slices of equal chance; smooth quadrature fails at the
    gate's corners.
    """
    evidence = load_evidence() if evidence is None else evidence
    sd = _spread_c(daily, evidence.group("weather"))
    temp = floats(daily["temp_max_c"])[:, np.newaxis] + sd[:, np.newaxis] * _SLICES
    rated = departure_weather(
        temp,
        floats(daily["rain_mm"])[:, np.newaxis],
        floats(daily["wind_max_m_s"])[:, np.newaxis],
        evidence=evidence,
    )
    return np.asarray(floats(rated).mean(axis=1))


def temperature_sd_c(kind: Words, lead: Floats, rules: dict[str, float]) -> Floats:
    """Return the spread (n_days,) of each day's temperature [C]: 0 for observed days."""
    return np.select(
        [kind == "observed", kind == "forecast"],
        [0.0, forecast_sd_c(lead, rules)],
        rules["temp_sd_c"],
    )


def _spread_c(daily: pd.DataFrame, rules: dict[str, float]) -> Floats:
    """Return each day's spread [C]: the frame's own where it knows one, else the published."""
    kind = daily["kind"].to_numpy(dtype=object)
    published = temperature_sd_c(kind, daily["lead_d"].to_numpy(dtype=np.float64), rules)
    if "temp_sd_c" not in daily:
        return published
    own = floats(daily["temp_sd_c"])
    return np.where((kind == "forecast") & ~np.isnan(own), own, published)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Chance:
    """Standard chances, (draws, days) each: normal but for the two of the rain, uniform."""

    temp: Floats
    wind: Floats
    rain: Floats
    rain_share: Floats

    @classmethod
    def draw(
        cls, draws: int, days: int, rng: np.random.Generator, *, persistence: float
    ) -> "_Chance":
        shape = (draws, days)
        return cls(
            temp=_carried(rng.standard_normal(shape), persistence),
            wind=rng.standard_normal(shape),
            rain=rng.random(shape),
            rain_share=rng.random(shape),
        )


def _carried(shock: Floats, persistence: float) -> Floats:
    """Turn independent shocks into a series that carries on, of spread 1 on every day."""
    series = shock.copy()
    fresh = np.sqrt(1 - persistence**2)
    for day in range(1, series.shape[1]):
        series[:, day] = persistence * series[:, day - 1] + fresh * shock[:, day]
    return series


def _wind_sd(kind: Words, lead: Floats, rules: dict[str, float]) -> Floats:
    grown = rules["forecast_wind_sd"] + rules["forecast_wind_sd_growth"] * np.maximum(lead - 1, 0.0)
    forecast = np.minimum(grown, rules["wind_sd"])
    return np.select([kind == "observed", kind == "forecast"], [0.0, forecast], rules["wind_sd"])


def _log_normal(sd: Floats, z: Floats) -> Floats:
    """Return factors whose mean is 1."""
    return np.asarray(np.exp(sd * z - sd**2 / 2))


def _rain_miss(kind: Words, lead: Floats, rules: dict[str, float]) -> Floats:
    grown = rules["forecast_rain_miss"] + rules["forecast_rain_miss_growth"] * np.maximum(
        lead - 1, 0.0
    )
    return np.select([kind == "observed", kind == "forecast"], [0.0, np.minimum(grown, 1.0)], 1.0)


def _usual_rain(rain: Floats, kind: Words, share: Floats, rules: dict[str, float]) -> Floats:
    """Draw a usual day's rain: none, or an exponential amount that keeps the mean."""
    wet = rules["rain_day_share"]
    mean = np.where(kind == "normal", rain, rules["rain_usual_mm"])
    amount = -np.log(np.maximum(share / wet, np.finfo(float).tiny)) * mean / wet
    drawn = np.where(share < wet, amount, 0.0)
    return np.where(np.isnan(rain), np.nan, drawn)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Past:
    """Past days in a row: their day, their departure from the usual, their rain and wind."""

    day: Integers
    departure_c: Floats
    rain: Floats
    wind: Floats
    starts: Integers


def _past_days(
    daily: pd.DataFrame, history: pd.DataFrame | WeatherBook | None, rules: dict[str, float]
) -> _Past | None:
    """Lay the history out day by day, gaps as NaN; None where it is less than a season."""
    if history is None or not len(daily):
        return None
    # the evening of the choice, from any row: its date less its lead, but never past the last day
    on = (daily["date"] - pd.to_timedelta(daily["lead_d"], unit="D")).max()
    seen = observed_until(read_weather(history), on)
    seen = seen.take(~np.isnan(seen.cells[:, _TEMP]))
    if len(seen.day) < rules["block_history_min_d"]:
        return None
    # a season can't tell a yearly wave from its overtone
    waves = 2 if len(np.unique(days_of_year(seen.day))) >= rules["year_days_min"] else 1
    course = year_course(seen.day, waves)
    usual = course @ np.linalg.lstsq(course, seen.cells[:, _TEMP])[0]
    days = np.arange(seen.day.min(), seen.day.max() + 1)
    at = seen.day - days[0]
    laid = np.full((3, len(days)), np.nan)
    laid[:, at] = (seen.cells[:, _TEMP] - usual, seen.cells[:, _RAIN], seen.cells[:, _WIND])
    block = int(rules["block_days"])
    runs = np.convolve(~np.isnan(laid[0]), np.ones(block), mode="valid")
    return _Past(
        day=days,
        departure_c=laid[0],
        rain=laid[1],
        wind=laid[2],
        starts=np.flatnonzero(runs == block),
    )


def _lay_blocks(
    traces: WeatherTraces,
    daily: pd.DataFrame,
    past: _Past,
    rng: np.random.Generator,
    rules: dict[str, float],
) -> None:
    """Overwrite the normal days with blocks of past days, block by block."""
    usual = floats(daily["temp_max_c"])
    normal: Flags = (daily["kind"] == "normal").to_numpy(dtype=bool)
    of_year = days_of_year(daily["date"].to_numpy(dtype="datetime64[D]").astype(np.int64))
    block, draws = int(rules["block_days"]), len(traces.rain_mm)
    starts_of_year = days_of_year(past.day[past.starts])
    day = 0
    while day < len(normal):
        if not normal[day]:
            day += 1
            continue
        length = _run(normal[day : day + block])
        off = np.abs(starts_of_year - of_year[day])
        near = past.starts[np.minimum(off, _YEAR_D - off) <= rules["block_window_d"]]
        if len(near) >= _CANDIDATES_MIN:
            source = rng.choice(near, size=draws)[:, np.newaxis] + np.arange(length)
            here = slice(day, day + length)
            traces.temp_max_c[:, here] = usual[here] + past.departure_c[source]
            _replace_known(traces.rain_mm[:, here], past.rain[source])
            _replace_known(traces.wind_max_m_s[:, here], past.wind[source])
        day += length


def _run(normal: Flags) -> int:
    """Return how many days from the first on are normal without a break."""
    return len(normal) if normal.all() else int(np.argmin(normal))


def _replace_known(target: Floats, source: Floats) -> None:
    np.copyto(target, source, where=~np.isnan(source))
