"""Which days does a score look at, and what are season and weather like at each yard on them?"""

import datetime as dt
from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence
from swarmwatch.swarming.departure import CellRates
from swarmwatch.swarming.parameters import Parameters
from swarmwatch.swarming.preparation import (
    ReferenceYear,
    crowding_log_ratio,
    reference_crowding,
    solve_base_rate,
)
from swarmwatch.swarming.season import DAYS_A_YEAR, SeasonCurve, curve_at, season_curve
from swarmwatch.weather import (
    WeatherBook,
    by_apiary,
    climatology,
    daily_weather,
    departure_weather,
    expected_departure_weather,
    monthly_means_c,
    place_climatology,
    weather_traces,
    weather_words,
)

Floats = NDArray[np.float64]
_HALF_YEAR = DAYS_A_YEAR // 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Yard:
    """One yard: its season, its weather day by day, and what that weather rests on.

    `peak_error_share` is the error of its peak as a share of that of the rule for places [-].
    """

    name: str
    latitude: float
    curve: SeasonCurve
    peak_on: dt.date
    peak_error_share: float
    daily: pd.DataFrame
    usual: pd.DataFrame
    history: WeatherBook

    @property
    def weather_kind(self) -> str:
        """What the weather rests on, in words."""
        return weather_words(self.daily)


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """The line of days: evening 0 is `start`, evening `on` (an index) is now, then `ahead` more."""

    start: dt.date
    on: int
    ahead: int

    @property
    def count(self) -> int:
        """How many evenings there are."""
        return self.on + self.ahead + 1

    def date(self, index: int) -> dt.date:
        """Return the date of an evening."""
        return self.start + dt.timedelta(days=int(index))


def peak_near(curve: SeasonCurve, on: dt.date) -> dt.date:
    """Return the season's peak that lies within half a year of `on`."""
    days = [
        dt.date(year, 1, 1) + dt.timedelta(days=round(curve.peak_day) - 1)
        for year in (on.year - 1, on.year, on.year + 1)
    ]
    return min(days, key=lambda d: abs((d - on).days))


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One yard's place in space and season; `back` are the days from its first look to now.

    `peak_error_share` is that of `Yard`.
    """

    name: str
    book: WeatherBook
    latitude: float
    elevation_m: float
    curve: SeasonCurve
    peak_on: dt.date
    peak_error_share: float
    back: int


def places_of(
    names: list[str],
    apiaries: pd.DataFrame,
    weather: pd.DataFrame | None,
    *,
    on: dt.date,
    evidence: Evidence,
) -> list[Place]:
    """Find each yard's season and how far back a score has to look.

    Parameters
    ----------
    names
        Yards, in this order. A yard that `apiaries` lacks is given the usual latitude.
    apiaries, weather
        Conformed ``apiaries``; ``weather`` or None.
    on
        The evening of the score.
    evidence
        The numbers.
    """
    books = by_apiary(weather)
    rows = apiaries.drop_duplicates("apiary", keep="last").set_index("apiary")
    first_look = round(evidence.value("season.first_look_before_peak"))
    places = []
    for name in names:
        row = rows.loc[name].to_dict() if name in rows.index else None
        book = books.get(name, books[""])
        curve, latitude, elevation_m = _season_at(row, book, on=on, evidence=evidence)
        peak = peak_near(curve, on)
        own = row is not None and not pd.isna(row["season_peak"])
        places.append(
            Place(
                name=name,
                book=book,
                latitude=latitude,
                elevation_m=elevation_m,
                curve=curve,
                peak_on=peak,
                peak_error_share=evidence.value("season.own_peak_error") if own else 1.0,
                back=max((on - peak).days + first_look, 1),
            )
        )
    return places


def yards_of(
    places: list[Place], *, on: dt.date, ahead: int, evidence: Evidence
) -> tuple[Days, list[Yard]]:
    """Lay out the days of a score and each yard's weather on them.

    Parameters
    ----------
    places
        Yards with the same ``back``: they share one line of days.
    on
        The evening of the score.
    ahead
        Days to look ahead [d].
    evidence
        The numbers.

    Returns
    -------
    The line of days, and the yards.
    """
    back = places[0].back
    days = Days(start=on - dt.timedelta(days=back), on=back, ahead=ahead)
    reach = round(evidence.value("season.first_look_before_peak"))
    yards = []
    for place in places:
        usual = climatology(place.book, on=on, evidence=evidence)
        if usual is None:
            usual = place_climatology(place.latitude, place.elevation_m, evidence=evidence)
        daily = daily_weather(
            place.book,
            apiary=place.name,
            first=days.start,
            last=days.date(days.count - 1),
            on=on,
            latitude=place.latitude,
            elevation_m=place.elevation_m,
            evidence=evidence,
        )
        yards.append(
            Yard(
                name=place.name,
                latitude=place.latitude,
                curve=place.curve,
                peak_on=place.peak_on,
                peak_error_share=place.peak_error_share,
                daily=daily,
                usual=_usual_season(usual, place.peak_on, reach),
                history=place.book,
            )
        )
    return days, yards


def _usual_season(usual: pd.DataFrame, peak: dt.date, reach: int) -> pd.DataFrame:
    """Lay a usual year's weather on the days round a peak."""
    dates = pd.date_range(peak - dt.timedelta(days=reach), peak + dt.timedelta(days=reach))
    season = usual.loc[dates.day_of_year].reset_index(drop=True)
    return season.assign(date=dates, kind="normal", lead_d=1)


def _season_at(
    place: dict[Hashable, Any] | None, book: WeatherBook, *, on: dt.date, evidence: Evidence
) -> tuple[SeasonCurve, float, float]:
    if place is None:
        latitude, elevation_m, own = evidence.value("season.latitude_unknown"), 0.0, None
    else:
        latitude = float(place["latitude"])
        height = place["elevation_m"]
        elevation_m = 0.0 if pd.isna(height) else float(height)
        own = None if pd.isna(place["season_peak"]) else str(place["season_peak"])
    if own is not None:
        # a common year's day of the year; 29 February counts as 1 March
        month, day = map(int, own.split("-"))
        peak = dt.date(2001, month, 1).timetuple().tm_yday + day - 1
        return curve_at(float(peak), evidence), latitude, elevation_m
    means = monthly_means_c(book, on=on, evidence=evidence)
    curve = season_curve(latitude, elevation_m=elevation_m, monthly_mean_c=means, evidence=evidence)
    return curve, latitude, elevation_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Rates and weather day by day under each draw.

    `gate` (n_days, n_yards, n_draws) departure weather [-]; `season_rate` (n_days, n_yards,
    n_draws) what a colony of the reference crowding at the peak would start at [1/d]; `restart`
    the reference colony's daily chance to start [1/d].
    """

    gate: Floats
    season_rate: Floats
    restart: Floats


def course_of(
    days: Days,
    yards: list[Yard],
    parameters: Parameters,
    rates: CellRates,
    *,
    evidence: Evidence,
    seed: int | None,
    chance_key: str,
) -> Course:
    """Return gates and rates under each draw; `seed` None gives the expected weather instead.

    Parameters
    ----------
    days, yards
        Of `yards_of`.
    parameters, rates
        The draws, and their rates by age of cells.
    evidence
        The numbers.
    seed
        Seed of the weather traces, or None for the central run.
    chance_key
        Evidence key of the yearly chance that sets the base rate.
    """
    draws = parameters.draws
    gate = np.empty((days.count, len(yards), draws))
    usual_gate, season, from_peak = [], [], []
    lead = parameters["preparation.lead_before_departure"]
    shift = parameters["season.peak_error"]
    for i, yard in enumerate(yards):
        gate[:, i] = _gates(yard, draws, evidence=evidence, seed=seed)
        usual_gate.append(expected_departure_weather(yard.usual, evidence=evidence))
        offsets = _days_from(yard.usual, yard.peak_on)
        ahead = lead - shift * yard.peak_error_share
        season.append(_season(yard.curve, offsets, ahead))
        from_peak.append(_season(yard.curve, _days_from(yard.daily, yard.peak_on), ahead))
    year = ReferenceYear(
        days_from_peak=_days_from(yards[0].usual, yards[0].peak_on),
        gate=np.stack(usual_gate, axis=1),
        season=np.stack(season, axis=1),
    )
    base = solve_base_rate(year, rates, parameters, chance_key=chance_key)
    season_rate = np.stack(from_peak, axis=1) * base
    reference = np.stack(
        [
            crowding_log_ratio(
                reference_crowding(_days_from(y.daily, y.peak_on), parameters)[None], parameters
            ).T
            for y in yards
        ],
        axis=1,
    )
    return Course(
        gate=_with_push(gate, parameters),
        season_rate=season_rate,
        restart=-np.expm1(-season_rate * np.exp(reference)),
    )


def _days_from(daily: pd.DataFrame, peak_on: dt.date) -> Floats:
    days = daily["date"].to_numpy(dtype="datetime64[D]") - np.datetime64(peak_on)
    return days.astype(np.float64)


def _season(curve: SeasonCurve, days_from_peak: Floats, lead: Floats) -> Floats:
    """Return the season's height for a start, (n_days, n_draws): swarms leave `lead` days later."""
    return curve.weight_from_peak(days_from_peak[:, None] + lead)


def _gates(yard: Yard, draws: int, *, evidence: Evidence, seed: int | None) -> Floats:
    """Return departure weather (n_days, n_draws)."""
    if seed is None:
        expected = expected_departure_weather(yard.daily, evidence=evidence)
        return np.repeat(expected[:, None], draws, axis=1)
    traces = weather_traces(
        yard.daily,
        yard.history,
        draws=draws,
        rng=np.random.default_rng(seed),
        evidence=evidence,
    )
    return np.asarray(
        departure_weather(traces.temp_max_c, traces.rain_mm, traces.wind_max_m_s, evidence=evidence)
    ).T


def _with_push(gate: Floats, parameters: Parameters) -> Floats:
    """Raise the first day after confined ones: pent-up swarms leave together."""
    spell = round(parameters["departure.confined_days"][0])
    confined = gate < parameters["departure.confined_weather"][0]
    pent_up = np.ones_like(confined)
    pent_up[:spell] = False
    for back in range(1, spell + 1):
        pent_up[back:] &= confined[:-back]
    pushed = gate * np.where(pent_up, parameters["departure.push_after_confined"], 1.0)
    return np.minimum(pushed, 1 / parameters["departure.hazard_sealed"])
