"""The keeper's own weather station: a table of any headings and units, for the verb `weather`."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from datetime import datetime

    import pandas as pd

    from swarmwatch.records import Records

StationFile = Annotated[
    Path | None,
    typer.Option(
        "--file",
        metavar="FILE",
        help="Ask nobody: bring in your own station's table, CSV or XLSX, for one yard.",
    ),
]
Headings = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="NAME=HEADING",
        help="What the file calls a column, such as temp_max_c=High; may be given again.",
    ),
]
Units = Annotated[
    list[str] | None,
    typer.Option(
        "--unit",
        metavar="NAME=UNIT",
        help="What it is measured in, such as temp_max_c=F or rain_mm=in; may be given again.",
    ),
]
DateFormat = Annotated[
    str,
    typer.Option(
        "--date-format", metavar="FORMAT", help="How the file writes days, such as %m/%d/%Y."
    ),
]
ISO_DAY = "%Y-%m-%d"


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A station's file, and how to read it: our names to its headings and to its units."""

    path: Path
    headings: Sequence[str]
    units: Sequence[str]
    date_format: str

    def rows(self, yard: str) -> "pd.DataFrame":
        """Return its days as rows of the table `weather`.

        Raises
        ------
        UsageError
            A heading or unit that is not written as NAME=WORD.
        SourceError
            The file can't be read, or holds what can't be weather: every fault by row.
        """
        from data_sources.weather.file import read_weather_file

        table = read_weather_file(
            self.path,
            columns=_pairs(self.headings, "--column", "temp_max_c=High"),
            units=_pairs(self.units, "--unit", "temp_max_c=F"),
            date_format=self.date_format,
        )
        return table.assign(apiary=yard)


def bring_in(
    station: Station, store: "Records", yards: "pd.DataFrame", *, now: "datetime"
) -> tuple["pd.DataFrame", str]:
    """Write a station's days into the records; return them, and what was done in words.

    Raises
    ------
    UsageError
        More than one yard is meant.
    SourceError
        As for `Station.rows`.
    """
    from swarmwatch.errors import UsageError

    names = list(yards["apiary"])
    if len(names) != 1:
        message = f"--file is one station's: say with --apiary which yard of {', '.join(names)}."
        raise UsageError(message)
    rows = station.rows(names[0])
    done = store.store({"weather": rows}, at=now, by=station.path.name)["weather"]
    said = (
        f"Weather of {names[0]} from {station.path.name}: {done.new} days new, "
        f"{done.corrected} corrected, {done.unchanged} as before."
    )
    return rows, said


def _pairs(texts: Sequence[str], option: str, such_as: str) -> dict[str, str]:
    from swarmwatch.errors import UsageError

    found = {}
    for text in texts:
        name, equals, word = text.partition("=")
        if not (equals and name.strip() and word.strip()):
            message = f"{option} {text!r} is not NAME=WORD. Write it as {such_as}."
            raise UsageError(message)
        found[name.strip()] = word.strip()
    return found
