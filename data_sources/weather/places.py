"""What is the weather at several yards, as far as the service answers?"""

from collections.abc import Mapping

import pandas as pd
import requests_cache

from data_sources.errors import SourceError
from data_sources.weather.open_meteo import FORECAST_URL, Fetched, fetch_open_meteo


def fetch_for_places(
    session: requests_cache.CachedSession,
    places: Mapping[str, tuple[float, float]],
    *,
    past_days: int = 92,
    forecast_days: int = 14,
    base_url: str = FORECAST_URL,
) -> tuple[pd.DataFrame | None, tuple[str, ...]]:
    """Fetch each yard's last days and forecast; a yard that gets none is told of, not raised.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`.
    places
        Yard: (latitude, longitude) in WGS 84 degrees. Yards of the same rounded place share one
        question.
    past_days, forecast_days, base_url
        As for `fetch_open_meteo`.

    Returns
    -------
    The tables one below the other with the yard in a first column ``apiary`` (None when no yard
    got any), and the lines to show, each once.
    """
    tables: list[pd.DataFrame] = []
    notices: list[str] = []
    for yard, (latitude, longitude) in places.items():
        try:
            fetched: Fetched = fetch_open_meteo(
                session,
                latitude=latitude,
                longitude=longitude,
                past_days=past_days,
                forecast_days=forecast_days,
                base_url=base_url,
            )
        except SourceError as error:
            notices.append(str(error))
            continue
        table = fetched.table.copy()
        table.insert(0, "apiary", pd.Series([yard] * len(table), dtype="str"))
        tables.append(table)
        notices.append(fetched.notice)
    shown = tuple(dict.fromkeys(n for n in notices if n))
    return (pd.concat(tables, ignore_index=True) if tables else None), shown
