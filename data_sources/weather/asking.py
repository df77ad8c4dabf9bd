"""What is the weather at these yards on these days, from whoever can say?

One way to ask: services are tried in order until every day has a row; each day's row is one
service's alone. A service that fails costs nothing but a line that says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import requests_cache
from numpy.typing import NDArray

from data_sources.errors import SourceError
from data_sources.session import tells_who_asks
from data_sources.weather.kept_rows import DayRows, keep_rows, kept_rows, last_good_rows
from data_sources.weather.providers import PROVIDERS, Provider
from data_sources.weather.table import BOUNDS, COLUMNS

# a kept forecast older than this is used only where no other service has the day
_FRESH = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """What came of asking.

    `table` holds the columns of `data_sources.weather.table` behind the yard's name in
    ``apiary``; `notices` are lines to show; `credits` what must be shown beside the data;
    `missing` the days of each yard that nobody has.
    """

    table: pd.DataFrame
    notices: tuple[str, ...]
    credits: tuple[str, ...]
    missing: Mapping[str, tuple[date, ...]]


def weather_for(
    session: requests_cache.CachedSession,
    places: Mapping[str, tuple[float, float]],
    *,
    first_day: date,
    last_day: date,
    today: date | Mapping[str, date],
    providers: Sequence[Provider] = PROVIDERS,
) -> Asked:
    """Ask for the weather of yards, day by day, from whichever service has it.

    Parameters
    ----------
    session
        From `data_sources.session.open_session`.
    places
        Yard: (latitude, longitude) in WGS 84 degrees. Yards within the same hundredth of a
        degree share one question.
    first_day, last_day
        First and last day wanted.
    today
        The day it is at the yards, or at each of them: days before it are to be observed.
    providers
        Services in the order in which they are asked.

    Returns
    -------
    The rows, at most one a yard and day. Each is one service's alone and knows both temperatures.
    Behind `today` an observed row comes before any forecast; a forecast kept from earlier days
    counts only where no service has a newer one. Nothing is raised for a service that fails.

    Raises
    ------
    SourceError
        The days are the wrong way round.
    """
    if last_day < first_day:
        message = f"the last day {last_day} is before the first {first_day}. Swap them."
        raise SourceError(message)
    days = [first_day + timedelta(days=i) for i in range((last_day - first_day).days + 1)]
    answers: dict[tuple[float, float, date], _Place] = {}
    notices, shown = [], []
    rows: list[DayRows] = []
    yards: list[str] = []
    missing: dict[str, tuple[date, ...]] = {}
    for yard, (latitude, longitude) in places.items():
        here = today if isinstance(today, date) else today[yard]
        spot = (round(latitude, 2) + 0.0, round(longitude, 2) + 0.0, here)
        if spot not in answers:
            answers[spot] = _Place.asked(session, (latitude, longitude), days, here, providers)
        place = answers[spot]
        rows += place.taken
        yards += [yard] * len(place.taken)
        notices += place.notices
        shown += place.credits
        missing[yard] = place.missing
    return Asked(
        table=_table(yards, rows),
        notices=tuple(dict.fromkeys(notices)),
        credits=tuple(dict.fromkeys(shown)),
        missing=missing,
    )


@dataclass(slots=True, kw_only=True, eq=False)
class _Place:
    """One place while its services are asked: what is taken so far, and what is still open."""

    today: date
    first: date
    open: NDArray[np.bool_]
    taken: list[DayRows] = field(default_factory=list)
    second: list[DayRows] = field(default_factory=list)
    said: list[tuple[Provider, str]] = field(default_factory=list)
    shy: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    credits: list[str] = field(default_factory=list)

    @classmethod
    def asked(
        cls,
        session: requests_cache.CachedSession,
        spot: tuple[float, float],
        days: list[date],
        today: date,
        providers: Sequence[Provider],
    ) -> "_Place":
        place = cls(today=today, first=days[0], open=np.ones(len(days), dtype=bool))
        for provider in providers:
            if not place.open.any():
                break
            span = provider.span(place.missing, today)
            if span is None or not provider.serves(*spot):
                continue
            if provider.wants_contact and not tells_who_asks(session):
                place.shy.append(provider.shown)
                continue
            try:
                place._take_best(_rows_of(session, provider, spot, span, today))
            except SourceError as error:
                place.said.append((provider, str(error)))
        place._settle()
        return place

    @property
    def missing(self) -> tuple[date, ...]:
        return tuple(self.first + timedelta(days=int(i)) for i in np.flatnonzero(self.open))

    def _take_best(self, rows: DayRows) -> None:
        """Take the rows that nothing later can better; keep the whole for a second choice."""
        coming = rows.day >= np.datetime64(self.today)
        fresh = not rows.notice or datetime.now(UTC) - rows.fetched_at <= _FRESH
        self._take(rows, np.where(coming, fresh, rows.observed))
        self.second.append(rows)

    def _take(self, rows: DayRows, wanted: NDArray[np.bool_]) -> None:
        at = (rows.day - np.datetime64(self.first)).astype(np.int64)
        known = ~np.isnan(rows.cells[:, :2]).any(axis=1)
        good = wanted & known & (at >= 0) & (at < len(self.open))
        good[good] = self.open[at[good]]
        if not good.any():
            return
        self.taken.append(rows.take(good))
        self.open[at[good]] = False
        self.credits.append(rows.credit)
        if rows.notice:
            self.notices.append(rows.notice)

    def _settle(self) -> None:
        """Fill what is still open from the second choices, and say what went wrong in one line."""
        for rows in self.second:
            self._take(rows, np.ones(len(rows.day), dtype=bool))
        self.second.clear()  # whole answers, no more needed: of many yards they would pile up
        if self.said:
            first = self.said[0][1]
            others = dict.fromkeys(p.shown for p, _ in self.said[1:] if p.shown not in first)
            self.notices.append(f"{first} (Nor {', '.join(others)}.)" if others else first)
        if self.open.any() and self.shy:
            self.notices.append(
                f"Not asked, for want of a contact to show them: {', '.join(self.shy)}."
            )


def _rows_of(
    session: requests_cache.CachedSession,
    provider: Provider,
    spot: tuple[float, float],
    span: tuple[date, date],
    today: date,
) -> DayRows:
    """Return a service's rows: those read before from an answer still new, else asked for."""
    question = provider.question(spot, span)
    kept = kept_rows(session, question, today=today, provider=provider.shown)
    if kept is not None:
        return kept
    fetched = provider.fetch(
        session,
        latitude=spot[0],
        longitude=spot[1],
        first_day=span[0],
        last_day=span[1],
        today=today,
    )
    rows = DayRows.of(fetched)
    keep_rows(session, question, rows, today=today)
    if not len(rows.day):
        return last_good_rows(session, question, provider=provider.shown) or rows
    return rows


def _table(yards: list[str], parts: list[DayRows]) -> pd.DataFrame:
    """Lay all rows out as one table, yard by yard and day by day."""
    if not parts:
        return pd.DataFrame(columns=["apiary", *COLUMNS])
    sizes = [len(part.day) for part in parts]
    cells = np.concatenate([part.cells for part in parts])
    stamps = np.array([part.fetched_at.replace(tzinfo=None) for part in parts], "datetime64[us]")
    order_of = {yard: i for i, yard in enumerate(dict.fromkeys(yards))}
    day = np.concatenate([part.day for part in parts])
    order = np.lexsort((day, np.repeat([order_of[y] for y in yards], sizes)))
    observed = np.concatenate([part.observed for part in parts])
    words = np.repeat(np.array([part.provider for part in parts], dtype=object), sizes)
    frame = {
        "apiary": pd.Series(np.repeat(np.array(yards, dtype=object), sizes)[order], dtype="str"),
        "date": day.astype("datetime64[us]")[order],
        **{name: cells[order, i] for i, name in enumerate(BOUNDS)},
        "kind": pd.Series(np.where(observed, "observed", "forecast")[order], dtype="str"),
        "provider": pd.Series(words[order], dtype="str"),
        "fetched_at": pd.Series(np.repeat(stamps, sizes)[order]).dt.tz_localize("UTC"),
    }
    return pd.DataFrame(frame)
