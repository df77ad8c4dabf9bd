"""The verb `weather`: fetch each yard's weather from open services and keep it."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Records
from swarmwatch.cli.weather_file import (
    ISO_DAY,
    DateFormat,
    Headings,
    Station,
    StationFile,
    Units,
    bring_in,
)

if TYPE_CHECKING:
    import pandas as pd

Contact = Annotated[
    str | None,
    typer.Option(
        "--contact",
        envvar="SWARMWATCH_CONTACT",
        metavar="ADDRESS",
        help="Your mail or web address, shown to the services; some answer nobody else.",
    ),
]
Offline = Annotated[
    bool, typer.Option("--offline", help="Ask nobody: use the answers kept from before.")
]
# the service of open_meteo.py for those who pay for it; its key comes from the environment
_PAID_HOSTS = (
    "customer-api.open-meteo.com",
    "customer-archive-api.open-meteo.com",
    "customer-ensemble-api.open-meteo.com",
)


def weather(
    *,
    apiary: Annotated[
        list[str] | None,
        typer.Option("--apiary", metavar="NAME", help="Only this yard; may be given again."),
    ] = None,
    status: Annotated[
        bool,
        typer.Option(
            "--status", help="Ask nobody: say how old each yard's weather is, whose, and its gaps."
        ),
    ] = False,
    offline: Offline = False,
    provider: Annotated[
        list[str] | None,
        typer.Option(
            "--provider",
            metavar="NAME",
            help="Ask only this service; may be given again, first come first asked.",
        ),
    ] = None,
    contact: Contact = None,
    server: Annotated[
        str | None,
        typer.Option("--server", metavar="URL", help="Another address of Open-Meteo's service."),
    ] = None,
    file: StationFile = None,
    column: Headings = None,
    unit: Units = None,
    date_format: DateFormat = ISO_DAY,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
) -> None:
    """Fetch the last three months and the forecast of each yard, and keep them in the records.

    Open-Meteo is asked first, others where it fails or has a gap; each day is one service's
    alone. Coordinates are sent rounded to about a kilometre. Without a network the last good
    answer is used, and its age is said; with none the score falls back on the usual weather of
    the place. Your own station's table comes in with --file, whatever its columns are called.

    Example: swarmwatch weather --apiary "Long Rye" --offline
    """
    from datetime import datetime

    from swarmwatch.cli.weather_status import show_status
    from swarmwatch.records import open_records

    now = datetime.now().astimezone()
    with open_records(records) as store:
        yards = _yards(store.frame("apiaries"), apiary or [])
        if status:
            show_status(store, yards, now=now, as_json=as_json)
            return
        if file is not None:
            station = Station(
                path=file, headings=column or [], units=unit or [], date_format=date_format
            )
            rows, said = bring_in(station, store, yards, now=now)
            _show(rows, said, as_json=as_json)
            return
        from data_sources.session import open_session
        from swarmwatch.cli.weather_fetching import Fetching

        with open_session(
            kept_file("weather-answers.sqlite"),
            offline=offline,
            user_agent=user_agent(contact),
            keys=_keys(),
        ) as session:
            fetching = Fetching(
                session=session, store=store, yards=yards, now=now, server=server, offline=offline
            )
            fetched = fetching.run(provider or [])
        for line in fetched.lines:
            complain(line)
        _show(fetched.table, fetched.said, as_json=as_json)


def _show(table: "pd.DataFrame", said: str, *, as_json: bool) -> None:
    if as_json:
        from swarmwatch.cli.console import print_json

        print_json("weather", table)
    elif said:
        typer.echo(said)


def _yards(apiaries: "pd.DataFrame", wanted: list[str]) -> "pd.DataFrame":
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
    return apiaries[apiaries["apiary"].isin(wanted or names)].reset_index(drop=True)


def user_agent(contact: str | None) -> str:
    """Return what a service sees of who asks."""
    from data_sources.session import USER_AGENT
    from swarmwatch import __version__

    # a line break in a header would be a second header
    told = " ".join((contact or "").split())
    return f"swarmwatch/{__version__} ({told})" if told else USER_AGENT


def _keys() -> dict[str, tuple[str, str]]:
    import os

    key = os.environ.get("SWARMWATCH_OPEN_METEO_KEY", "")
    return dict.fromkeys(_PAID_HOSTS, ("apikey", key)) if key else {}


def kept_file(name: str) -> Path:
    """Return where answers are kept, by the keeper's wish or in the user's own cache folder."""
    import os

    from platformdirs import user_cache_path

    own = os.environ.get("SWARMWATCH_CACHE")
    return (Path(own) if own else user_cache_path("swarmwatch")) / name
