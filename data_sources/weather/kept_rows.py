"""Which rows were read from an answer before, and are they still as new as it was?

An answer of a service is read once. Its rows stand beside it in the same file, so that the weather
of many yards comes without reading every answer again.
"""

import json
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import requests_cache
from numpy.typing import NDArray

from data_sources.kept_answers import KeptAnswers, from_the_future
from data_sources.session import age_words
from data_sources.weather.fetched import Fetched
from data_sources.weather.table import BOUNDS

_EPOCH = np.datetime64("1970-01-01", "D")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayRows:
    """Rows of one answer as arrays: `day` (n,), `observed` (n,), `cells` (n, 5) of `BOUNDS`."""

    day: NDArray[np.datetime64]
    observed: NDArray[np.bool_]
    cells: NDArray[np.float64]
    provider: str
    fetched_at: datetime
    credit: str
    notice: str = ""

    @classmethod
    def of(cls, fetched: Fetched) -> "DayRows":
        """Return an adapter's table as arrays."""
        table = fetched.table
        given = table["fetched_at"].max()
        return cls(
            day=table["date"].to_numpy(dtype="datetime64[D]"),
            observed=(table["kind"] == "observed").to_numpy(dtype=bool),
            cells=table[list(BOUNDS)].to_numpy(dtype=np.float64),
            provider=str(table["provider"].iloc[0]) if len(table) else "",
            fetched_at=given.to_pydatetime() if len(table) else datetime.now(UTC),
            credit=fetched.credit,
            notice=fetched.notice,
        )

    def take(self, rows: NDArray[np.bool_]) -> "DayRows":
        """Return some of the rows."""
        return replace(
            self, day=self.day[rows], observed=self.observed[rows], cells=self.cells[rows]
        )


def keep_rows(
    session: requests_cache.CachedSession, question: str, rows: DayRows, *, today: date
) -> None:
    """Keep the rows of a new answer; those of an old one were kept when it was new."""
    if rows.notice or not len(rows.day) or not isinstance(session.cache, KeptAnswers):
        return
    document = {
        "today": today.isoformat(),
        "day": (rows.day - _EPOCH).astype(int).tolist(),
        "observed": rows.observed.astype(int).tolist(),
        "cells": [None if np.isnan(c) else c for c in rows.cells.ravel().tolist()],
        "provider": rows.provider,
        "fetched_at": rows.fetched_at.isoformat(),
        "credit": rows.credit,
    }
    session.cache.keep_text(question, json.dumps(document, allow_nan=False))


def kept_rows(
    session: requests_cache.CachedSession, question: str, *, today: date, provider: str
) -> DayRows | None:
    """Return rows kept today from an answer that is new enough, or of any age when offline."""
    settings = session.settings
    rows, kept_on = _kept(session, question)
    if rows is None:
        return None
    age = datetime.now(UTC) - rows.fetched_at
    lasts = settings.expire_after
    new = isinstance(lasts, timedelta) and age <= lasts and kept_on == today
    if from_the_future(rows.fetched_at) or not (new or settings.only_if_cached):
        return None
    if not new and settings.only_if_cached:
        said = f"{provider} could not be asked: using its answer of {age_words(age)} ago."
        return replace(rows, notice=said)
    return rows


def last_good_rows(
    session: requests_cache.CachedSession, question: str, *, provider: str
) -> DayRows | None:
    """Return what is kept of a service whose new answer says nothing."""
    rows, _ = _kept(session, question)
    if rows is None:
        return None
    age = age_words(datetime.now(UTC) - rows.fetched_at)
    return replace(rows, notice=f"{provider} sent no day at all: using its answer of {age} ago.")


def _kept(
    session: requests_cache.CachedSession, question: str
) -> tuple[DayRows | None, date | None]:
    text = session.cache.kept_text(question) if isinstance(session.cache, KeptAnswers) else None
    try:
        return (None, None) if text is None else _read(text)
    except (ValueError, KeyError, TypeError):
        return None, None  # damaged: the answer itself is read again


def _read(text: str) -> tuple[DayRows, date]:
    document = json.loads(text)
    day = _EPOCH + np.array(document["day"], dtype="timedelta64[D]")
    rows = DayRows(
        day=day,
        observed=np.array(document["observed"], dtype=bool),
        cells=np.array(document["cells"], dtype=np.float64).reshape(len(day), len(BOUNDS)),
        provider=document["provider"],
        fetched_at=datetime.fromisoformat(document["fetched_at"]),
        credit=document["credit"],
    )
    return rows, date.fromisoformat(document["today"])
