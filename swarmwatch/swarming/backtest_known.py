"""What was known on the evening of a past day? Records stripped of everything that came later."""

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from swarmwatch.tables import TABLES, conform, empty

Tables = Mapping[str, pd.DataFrame]
USED = ("apiaries", "colonies", "inspections", "events", "weather", "hives", "outcomes")


def conformed(tables: Tables) -> dict[str, pd.DataFrame]:
    """Conform the tables that a backtest reads; one that is missing comes back empty.

    Raises
    ------
    RecordsError
        Cells that can't be read.
    """
    return {
        name: conform(tables[name], TABLES[name]) if name in tables else empty(TABLES[name])
        for name in USED
    }


def joined(parts: Sequence[Tables]) -> dict[str, pd.DataFrame]:
    """Return the tables of some seasons, each of the same names, as one keeper's records."""
    return {
        name: pd.concat([part[name] for part in parts])
        .drop_duplicates(list(TABLES[name].key))
        .reset_index(drop=True)
        for name in parts[0]
    }


def known_on(tables: Tables, on: dt.date) -> dict[str, pd.DataFrame]:
    """Return the tables as they may have stood on the evening `on`.

    Parameters
    ----------
    tables
        Of `conformed`.
    on
        The evening.

    Returns
    -------
    The same tables without ``outcomes``: no row that came later, and no cell of ``colonies`` that
    tells of a later swarm.

    Notes
    -----
    The colonies table is of today. A queen of the year replayed, or of a later one, may be the
    very queen that a swarm left behind: her year is blanked, unless the colony was hived that year
    (a queen given by the keeper is an event, and that one counts). ``swarmed_last_year`` speaks of
    the year before the newest inspection; for an earlier season the outcomes of the year before
    it take its place. A forecast counts if it was fetched by then; one without ``fetched_at``
    can't be shown to have been, and counts only up to its own day.
    """
    evening = pd.Timestamp(on)
    known = {
        name: tables[name][tables[name]["date"] <= evening] for name in ("inspections", "events")
    }
    return {
        "apiaries": tables["apiaries"],
        "hives": tables["hives"],
        "colonies": _colonies(tables, on),
        "weather": _weather(tables["weather"], evening),
        **known,
    }


def _weather(weather: pd.DataFrame, evening: pd.Timestamp) -> pd.DataFrame:
    fetched = weather["fetched_at"].dt.tz_localize(None).dt.normalize()
    forecast = (weather["kind"] == "forecast").fillna(value=False)
    usual = (weather["kind"] == "normal").fillna(value=False)
    in_time = (fetched <= evening).fillna(value=False)
    keep = (weather["date"] <= evening) | usual | (forecast & in_time)
    return weather.iloc[np.flatnonzero(keep)]


def _colonies(tables: Tables, on: dt.date) -> pd.DataFrame:
    colonies = tables["colonies"].copy()
    begun = colonies["started"]
    colonies = colonies[~(begun > pd.Timestamp(on)).fillna(value=False)].copy()
    hived_then = (colonies["started"].dt.year == on.year).fillna(value=False)
    too_new = (colonies["queen_year"] > on.year) | (
        (colonies["queen_year"] == on.year) & ~hived_then
    )
    colonies.loc[too_new.fillna(value=False), "queen_year"] = pd.NA
    newest = tables["inspections"]["date"].max()
    if pd.notna(newest) and on.year < newest.year:
        colonies["swarmed_last_year"] = _swarmed_in(
            tables["outcomes"], colonies["colony"], on.year - 1
        ).astype(colonies["swarmed_last_year"].dtype)
    return colonies.reset_index(drop=True)


def _swarmed_in(outcomes: pd.DataFrame, colonies: pd.Series, year: int) -> pd.Series:
    then = outcomes[outcomes["season"] == year].drop_duplicates("colony", keep="last")
    words = then.set_index("colony")["outcome"].map({"swarmed": "yes", "no-swarm": "no"})
    return pd.Series(words.reindex(colonies).to_numpy(dtype=object), index=colonies.index)
