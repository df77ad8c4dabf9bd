"""``swarmwatch new``: start records of your own."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.options import RECORDS_DEFAULT, Records

if TYPE_CHECKING:
    from datetime import datetime

    from swarmwatch.records.places import Place

_HOME = "home"


def new(
    *,
    records: Records = RECORDS_DEFAULT,
    apiary: Annotated[
        str | None, typer.Option("--apiary", metavar="NAME", help="Name of your yard.")
    ] = None,
    place: Annotated[
        str | None,
        typer.Option(
            "--place",
            metavar="LAT,LON",
            help="Where it is: degrees north and east, such as 60.17,24.94.",
        ),
    ] = None,
    swarm_chance: Annotated[
        float | None,
        typer.Option(
            "--swarm-chance",
            min=0.01,
            max=0.99,
            help="Usual share of your colonies that swarm in a year, such as 0.3.",
        ),
    ] = None,
) -> None:
    """Start new records; asks for your yard on a terminal, else takes options and defaults.

    Records that are there already are never written over.

    Example: swarmwatch new --apiary home --place 60.17,24.94
    """
    from datetime import datetime

    from swarmwatch.errors import UsageError
    from swarmwatch.evidence import load_evidence
    from swarmwatch.records import records_exist
    from swarmwatch.records.engine import address_of, shown
    from swarmwatch.records.places import parse_place

    if records_exist(records):
        message = (
            f"{shown(address_of(records))}: records are there already, and stay as they are. "
            "Give another path with --records, or bring files with `swarmwatch import`."
        )
        raise UsageError(message)
    asks = sys.stdin.isatty()
    usual = load_evidence().value("season.yearly_chance_inspected")
    spot = parse_place(place) if place is not None else _ask_place() if asks else None
    if spot is not None and apiary is None:
        apiary = typer.prompt("Name of your yard", default=_HOME, err=True) if asks else _HOME
    if swarm_chance is None:
        swarm_chance = _ask_chance(usual) if asks else usual
        if not asks:
            complain(f"Usual share of colonies that swarm in a year: {usual:g}, the default.")
    _make(records, apiary, spot, swarm_chance, datetime.now().astimezone())


def _ask_place() -> "Place | None":
    from swarmwatch.errors import UsageError
    from swarmwatch.records.places import parse_place

    while True:
        question = "Where is your yard? Degrees north,east, such as 60.17,24.94 (Enter: later)"
        text = typer.prompt(question, default="", show_default=False, err=True)
        if not text.strip():
            return None
        try:
            found = parse_place(text)
        except UsageError as error:
            complain(str(error))
            continue
        if typer.confirm(f"That is {found}. Right?", default=True, err=True):
            return found


def _ask_chance(usual: float) -> float:
    question = "Of 10 of your colonies, how many swarm in a usual year?"
    while True:
        of_ten: float = typer.prompt(question, default=10 * usual, type=float, err=True)
        if 0 < of_ten < 10:
            return of_ten / 10
        complain("Write a number between 0 and 10, such as 3.")


def _make(
    records: str, apiary: str | None, spot: "Place | None", swarm_chance: float, now: "datetime"
) -> None:
    import pandas as pd

    from swarmwatch.records import open_records

    with open_records(records, create=True) as opened:
        opened.set_setting("yearly_swarm_chance", f"{swarm_chance:g}")
        if spot is not None:
            yard = pd.DataFrame(
                {"apiary": [apiary], "latitude": [spot.latitude], "longitude": [spot.longitude]}
            )
            opened.store({"apiaries": yard}, at=now, by="new")
            complain(f"Yard '{apiary}' at {spot}.")
        else:
            complain("No yard yet: say where with --place, or import apiaries.csv.")
        typer.echo(opened.location)
    complain("Next: swarmwatch import colonies.csv, or swarmwatch inspect COLONY.")
