"""``swarmwatch backup``: keep a checked copy of the records."""

from pathlib import Path
from typing import Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.options import RECORDS_DEFAULT, Force, Records


def backup(
    *,
    to: Annotated[
        Path,
        typer.Option("--to", metavar="FILE_OR_FOLDER", help="The copy, or a folder to put it in."),
    ],
    records: Records = RECORDS_DEFAULT,
    force: Force = False,
) -> None:
    """Copy the records to one file, checked before it gets its name.

    In a folder the copy is named by the moment, so none replaces another. Keep copies on another
    disk than the records. `swarmwatch restore` puts one back.

    Example: swarmwatch backup --to copies
    """
    from datetime import datetime

    from swarmwatch.records.backup import write_backup
    from swarmwatch.records.copies import backup_name

    folder = to.is_dir() or not to.suffix
    place = to / backup_name(datetime.now().astimezone()) if folder else to
    typer.echo(f"Copied and checked: {write_backup(records, place, force=force)}")
    complain("A copy on the same disk is lost with it: keep one elsewhere, too.")
