"""When in the year do prime swarms leave at a place?

Warmth places the season where spring comes late, light where it comes early: most prime swarms
leave once the warmth of spring *and* the day length have both reached their mark. Years
differ by a few days only, so a year's own heat sum does not move it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather import day_length_h, place_climatology

Floats = NDArray[np.float64]
DAYS_A_YEAR = 365
MONTHS_A_YEAR = 12
# Day of year of the shortest and the longest day, astronomy
MIDWINTER_DAY = 355
MIDSUMMER_DAY = 172
# Day of year in the middle of each month of a common year, calendar
_MID_MONTH = np.array([16, 46, 75, 106, 136, 167, 197, 228, 259, 289, 320, 350])


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonCurve:
    """How the prime swarms of a place spread over the year.

    `peak_day` is the day of year [1..365] at which most leave; the spreads are in days.
    """

    peak_day: float
    sd_before_d: float
    sd_after_d: float

    def weight(self, day_of_year: ArrayLike) -> Floats:
        """Return the season's height on each day, 1 at the peak.

        Parameters
        ----------
        day_of_year
            (n,) day of year; days beyond the year's ends are turned round it.

        Returns
        -------
        (n,) weight in 0..1 [-].
        """
        return self.weight_from_peak(np.asarray(day_of_year, dtype=np.float64) - self.peak_day)

    def weight_from_peak(self, days: ArrayLike) -> Floats:
        """Return the season's height so many days after (or before: negative) the peak."""
        half = DAYS_A_YEAR / 2
        offset = (np.asarray(days, dtype=np.float64) + half) % DAYS_A_YEAR - half
        spread = np.where(offset < 0, self.sd_before_d, self.sd_after_d)
        return np.asarray(np.exp(-0.5 * (offset / spread) ** 2), dtype=np.float64)


def season_curve(
    latitude: float,
    *,
    elevation_m: float = 0.0,
    monthly_mean_c: ArrayLike | None = None,
    evidence: Evidence | None = None,
) -> SeasonCurve:
    """Place the swarm season by latitude and climate.

    Parameters
    ----------
    latitude
        [degrees north]; the southern hemisphere has its season half a year later.
    elevation_m
        [m]; only used where `monthly_mean_c` is not given.
    monthly_mean_c
        (12,) mean temperatures January to December [C], or None: the climate is guessed from
        latitude and elevation.
    evidence
        The numbers to use; the shipped ones by default.

    Returns
    -------
    The curve, with ``peak_day`` and ``weight(day_of_year)``.

    Raises
    ------
    UsageError
        The latitude is not in -90..90, or the means are not twelve finite numbers.

    Notes
    -----
    Source: evidence ``season.heat_to_peak``, ``season.light_to_peak``, ``season.sd_before``.
    """
    if not -90 <= latitude <= 90:
        message = f"latitude {latitude} is not between -90 and 90. Write degrees north."
        raise UsageError(message)
    evidence = evidence or load_evidence()
    if monthly_mean_c is None:
        normal = place_climatology(latitude, elevation_m, evidence=evidence).loc[_MID_MONTH]
        monthly_mean_c = (normal["temp_max_c"] + normal["temp_min_c"]).to_numpy(dtype=float) / 2
    means = np.asarray(monthly_mean_c, dtype=np.float64)
    if means.shape != (MONTHS_A_YEAR,) or not np.isfinite(means).all():
        message = "monthly_mean_c needs twelve temperatures, January to December, in degrees C."
        raise UsageError(message)
    shift = evidence.value("season.hemisphere_shift") if latitude < 0 else 0.0
    peak = _northern_peak(
        abs(latitude), np.roll(means, -MONTHS_A_YEAR // 2) if shift else means, evidence
    )
    return SeasonCurve(
        peak_day=(peak + shift - 1) % DAYS_A_YEAR + 1,
        sd_before_d=evidence.value("season.sd_before"),
        sd_after_d=evidence.value("season.sd_after"),
    )


def curve_at(peak_day: float, evidence: Evidence) -> SeasonCurve:
    """Return the curve of a keeper's own peak [day of year]."""
    return SeasonCurve(
        peak_day=peak_day,
        sd_before_d=evidence.value("season.sd_before"),
        sd_after_d=evidence.value("season.sd_after"),
    )


def _northern_peak(latitude: float, means: Floats, evidence: Evidence) -> float:
    """Return the peak's day of year for a place of the northern half, or one turned to it."""
    since_midwinter = np.arange(DAYS_A_YEAR)
    day_of_year = (MIDWINTER_DAY - 1 + since_midwinter) % DAYS_A_YEAR + 1
    warmth = _daily_means(means, day_of_year) - evidence.value("season.degree_day_base")
    # a mild winter's warmth does not bring the season forward as a spring's does
    spring = since_midwinter >= evidence.value("season.heat_from_day") + DAYS_A_YEAR - MIDWINTER_DAY
    heat = np.cumsum(np.where(spring, np.clip(warmth, 0.0, None), 0.0))
    light = np.asarray(day_length_h(latitude, day_of_year), dtype=np.float64)
    latest = (
        MIDSUMMER_DAY
        - MIDWINTER_DAY
        + DAYS_A_YEAR
        + evidence.value("season.latest_peak_after_midsummer")
    )
    reached = [
        _first_day(heat, evidence.value("season.heat_to_peak"), latest),
        _first_day(light, evidence.value("season.light_to_peak"), latest),
    ]
    return (MIDWINTER_DAY + max(reached) - 1) % DAYS_A_YEAR + 1


def _first_day(course: Floats, mark: float, latest: float) -> float:
    above = np.flatnonzero(course >= mark)
    return min(float(above[0]), latest) if above.size else latest


def _daily_means(means: Floats, day_of_year: NDArray[np.int_]) -> Floats:
    """Draw a smooth year through twelve monthly means by their first two harmonics."""
    angle = 2 * np.pi * _MID_MONTH / DAYS_A_YEAR
    basis = _harmonics(angle)
    coefficients, *_ = np.linalg.lstsq(basis, means, rcond=None)
    return np.asarray(_harmonics(2 * np.pi * day_of_year / DAYS_A_YEAR) @ coefficients)


def _harmonics(angle: Floats) -> Floats:
    return np.stack(
        [np.ones_like(angle), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)],
        axis=-1,
    )
