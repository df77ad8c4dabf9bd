"""When do bait boxes go out and come down, and how much of a season was a box hung?"""

import math
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from swarmwatch.evidence import Evidence
from swarmwatch.placement.sources import afterswarms_expected
from swarmwatch.swarming.season import DAYS_A_YEAR, SeasonCurve
from swarmwatch.swarming.timeline import Place, peak_near, places_of
from swarmwatch.tables import TABLES, conform
from swarmwatch.weather import climatology, place_climatology

Floats = NDArray[np.float64]

_HALF_YEAR = DAYS_A_YEAR // 2
# numerical setting: seasons of a record are counted so far back
_YEARS_BACK = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxSeason:
    """One season of bait boxes at a keeper's yards.

    `peak_on` when most prime swarms leave; `peak_error_share` of ``season.peak_error`` [-];
    `put_out_on`, `take_down_on` when boxes go out and come down; `build_up_until` the last day on
    which a swarm may come and still build up before the cold, None where no cold comes.
    """

    curve: SeasonCurve
    peak_on: date
    peak_error_share: float
    put_out_on: date
    take_down_on: date
    build_up_until: date | None
    prime_share: float
    after_lag_d: float

    @property
    def first_day(self) -> date:
        """The first day that counts to this season: half a year before its peak."""
        return self.peak_on - timedelta(days=_HALF_YEAR)

    @property
    def last_day(self) -> date:
        """The last day that counts to it."""
        return self.peak_on + timedelta(days=_HALF_YEAR)

    def is_over(self, hung_on: date | None, on: date) -> bool:
        """Say whether a box that hangs since `hung_on` should have come down by `on`.

        It should from the day on which boxes come down until the next season's go out.
        """
        down = self.take_down_on
        if on < down:
            down -= timedelta(days=DAYS_A_YEAR)
        before_next = on < self.put_out_on or on >= self.take_down_on
        return before_next and (hung_on is None or hung_on < down)

    def prime_by(self, days: ArrayLike) -> Floats:
        """Return the share of the season's prime swarms that have left so many days after the peak.

        Parameters
        ----------
        days
            Any shape, days after the peak, before it negative [d].
        """
        from scipy.special import ndtr  # late: scipy is slow to load

        x = np.asarray(days, dtype=np.float64)
        before, after = self.curve.sd_before_d, self.curve.sd_after_d
        left = before * ndtr(np.minimum(x, 0.0) / before)
        right = after * (ndtr(np.maximum(x, 0.0) / after) - 0.5)
        return np.asarray((left + right) * 2 / (before + after), dtype=np.float64)

    def swarms_by(self, days: ArrayLike) -> Floats:
        """Return the same share of all swarms: afterswarms come some days after their prime."""
        x = np.asarray(days, dtype=np.float64)
        late = self.prime_by(x - self.after_lag_d)
        return self.prime_share * self.prime_by(x) + (1.0 - self.prime_share) * late

    def seasons_between(self, first: date, last: date) -> float:
        """Return how many seasons' swarms left from the morning of one day to an evening.

        1 for a box that hung a whole season, 2 for two of them [-].
        """
        back = DAYS_A_YEAR * np.arange(-1, _YEARS_BACK)
        ends = [(d - self.peak_on).days + back for d in (first - timedelta(days=1), last)]
        before, by = (self.swarms_by(e).sum() for e in ends)
        return max(float(by - before), 0.0)


def box_season(
    apiaries: pd.DataFrame,
    weather: pd.DataFrame | None,
    *,
    on: date,
    evidence: Evidence,
) -> BoxSeason:
    """Place the season of the keeper's yards; after its boxes came down, the next one.

    Parameters
    ----------
    apiaries
        One yard at least. The season is that of the yards' mean peak.
    weather
        The table, or None.
    on
        The evening to speak of.
    evidence
        The numbers.
    """
    yards = conform(apiaries, TABLES["apiaries"])
    names = yards["apiary"].tolist()
    known = None if weather is None else conform(weather, TABLES["weather"])
    places = places_of(names, yards, known, on=on, evidence=evidence)
    season = _season_round(places, _mean_peak(places, on), on, evidence)
    if on <= season.take_down_on:
        return season
    return _season_round(places, season.peak_on + timedelta(days=DAYS_A_YEAR), on, evidence)


def _mean_peak(places: list[Place], on: date) -> date:
    """Return the mean of the peaks near `on`; those of yards near each other are days apart."""
    first = peak_near(places[0].curve, on)
    year = timedelta(days=DAYS_A_YEAR)
    apart = [
        min(((p.peak_on + k * year - first).days for k in (-1, 0, 1)), key=abs) for p in places
    ]
    return first + timedelta(days=round(float(np.mean(apart))))


def _season_round(places: list[Place], peak_on: date, on: date, evidence: Evidence) -> BoxSeason:
    value = evidence.value
    curve = places[0].curve
    # where a normal curve has fallen to the share of its peak that counts as out of season
    edge = math.sqrt(-2 * math.log(value("season.in_season_weight")))
    first = round(edge * curve.sd_before_d + value("boxes.out_before_first_d"))
    last = round(edge * curve.sd_after_d + value("boxes.down_after_last_d"))
    return BoxSeason(
        curve=curve,
        peak_on=peak_on,
        peak_error_share=float(np.mean([p.peak_error_share for p in places])),
        put_out_on=peak_on - timedelta(days=first),
        take_down_on=peak_on + timedelta(days=last),
        build_up_until=_build_up_until(places[0], peak_on, on, evidence),
        prime_share=1.0 / (1.0 + afterswarms_expected(evidence)),
        after_lag_d=value("afterswarm.day_middle"),
    )


def _build_up_until(place: Place, peak_on: date, on: date, evidence: Evidence) -> date | None:
    usual = climatology(place.book, on=on, evidence=evidence)
    if usual is None:
        usual = place_climatology(place.latitude, place.elevation_m, evidence=evidence)
    mean_c = ((usual["temp_max_c"] + usual["temp_min_c"]) / 2).to_numpy(dtype=np.float64)
    start = peak_on.timetuple().tm_yday - 1
    coming = np.roll(mean_c, -start)[:DAYS_A_YEAR]
    cold = np.flatnonzero(coming < evidence.value("boxes.build_up_until_c"))
    if not cold.size:
        return None
    days = int(cold[0]) - round(evidence.value("boxes.build_up_d"))
    return peak_on + timedelta(days=max(days, 0))
