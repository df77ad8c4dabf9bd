"""What does a site's own record say of its catches?

Gamma-Poisson: catches in so many seasons are Poisson with the site's rate, the rate Gamma with the
mean and the central 80 % that the plan expects. With shape a and b seasons beforehand, c catches in
n seasons make it Gamma(a + c, b + n).
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from swarmwatch.placement._box_season import BoxSeason
from swarmwatch.tables import TABLES, conform

# numerical bounds of the shape: a wider or narrower range than theirs is taken as theirs
_SHAPES = (0.2, 500.0)
# tables.md: low and high are the 10th and 90th percentile
_LOW, _HIGH = 0.1, 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A site's catches a season, Gamma: `shape` [-] and `seasons`, how many it weighs."""

    shape: float
    seasons: float

    @property
    def mean(self) -> float:
        """The expected catches a season."""
        return self.shape / self.seasons

    @property
    def low(self) -> float:
        """The 10th percentile."""
        return self._quantile(_LOW)

    @property
    def high(self) -> float:
        """The 90th percentile."""
        return self._quantile(_HIGH)

    def after(self, catches: float, seasons: float) -> "Rate":
        """Return the rate once so many catches were made in so many seasons."""
        return Rate(shape=self.shape + catches, seasons=self.seasons + seasons)

    def p_any(self, seasons: float = 1.0) -> float:
        """Return the chance of at least one catch in so many seasons [-]."""
        return float(1.0 - (self.seasons / (self.seasons + seasons)) ** self.shape)

    def _quantile(self, share: float) -> float:
        from scipy.special import gammaincinv  # late: scipy is slow to load

        return float(gammaincinv(self.shape, share)) / self.seasons


def prior_rate(mean: float, low: float, high: float) -> Rate:
    """Return the Gamma with this mean whose 10th and 90th percentile are as far apart.

    Parameters
    ----------
    mean, low, high
        Expected catches a season, above 0; their ratio high / low sets the shape.
    """
    from scipy.optimize import brentq
    from scipy.special import gammaincinv

    def apart(shape: float) -> float:
        return float(np.log(gammaincinv(shape, _HIGH) / gammaincinv(shape, _LOW)))

    mean = max(mean, np.finfo(np.float64).tiny)
    wanted = float(np.log(max(high, mean) / max(low, np.finfo(np.float64).tiny)))
    least, most = _SHAPES
    if wanted >= apart(least):
        shape = least
    elif wanted <= apart(most):
        shape = most
    else:
        shape = float(brentq(lambda s: apart(s) - wanted, least, most))
    return Rate(shape=shape, seasons=shape / mean)


def site_records(
    sites: pd.DataFrame,
    hangings: pd.DataFrame,
    catches: pd.DataFrame,
    *,
    season: BoxSeason,
    on: date,
) -> pd.DataFrame:
    """Return each site's catches and the seasons that a box hung there, up to an evening.

    The tally of the table `sites` is taken to include what is recorded of earlier seasons: of the
    two, the one that covers more seasons counts. This season's record comes on top.

    Returns
    -------
    Rows as in `sites`: site, catches, seasons; catches blank where nothing is known.
    """
    sites = conform(sites, TABLES["sites"])
    hangings = _known(hangings, "hangings", "hung_on", on)
    catches = _known(catches, "catches", "caught_on", on)
    start = season.first_day
    rows = []
    for site, tally, spans in zip(
        sites["site"], sites["catches_before"], sites["seasons_before"], strict=True
    ):
        here = hangings[hangings["site"] == site]
        caught = catches.loc[catches["site"] == site, "caught_on"]
        before = sum(_seasons(here, season, on=min(on, start - timedelta(days=1))))
        now = sum(_seasons(here, season, on=on)) - before
        early = int((caught < pd.Timestamp(start)).sum())
        past = _longer(tally, spans, early, before)
        if past is None and not len(here):
            rows.append((site, np.nan, 0.0))
        else:
            count, seasons = past or (0.0, 0.0)
            rows.append((site, count + len(caught) - early, seasons + now))
    return pd.DataFrame(rows, columns=["site", "catches", "seasons"])


def _known(table: pd.DataFrame, name: str, day: str, on: date) -> pd.DataFrame:
    frame = conform(table, TABLES[name])
    return frame[frame[day] <= pd.Timestamp(on)]


def _longer(
    tally: object, spans: object, caught: int, seasons: float
) -> tuple[float, float] | None:
    """Return catches and seasons of the past: the tally's or the record's, whichever is longer."""
    if tally is None or pd.isna(tally):  # type: ignore[call-overload]  # a scalar cell
        return (float(caught), seasons) if seasons > 0 or caught else None
    count = float(str(tally))
    # catches without seasons: one season at least
    told = max(1.0, count > 0) if spans is None or pd.isna(spans) else float(str(spans))  # type: ignore[call-overload]  # a scalar cell
    return (float(caught), seasons) if seasons > told else (count, told)


def _seasons(hangings: pd.DataFrame, season: BoxSeason, *, on: date) -> list[float]:
    spans = []
    for hung_on, taken_on in zip(hangings["hung_on"], hangings["taken_on"], strict=True):
        first = hung_on.date()
        last = on if pd.isna(taken_on) else min(taken_on.date(), on)
        spans.append(season.seasons_between(first, last) if last >= first else 0.0)
    return spans


def sites_with_records(
    sites: pd.DataFrame,
    hangings: pd.DataFrame,
    catches: pd.DataFrame,
    *,
    season: BoxSeason,
    on: date,
) -> pd.DataFrame:
    """Return `sites` whose tally of catches and seasons holds what is recorded, too.

    What worked before then lifts a site through the factor `history` of its quality, counted once.
    """
    table = conform(sites, TABLES["sites"])
    record = site_records(table, hangings, catches, season=season, on=on)
    known = record["catches"].notna().to_numpy(dtype=bool)
    # seasons are whole in the table; part of one counts once it is half or more
    seasons = record["seasons"].round().astype("Int64").array
    caught = record["catches"].round().astype("Int64").array
    return table.assign(
        catches_before=table["catches_before"].mask(known, pd.Series(caught)),
        seasons_before=table["seasons_before"].mask(known, pd.Series(seasons)),
    )


def rate_after(mean: float, low: float, high: float, *, catches: float, seasons: float) -> Rate:
    """Return a site's rate: expected without its record, then what its record says.

    Parameters
    ----------
    mean, low, high
        Catches a season that the plan expects of a site nobody has tried.
    catches, seasons
        What `site_records` counts there; blank catches say nothing.
    """
    prior = prior_rate(mean, low, high)
    return prior if np.isnan(catches) else prior.after(catches, seasons)
