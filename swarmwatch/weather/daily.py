"""What weather counts for this yard on each day, and how well is it known?"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.weather.arrays import Floats
from swarmwatch.weather.book import (
    VALUES,
    Day,
    Integers,
    WeatherBook,
    day_number,
    days_of_year,
    first_a_day,
    read_weather,
    rows_of,
)
from swarmwatch.weather.climate import climatology, observed_until, one_a_day, place_climatology
from swarmwatch.weather.ensemble import ensemble_sd_c, tenths
from swarmwatch.weather.verification import forecast_sd_c, own_error_ratio

KINDS = ("observed", "forecast", "normal")


def daily_weather(
    weather: pd.DataFrame | WeatherBook | None,
    *,
    apiary: str,
    first: Day,
    last: Day,
    on: Day,
    latitude: float,
    elevation_m: float | None = 0.0,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Choose one row of weather for each day, using only what is known on the evening `on`.

    Parameters
    ----------
    weather
        Table ``weather``, raw or conformed, a book of `by_apiary`, or None.
    apiary
        The yard; rows without a yard count too.
    first, last
        First and last day wanted.
    on
        The evening that the choice is made.
    latitude, elevation_m
        The yard's place [degrees north], [m], for days that no row speaks of.
    evidence
        Numbers to use; the shipped ones if None.

    Returns
    -------
    One row a day, ``first`` to ``last``: ``date``, ``temp_max_c``, ``temp_min_c``, ``rain_mm``,
    ``wind_max_m_s``, ``sunshine_h`` (NaN where the chosen row is blank), ``kind``, ``lead_d``
    (days after `on`, 0 up to `on`) and ``temp_sd_c``, the spread of a forecast day's maximum by
    an ensemble or by the yard's own kept forecasts [C] (NaN on other days, and where only the
    published spread is known).

    Raises
    ------
    RecordsError
        A cell of the table can't be read.

    Notes
    -----
    Up to `on`: an observed row (or one without kind), else the newest forecast, else normal.
    After `on`: a forecast (or a row without kind), else normal; an observed row dated after `on`
    is what nobody knows yet, and is passed over, as is a forecast fetched later than the day
    after `on`, or more than ``forecast_age_max_d`` before it. Normal is the table's own normal
    row of that day, else the course of its normal rows, else that of the observed history up to
    `on`, else that of the latitude. A row is taken whole from one provider: the most complete,
    then the yard's own, then the newest.
    """
    evidence = load_evidence() if evidence is None else evidence
    start, end, today = day_number(first), day_number(last), day_number(on)
    days = np.arange(start, end + 1)
    book = rows_of(read_weather(weather), apiary)
    values = np.full((len(days), len(VALUES)), np.nan)
    kind = np.full(len(days), "", dtype=object)
    said = _forecasts(book, today, evidence.value("weather.forecast_age_max_d"))
    forecasts = _best_forecasts(said)
    normals = one_a_day(book.take(book.kind == "normal"))
    for name, rows in zip(KINDS, (observed_until(book, on), forecasts, normals), strict=True):
        _lay(values, kind, days, rows, name)
    open_days = kind == ""
    if open_days.any():
        usual = climatology(book, on=on, evidence=evidence)
        if usual is None:
            usual = place_climatology(latitude, elevation_m, evidence=evidence)
        course = usual.to_numpy(dtype=np.float64)
        values[open_days] = course[days_of_year(days[open_days]) - 1]
        kind[open_days] = "normal"
    frame = _frame(days, values, kind, today)
    return frame.assign(temp_sd_c=_spread_c(frame, book, said, on=on, evidence=evidence))


def weather_words(daily: pd.DataFrame) -> str:
    """Say in a few words what a frame of `daily_weather` rests on.

    Examples
    --------
    >>> weather_words(pd.DataFrame({"date": pd.to_datetime(["2026-05-14", "2026-05-15"]),
    ...     "kind": ["observed", "forecast"], "lead_d": [0, 1]}))
    'observed to 2026-05-14, forecast 1 day'
    """
    kind = daily["kind"].to_numpy(dtype=object)
    past = daily["lead_d"].to_numpy() == 0
    parts = []
    seen = np.flatnonzero(kind == "observed")
    if seen.size:
        parts.append(f"observed to {daily['date'].iloc[seen[-1]]:%Y-%m-%d}")
        gaps = int((past & (kind != "observed")).sum())
        if gaps:
            parts[-1] += f" ({_days(gaps)} not observed)"
    forecast = int((~past & (kind == "forecast")).sum())
    if forecast:
        parts.append(f"forecast {_days(forecast)}")
    if (kind == "normal").any() and not (seen.size and (kind[~past] != "normal").all()):
        parts.append("then normal" if parts else "normal for the place, no weather at hand")
    return ", ".join(parts)


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"


def _forecasts(book: WeatherBook, today: int, age_max_d: float) -> WeatherBook:
    """Return the forecast rows that were known on the evening and are new enough to count."""
    undated = book.fetched_day == np.iinfo(np.int64).min
    known = undated | (book.fetched_day <= today + 1)
    fresh = undated | (book.fetched_day >= today - age_max_d) | (book.day <= today)
    given = (book.kind == "forecast") | ((book.kind == "") & (book.day > today))
    return book.take(given & known & fresh)


def _best_forecasts(said: WeatherBook) -> WeatherBook:
    """Return one forecast row a day: the newest day of fetching, then the most complete."""
    rows = said.take(~tenths(said))
    return first_a_day(
        rows, [-(rows.fetched_day // 2), -rows.known, rows.apiary == "", -(rows.fetched // 2)]
    )


def _spread_c(
    frame: pd.DataFrame, book: WeatherBook, said: WeatherBook, *, on: Day, evidence: Evidence
) -> Floats:
    """Return the spread of each forecast day's maximum [C]; NaN where only the published is known.

    An ensemble says how the error grows from day to day; the error of the first day, which its
    members share, stays the published one, or as many times that as the yard's own forecasts had.
    """
    rules = evidence.group("weather")
    ratio = own_error_ratio(book.take(~tenths(book)), on=on, evidence=evidence)
    lead = frame["lead_d"].to_numpy(dtype=np.float64)
    own = np.full(len(frame), np.nan) if ratio is None else ratio * forecast_sd_c(lead, rules)
    days = frame["date"].to_numpy(dtype="datetime64[D]").astype(np.int64)
    members = ensemble_sd_c(said, days)
    first_day = (1.0 if ratio is None else ratio) * rules["forecast_temp_sd_c"]
    grown = np.minimum(np.hypot(first_day, members), max(rules["temp_sd_c"], first_day))
    spread = np.where(np.isnan(members), own, grown)
    return np.where((frame["kind"] == "forecast").to_numpy(dtype=bool), spread, np.nan)


def _lay(
    values: Floats, kind: NDArray[np.object_], days: Integers, rows: WeatherBook, name: str
) -> None:
    """Write rows (one a day) into the days that are still open."""
    place = rows.day - days[0] if len(days) else rows.day
    inside = (place >= 0) & (place < len(days))
    place, found = place[inside], rows.cells[inside]
    still = kind[place] == ""
    values[place[still]] = found[still]
    kind[place[still]] = name


def _frame(days: Integers, values: Floats, kind: NDArray[np.object_], today: int) -> pd.DataFrame:
    frame = pd.DataFrame(values, columns=list(VALUES))
    frame.insert(0, "date", days.astype("datetime64[D]").astype("datetime64[us]"))
    frame["kind"] = pd.Series(kind, dtype="str")
    frame["lead_d"] = np.maximum(days - today, 0)
    return frame
