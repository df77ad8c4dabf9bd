"""Options that several verbs share."""

from pathlib import Path
from typing import Annotated

import typer

Records = Annotated[
    str,
    typer.Option(
        "--records",
        envvar="SWARMWATCH_RECORDS",
        metavar="PATH_OR_URL",
        help="Where the records are: a file, or a database address.",
    ),
]
RECORDS_DEFAULT = "swarmwatch.sqlite"
On = Annotated[
    str | None,
    typer.Option(
        "--on", metavar="DATE", help="The evening to speak of; default: the last one that passed."
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of text.")]
OwnEvidence = Annotated[
    Path | None,
    typer.Option("--evidence", metavar="FILE", help="Your own numbers, a TOML file."),
]
Force = Annotated[bool, typer.Option("--force", help="Write over files that exist.")]
Paper = Annotated[str, typer.Option("--paper", metavar="a4|letter", help="Size of the sheets.")]
PAPER = "a4"
