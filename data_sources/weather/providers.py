"""Which services give weather, where, for which days, and on what terms?

Each stands for one adapter. Their order is the order in which they are asked: first those that
know every column, then those that fill a gap.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from importlib import import_module
from typing import Any, TypeAlias

import requests_cache

from data_sources.errors import SourceError
from data_sources.weather.fetched import Fetched
from data_sources.weather.open_meteo import (
    ARCHIVE_URL,
    FORECAST_URL,
    fetch_open_meteo,
    fetch_open_meteo_archive,
)

Fetch: TypeAlias = Callable[..., Fetched]

# the service's own limits, days from its today
_PAST_DAYS, _FORECAST_DAYS = 92, 14
_ARCHIVE_LATE_D = 7
_LONG_AGO_D = 80 * 365
# south, west, north, east of where the US National Weather Service forecasts [degrees], roughly:
# outside its borders it says so itself
_UNITED_STATES = (
    (24.0, -125.5, 49.6, -66.5),
    (51.0, -180.0, 71.6, -129.0),
    (18.5, -161.0, 22.6, -154.5),
    (17.5, -67.5, 18.7, -64.4),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Provider:
    """One service as `weather_for` sees it.

    `name` is the word to choose it by; `shown` is its own name; `first_d` and `last_d` are the
    days it knows, counted from today; `boxes` where it serves (south, west, north, east), empty
    for the world. `address` is another one than its own. `whole_months`: it is asked for whole
    months that are past, so that the same question is asked all month and an old answer is found
    when the service fails.
    """

    name: str
    shown: str
    fetch: Fetch
    terms: str
    first_d: int
    last_d: int
    boxes: tuple[tuple[float, float, float, float], ...] = ()
    whole_months: bool = False
    wants_contact: bool = False
    address: str = ""

    def serves(self, latitude: float, longitude: float) -> bool:
        """Say whether the service covers a place."""
        return not self.boxes or any(
            south <= latitude <= north and west <= longitude <= east
            for south, west, north, east in self.boxes
        )

    def span(self, days: Sequence[date], today: date) -> tuple[date, date] | None:
        """Return first and last day to ask for; None where it knows none of the days."""
        known = [d for d in days if self.first_d <= (d - today).days <= self.last_d]
        if not known:
            return None
        first, last = min(known), max(known)
        if not self.whole_months:
            return first, last
        month_end = (today + timedelta(days=self.last_d + 1)).replace(day=1) - timedelta(days=1)
        return (first.replace(day=1), month_end) if first <= month_end else None

    def question(self, spot: tuple[float, float], span: tuple[date, date]) -> str:
        """Return the words under which the rows of a place and its days are kept."""
        place = f"{round(spot[0], 2) + 0.0:.2f} {round(spot[1], 2) + 0.0:.2f}"
        # what is asked round today is always the same
        days = f"{span[0]} {span[1]}" if self.last_d < 0 else "round today"
        return f"{self.name} {self.address} {place} {days}"


def open_meteo(
    *, forecast_url: str = FORECAST_URL, archive_url: str = ARCHIVE_URL
) -> list[Provider]:
    """Return the two sides of Open-Meteo: its archive behind, its forecast round today."""
    terms = "free for non-commercial use, fewer than 10,000 requests a day"

    def round_today(
        session: requests_cache.CachedSession,
        *,
        latitude: float,
        longitude: float,
        base_url: str = forecast_url,
        **_days: date,
    ) -> Fetched:
        # always the same question of a place, so that its last answer is found when it fails
        return fetch_open_meteo(
            session,
            latitude=latitude,
            longitude=longitude,
            past_days=_PAST_DAYS,
            forecast_days=_FORECAST_DAYS,
            base_url=base_url,
        )

    def behind(
        session: requests_cache.CachedSession,
        *,
        latitude: float,
        longitude: float,
        first_day: date,
        last_day: date,
        base_url: str = archive_url,
        **_today: date,
    ) -> Fetched:
        return fetch_open_meteo_archive(
            session,
            latitude=latitude,
            longitude=longitude,
            first=first_day,
            last=last_day,
            base_url=base_url,
        )

    return [
        Provider(
            name="open-meteo",
            shown="Open-Meteo",
            fetch=behind,
            terms=terms,
            first_d=-_LONG_AGO_D,
            last_d=-_ARCHIVE_LATE_D,
            whole_months=True,
            address="" if archive_url == ARCHIVE_URL else archive_url,
        ),
        Provider(
            name="open-meteo",
            shown="Open-Meteo",
            fetch=round_today,
            terms=terms,
            first_d=-_PAST_DAYS,
            last_d=_FORECAST_DAYS - 1,
            address="" if forecast_url == FORECAST_URL else forecast_url,
        ),
    ]


def _adapter(module: str, function: str) -> Fetch:
    """Return an adapter of the common call, loaded when it is first asked."""

    def fetch(session: requests_cache.CachedSession, **asked: Any) -> Fetched:  # noqa: ANN401
        found = getattr(import_module(f"data_sources.weather.{module}"), function)
        fetched: Fetched = found(session, **asked)
        return fetched

    return fetch


PROVIDERS: tuple[Provider, ...] = (
    *open_meteo(),
    Provider(
        name="us-weather-service",
        shown="US National Weather Service",
        fetch=_adapter("us_weather_service", "fetch_us_weather_service"),
        terms="free; wants a contact in the User-Agent",
        first_d=0,
        last_d=7,
        boxes=_UNITED_STATES,
        wants_contact=True,
    ),
    Provider(
        name="met-norway",
        shown="MET Norway",
        fetch=_adapter("met_norway", "fetch_met_norway"),
        terms="free, CC BY 4.0; wants a contact in the User-Agent",
        first_d=0,
        last_d=9,
        wants_contact=True,
    ),
    Provider(
        name="ghcn-daily",
        shown="GHCN-Daily",
        fetch=_adapter("ghcn_daily", "fetch_ghcn_daily"),
        terms="free; some stations outside the US for non-commercial use only",
        first_d=-_LONG_AGO_D,
        last_d=-1,
    ),
    Provider(
        name="nasa-power",
        shown="NASA POWER",
        fetch=_adapter("nasa_power", "fetch_nasa_power"),
        terms="free, with an acknowledgement",
        first_d=-40 * 365,
        last_d=-2,
    ),
)


def chosen(names: Sequence[str], providers: Sequence[Provider] = PROVIDERS) -> tuple[Provider, ...]:
    """Return the providers of these names only, in this order; all of them for no name.

    Raises
    ------
    SourceError
        A name that none has.
    """
    known = list(dict.fromkeys(p.name for p in providers))
    for name in names:
        if name not in known:
            message = f"there is no weather service {name!r}. Choose from {', '.join(known)}."
            raise SourceError(message)
    if not names:
        return tuple(providers)
    return tuple(p for name in names for p in providers if p.name == name)


def at_address(providers: Sequence[Provider], url: str) -> tuple[Provider, ...]:
    """Return providers that are asked at another address that speaks the same."""

    def moved(fetch: Fetch) -> Fetch:
        return lambda session, **asked: fetch(session, base_url=url, **asked)

    return tuple(replace(p, fetch=moved(p.fetch), address=url) for p in providers)
