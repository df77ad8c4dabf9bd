"""Which rows of kind normal say what is usual at a yard, day by day through the year?"""

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather.book import VALUES, Day, WeatherBook, read_weather
from swarmwatch.weather.climate import climatology, observed_until, place_climatology

# any leap year will do: only the day of the year counts, and 29 February must be one of them
_YEAR = "2000-01-01"
_SENSORS = 2  # decimals: what a service gives, and no more


def normal_rows(
    past: pd.DataFrame | WeatherBook | None,
    *,
    apiary: str,
    latitude: float,
    elevation_m: float | None = 0.0,
    on: Day | None = None,
    source: str = "",
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Make the rows of kind normal of a yard.

    Parameters
    ----------
    past
        Table ``weather`` of the yard's past years, such as those of an archive; observed rows are
        used. None where there is none.
    apiary
        The yard.
    latitude, elevation_m
        Its place [degrees north], [m], for a yard without a whole year of weather.
    on
        Rows after this day are not used; None uses all.
    source
        Who observed, for the provider of the rows.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    366 rows of table ``weather``, one a day of the leap year 2000: a smooth yearly course that
    closes at the year's end, 29 February on it as any other day. ``provider`` says what it rests
    on: so many years, "few years" where there are fewer than ``weather.normal_years_min``, or
    latitude and elevation alone. ``fetched_at`` is blank.
    """
    evidence = load_evidence() if evidence is None else evidence
    book = read_weather(past)
    seen = observed_until(book, on)
    usual = climatology(seen, evidence=evidence)
    if usual is None:
        usual = place_climatology(latitude, elevation_m, evidence=evidence)
        provider = "normal by latitude and elevation"
    else:
        provider = _words(seen, source, evidence)
    usual = _kept_in_order(usual).round(_SENSORS)
    dates = pd.date_range(_YEAR, periods=len(usual)).astype("datetime64[us]")
    frame = usual.reset_index(drop=True).assign(kind="normal", provider=provider)
    frame.insert(0, "date", dates)
    frame.insert(0, "apiary", apiary)
    return frame.assign(
        fetched_at=pd.Series(pd.NaT, index=frame.index, dtype="datetime64[us, UTC]")
    )


def years_seen(
    past: pd.DataFrame | WeatherBook | None,
    *,
    on: Day | None = None,
    evidence: Evidence | None = None,
) -> list[int]:
    """Return the years of which ``weather.year_days_min`` days have both temperatures observed."""
    least = (load_evidence() if evidence is None else evidence).value("weather.year_days_min")
    seen = observed_until(read_weather(past), on)
    known = seen.day[~np.isnan(seen.cells[:, :2]).any(axis=1)]
    of_year = pd.DatetimeIndex(known.astype("datetime64[D]")).year
    years, counts = np.unique(of_year, return_counts=True)
    return [int(y) for y in years[counts >= least]]


def _words(seen: WeatherBook, source: str, evidence: Evidence) -> str:
    years = years_seen(seen, evidence=evidence)
    span = f"{years[0]}-{years[-1]}" if years else "less than a year of days"
    few = "" if len(years) >= evidence.value("weather.normal_years_min") else ", few years"
    by = f" {source}" if source else ""
    return f"normal of {span}{few}{by}"


def _kept_in_order(usual: pd.DataFrame) -> pd.DataFrame:
    """Keep the two smooth temperature courses from crossing."""
    low, high = VALUES[1], VALUES[0]
    return usual.assign(**{high: np.maximum(usual[high], usual[low])})
