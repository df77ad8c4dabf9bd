"""The verb `weather`: fetch each yard's weather from an open service and keep it."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.options import RECORDS_DEFAULT, Records

if TYPE_CHECKING:
    import pandas as pd


def weather(
    *,
    apiary: Annotated[
        list[str] | None,
        typer.Option("--apiary", metavar="NAME", help="Only this yard; may be given again."),
    ] = None,
    offline: Annotated[
        bool, typer.Option("--offline", help="Ask nobody: use the answers kept from before.")
    ] = False,
    server: Annotated[
        str | None,
        typer.Option("--server", metavar="URL", help="Another address of the same service."),
    ] = None,
    records: Records = RECORDS_DEFAULT,
) -> None:
    """Fetch the last three months and the forecast of each yard, and keep them in the records.

    The yard's coordinates are sent rounded to about a kilometre. Without a network the last good
    answer is used, and its age is said; with none the score falls back on the usual weather of
    the place. Your own station's table comes in with `swarmwatch import`.

    Example: swarmwatch weather --apiary "Long Rye" --offline
    """
    from data_sources.session import open_session
    from data_sources.weather.open_meteo import CREDIT, FORECAST_URL
    from data_sources.weather.places import fetch_for_places
    from swarmwatch.records import open_records

    with open_records(records) as store:
        places = _places(store.frame("apiaries"), apiary or [])
        with open_session(_cache_file(), offline=offline) as session:
            table, notices = fetch_for_places(session, places, base_url=server or FORECAST_URL)
        for line in notices:
            complain(line)
        if table is None:
            complain("No weather came. The score uses the usual weather of the place meanwhile.")
            raise typer.Exit(1)
        known = table.dropna(subset=["temp_max_c", "temp_min_c"])
        stored = store.store({"weather": known}, at=datetime.now().astimezone(), by="weather")
    complain(CREDIT)
    counts = stored["weather"]
    typer.echo(
        f"Weather of {len(places)} yard(s): {counts.new} days new, {counts.corrected} renewed, "
        f"{counts.unchanged} as before."
    )


def _places(apiaries: "pd.DataFrame", wanted: list[str]) -> dict[str, tuple[float, float]]:
    from difflib import get_close_matches

    from swarmwatch.errors import UsageError

    names = list(apiaries["apiary"])
    if not names:
        message = (
            "The records hold no yard, so there is no place to ask the weather of. "
            "Add one with `swarmwatch new` or `swarmwatch import apiaries.csv`."
        )
        raise UsageError(message)
    for name in wanted:
        if name not in names:
            near = get_close_matches(name, names, n=3, cutoff=0.0)
            message = f"There is no yard {name!r} in the records. Is it {' or '.join(near)}?"
            raise UsageError(message)
    spots = zip(
        names,
        apiaries["latitude"].to_numpy(dtype=float),
        apiaries["longitude"].to_numpy(dtype=float),
        strict=True,
    )
    return {
        name: (float(latitude), float(longitude))
        for name, latitude, longitude in spots
        if not wanted or name in wanted
    }


def _cache_file() -> Path:
    import os

    from platformdirs import user_cache_path

    own = os.environ.get("SWARMWATCH_CACHE")
    return (Path(own) if own else user_cache_path("swarmwatch")) / "weather-answers.sqlite"
