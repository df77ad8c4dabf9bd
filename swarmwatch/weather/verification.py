"""How far off were the forecasts that this keeper fetched, once the day had come?"""

import numpy as np

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather.arrays import Floats
from swarmwatch.weather.book import Day, WeatherBook, day_number
from swarmwatch.weather.climate import observed_until

_TEMP = 0  # column of `VALUES` in a book


def forecast_sd_c(lead_d: Floats, rules: dict[str, float]) -> Floats:
    """Return the published spread of a forecast maximum (n,) [C], lead 1 being tomorrow [d].

    Source
    ------
    Evidence ``weather.forecast_temp_sd_c``, ``forecast_temp_sd_growth_c``, at most ``temp_sd_c``.
    """
    grown = rules["forecast_temp_sd_c"] + rules["forecast_temp_sd_growth_c"] * np.maximum(
        lead_d - 1, 0.0
    )
    return np.minimum(grown, rules["temp_sd_c"])


def own_error_ratio(
    book: WeatherBook, *, on: Day, evidence: Evidence | None = None
) -> float | None:
    """Compare the errors of the keeper's own kept forecasts with the published spread.

    Parameters
    ----------
    book
        One yard's weather: forecast rows with ``fetched_at``, and what was observed on their days.
    on
        The evening: days after it have not come.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    The spread of the own errors as a multiple of the published one at the same lead [-], drawn
    towards 1 as by ``own_forecasts_prior`` days that met it exactly; None where no forecast of an
    earlier day has met its observation.

    Notes
    -----
    ratio^2 = (k + sum (error / published)^2) / (k + n). The error counts whole, bias included. A
    provider's own analysis in the place of a station flatters its forecast.
    """
    evidence = load_evidence() if evidence is None else evidence
    said = book.take((book.kind == "forecast") & (book.fetched_day > np.iinfo(np.int64).min))
    lead = (said.day - said.fetched_day).astype(np.float64)
    came = observed_until(book, on)
    place = np.searchsorted(came.day, said.day)
    place = np.minimum(place, max(len(came.day) - 1, 0))
    met = (lead >= 1) & (said.day <= day_number(on))
    if len(came.day):
        met &= came.day[place] == said.day
    else:
        met[:] = False
    error = np.full(len(said.day), np.nan)
    error[met] = said.cells[met, _TEMP] - came.cells[place[met], _TEMP]
    usable = ~np.isnan(error)
    if not usable.any():
        return None
    published = forecast_sd_c(lead[usable], evidence.group("weather"))
    weight = evidence.value("weather.own_forecasts_prior")
    total = weight + float(((error[usable] / published) ** 2).sum())
    return float(np.sqrt(total / (weight + int(usable.sum()))))
