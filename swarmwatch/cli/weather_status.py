"""How old is each yard's kept weather, whose is it, and which days are missing?"""

from collections.abc import Hashable
from datetime import datetime, timedelta
from typing import Any

import pandas as pd
import typer

from swarmwatch.cli.console import print_json
from swarmwatch.records import Records

_BACK_D = 92  # what a fetch looks back on
_SHOWN = 3
_DAY_S = 86_400


def show_status(store: Records, yards: pd.DataFrame, *, now: datetime, as_json: bool) -> None:
    """Print the state of each yard's weather, read from the records alone."""
    state = weather_state(store.frame("weather"), list(yards["apiary"]), now=now)
    if as_json:
        print_json("weather-status", state)
        return
    for row in state.to_dict(orient="records"):
        typer.echo(f"{row['apiary']}: {_sentence(row)}")


def weather_state(weather: pd.DataFrame, yards: list[str], *, now: datetime) -> pd.DataFrame:
    """Say what is kept of each yard's weather.

    Parameters
    ----------
    weather
        Conformed table ``weather``; rows without a yard serve every yard.
    yards
        Names, in this order.
    now
        The moment, with its zone.

    Returns
    -------
    One row a yard: ``apiary``, ``provider`` (of the newest observed day, else of the forecast),
    ``observed_to``, ``forecast_to``, ``fetched_at`` (UTC), ``age_d`` [d], ``gaps`` (days of the
    last three months without an observed row), ``gap_days`` (their dates, the first few) and
    ``normal`` (what the usual weather rests on).
    """
    return pd.DataFrame([_of_yard(weather, yard, now) for yard in yards])


def _of_yard(weather: pd.DataFrame, yard: str, now: datetime) -> dict[str, object]:
    rows = weather[(weather["apiary"] == yard).fillna(value=False) | weather["apiary"].isna()]
    today = pd.Timestamp(now.date())
    normal = rows[(rows["kind"] == "normal").fillna(value=False)]
    daily = rows.drop(index=normal.index)
    ahead = (daily["kind"] == "forecast").fillna(value=False)
    seen, said = daily[~ahead & (daily["date"] <= today)], daily[ahead]
    fetched = daily["fetched_at"].max()
    span = pd.date_range(today - timedelta(days=_BACK_D), today - timedelta(days=1))
    gaps = span[~span.isin(seen["date"])]
    newest = seen if len(seen) else said
    providers = newest.sort_values("date")["provider"].dropna()
    return {
        "apiary": yard,
        "provider": providers.iloc[-1] if len(providers) else None,
        "observed_to": _day(seen["date"]),
        "forecast_to": _day(said["date"]),
        "fetched_at": None if pd.isna(fetched) else fetched.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "age_d": None if pd.isna(fetched) else _age_d(now, fetched),
        "gaps": len(gaps),
        "gap_days": ", ".join(f"{d:%Y-%m-%d}" for d in gaps[:_SHOWN]),
        "normal": _normal(normal),
    }


def _age_d(now: datetime, fetched: pd.Timestamp) -> float:
    seconds = (now - fetched.to_pydatetime()).total_seconds()
    return round(seconds / _DAY_S, 2)


def _day(days: pd.Series) -> str | None:
    return None if days.empty else f"{days.max():%Y-%m-%d}"


def _normal(rows: pd.DataFrame) -> str:
    words = rows["provider"].dropna()
    if len(words):
        return str(words.iloc[0])
    return "own table" if len(rows) else "none kept: from the observed years, else the latitude"


def _sentence(row: dict[Hashable, Any]) -> str:
    if pd.isna(row["observed_to"]) and pd.isna(row["forecast_to"]):
        return f"no weather kept. Usual weather: {row['normal']}."
    parts = [
        f"{word} to {row[column] if not pd.isna(row[column]) else 'no day'}"
        for word, column in (("observed", "observed_to"), ("forecast", "forecast_to"))
    ]
    if not pd.isna(row["age_d"]):
        from data_sources.session import age_words  # late: requests is slow to load

        parts.append(f"fetched {age_words(timedelta(days=row['age_d']))} ago")
    said = f"{', '.join(parts)} ({_who(row)})."
    if row["gaps"]:
        more = " ..." if row["gaps"] > _SHOWN else ""
        said += f" {row['gaps']} of the last {_BACK_D} days not observed: {row['gap_days']}{more}."
    return f"{said} Usual weather: {row['normal']}."


def _who(row: dict[Hashable, Any]) -> str:
    return "no provider named" if pd.isna(row["provider"]) else str(row["provider"])
