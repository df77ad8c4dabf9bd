"""What does the verb `weather` ask for, and what of it goes into the records?"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd
import requests_cache

from data_sources.errors import SourceError
from data_sources.weather.asking import Asked, weather_for
from data_sources.weather.open_meteo import ARCHIVE_URL, FORECAST_URL
from data_sources.weather.open_meteo import PROVIDER as ARCHIVE
from data_sources.weather.open_meteo_ensemble import PROVIDER as ENSEMBLE
from data_sources.weather.open_meteo_ensemble import URL as ENSEMBLE_URL
from data_sources.weather.open_meteo_ensemble import fetch_open_meteo_ensemble, spread_by_day
from data_sources.weather.place_facts import look_swapped, place_facts
from data_sources.weather.providers import chosen, open_meteo
from swarmwatch.evidence import load_evidence
from swarmwatch.records import Records, Stored
from swarmwatch.weather import ensemble_rows, normal_rows, years_seen

_BACK_D, _AHEAD_D = 92, 13
# thirty years of a yard weigh as much at the service as some hundred ordinary requests
_NORMALS_A_RUN = 5
_ZONE = "time zone of "  # setting: this and the yard's name


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Done:
    """The lines to show, what was done in words (blank for nothing), and the rows that came."""

    lines: tuple[str, ...]
    said: str
    table: pd.DataFrame


@dataclass(slots=True, kw_only=True, eq=False)
class Fetching:
    """One run of the verb for some yards."""

    session: requests_cache.CachedSession
    store: Records
    yards: pd.DataFrame
    now: datetime
    server: str | None
    offline: bool
    lines: list[str] = field(default_factory=list)

    def run(self, names: Sequence[str]) -> Done:
        """Ask, keep what came, and say it; a service that fails raises nothing."""
        providers = chosen(names)
        if self.server:
            # nobody but the named address is asked
            providers = tuple(open_meteo(forecast_url=self.server, archive_url=self.server))
        ours = any(p.name == "open-meteo" for p in providers)
        heights = self._look_at_places() if ours else None
        today = self._today()
        asked = weather_for(
            self.session,
            self._spots(),
            first_day=min(today.values()) - timedelta(days=_BACK_D),
            last_day=max(today.values()) + timedelta(days=_AHEAD_D),
            today=today,
            providers=providers,
        )
        self.lines += asked.notices if len(asked.table) else [_nothing_came(asked)]
        tables = [asked.table]
        if ours:
            tables += [*self._ensembles(today), *self._normals(today)]
        stored = self._keep([t for t in tables if len(t)], heights)
        self.lines += self._gaps(asked)
        self.lines += asked.credits
        lines = tuple(dict.fromkeys(self.lines))
        return Done(lines=lines, said=self._words(asked, stored), table=asked.table)

    def _spots(self) -> dict[str, tuple[float, float]]:
        spots = self.yards[["latitude", "longitude"]].to_numpy(dtype=float)
        return {n: (s[0], s[1]) for n, s in zip(self.yards["apiary"], spots, strict=True)}

    def _today(self) -> dict[str, date]:
        """Return the day it is at each yard, by its own time zone where that is known."""
        return {yard: self.now.astimezone(self._zone(yard)).date() for yard in self._spots()}

    def _zone(self, yard: str) -> ZoneInfo | None:
        name = self.store.setting(_ZONE + yard)
        return ZoneInfo(name) if name else None

    def _look_at_places(self) -> pd.DataFrame | None:
        """Learn zone and height where they are not known; return the yards given a height."""
        found: dict[str, float] = {}
        blank = self.yards["elevation_m"].isna().to_numpy()
        for (yard, spot), no_height in zip(self._spots().items(), blank, strict=True):
            if self.store.setting(_ZONE + yard) and not no_height:
                continue
            self._warn_if_swapped(yard, spot)
            try:
                facts = place_facts(
                    self.session,
                    latitude=spot[0],
                    longitude=spot[1],
                    base_url=self.server or FORECAST_URL,
                )
            except SourceError:
                continue  # the weather's own line says it
            if facts.time_zone:
                self.store.set_setting(_ZONE + yard, facts.time_zone)
            if no_height and facts.elevation_m is not None:
                found[yard] = facts.elevation_m
                self.lines.append(
                    f"{yard}: its height was blank; {facts.elevation_m:.0f} m by {ARCHIVE}'s map "
                    "of the ground was written down. Correct it with `swarmwatch import`."
                )
        if not found:
            return None
        rows = self.yards[self.yards["apiary"].isin(list(found))]
        return rows.assign(elevation_m=[found[yard] for yard in rows["apiary"]])

    def _warn_if_swapped(self, yard: str, spot: tuple[float, float]) -> None:
        offset = self.now.utcoffset()
        # a machine on UTC says nothing of where its keeper lives
        if offset and look_swapped(*spot, utc_offset_h=offset / timedelta(hours=1)):
            self.lines.append(
                f"{yard}: {spot[0]:g}, {spot[1]:g} is far from this computer's time zone, and "
                "would fit it the other way round. Are latitude and longitude swapped?"
            )

    def _ensembles(self, today: dict[str, date]) -> list[pd.DataFrame]:
        """Fetch how far the members of the ensemble lie apart; the published error does without."""

        def ask(yard: str, spot: tuple[float, float]) -> pd.DataFrame:
            fetched = fetch_open_meteo_ensemble(
                self.session,
                latitude=spot[0],
                longitude=spot[1],
                first_day=today[yard],
                last_day=today[yard] + timedelta(days=_AHEAD_D),
                today=today[yard],
                base_url=self.server or ENSEMBLE_URL,
            )
            given = fetched.table["fetched_at"].max()
            spread = spread_by_day(fetched.table)
            return ensemble_rows(spread, apiary=yard, provider=ENSEMBLE, fetched_at=given)

        return self._each(ask, list(self._spots()))

    def _normals(self, today: dict[str, date]) -> list[pd.DataFrame]:
        """Make the normal rows of yards that have none, from thirty years of an archive."""
        evidence = load_evidence()
        years = round(evidence.value("weather.normal_years"))
        least = evidence.value("weather.normal_years_min")
        archive = open_meteo(archive_url=self.server or ARCHIVE_URL)[0]
        heights = dict(zip(self.yards["apiary"], self.yards["elevation_m"], strict=True))
        weather = self.store.frame("weather")
        kept = weather[(weather["kind"] == "normal").fillna(value=False)]["apiary"]
        all_have = kept.isna().any()
        lacking = [y for y in self._spots() if not all_have and y not in set(kept.dropna())]

        def ask(yard: str, spot: tuple[float, float]) -> pd.DataFrame:
            last = date(today[yard].year - 1, 12, 31)
            past = archive.fetch(
                self.session,
                latitude=spot[0],
                longitude=spot[1],
                first_day=date(last.year - years + 1, 1, 1),
                last_day=last,
                today=today[yard],
            ).table
            if len(years_seen(past, evidence=evidence)) < least:
                return past.iloc[:0]
            height = heights[yard]
            return normal_rows(
                past,
                apiary=yard,
                latitude=spot[0],
                elevation_m=None if pd.isna(height) else float(height),
                source=ARCHIVE,
                evidence=evidence,
            )

        return self._each(ask, lacking[:_NORMALS_A_RUN])

    def _each(
        self, ask: Callable[[str, tuple[float, float]], pd.DataFrame], yards: list[str]
    ) -> list[pd.DataFrame]:
        spots = self._spots()
        tables = []
        for yard in yards:
            try:
                tables.append(ask(yard, spots[yard]))
            except SourceError:
                continue  # what it would add can be done without
        return tables

    def _keep(self, tables: list[pd.DataFrame], heights: pd.DataFrame | None) -> Stored:
        frames = {} if heights is None else {"apiaries": heights}
        if tables:
            columns = list(tables[0].columns)
            frames["weather"] = pd.concat([t[columns] for t in tables], ignore_index=True)
        if not frames:
            return Stored()
        done = self.store.store(frames, at=self.now, by="weather", undoable=False)
        return done.get("weather", Stored())

    def _gaps(self, asked: Asked) -> list[str]:
        """Say how many days nobody had; silence where nothing came at all."""
        if not len(asked.table):
            return []
        count = sum(len(days) for days in asked.missing.values())
        if not count:
            return []
        days = "1 day" if count == 1 else f"{count} days"
        return [f"Nobody had the weather of {days}: the usual weather stands in there."]

    def _words(self, asked: Asked, counts: Stored) -> str:
        if not len(asked.table) and counts == Stored():
            return ""
        newest = asked.table["fetched_at"].max() if len(asked.table) else pd.NaT
        age = "" if pd.isna(newest) else f", newest answer of {newest:%Y-%m-%d %H:%M} UTC"
        yards = "1 yard" if len(self.yards) == 1 else f"{len(self.yards)} yards"
        return (
            f"Weather of {yards}: {counts.new} days new, {counts.corrected} "
            f"renewed, {counts.unchanged} as before{age}."
        )


def _nothing_came(asked: Asked) -> str:
    """Say in one line why there is no weather, and what is used instead."""
    why = " ".join(dict.fromkeys(asked.notices))
    return (
        f"{why} Until then the score uses what the records hold, and the usual weather of the "
        "place beyond."
    ).strip()
