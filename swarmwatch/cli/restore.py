"""``swarmwatch restore``: put a copy of the records back."""

from pathlib import Path
from typing import Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.options import RECORDS_DEFAULT, Records


def restore(
    backup: Annotated[
        Path,
        typer.Argument(
            metavar="FILE_OR_FOLDER", help="A copy that `backup` made; of a folder the newest."
        ),
    ],
    *,
    records: Records = RECORDS_DEFAULT,
) -> None:
    """Put a copy in the place of the records; the records of now are kept beside it.

    Close other programs that have the records open. A damaged or foreign copy is refused and
    nothing is changed.

    Example: swarmwatch restore copies
    """
    from datetime import datetime

    from swarmwatch.records.backup import restore_backup
    from swarmwatch.records.copies import newest_backup

    copy = newest_backup(backup) if backup.is_dir() else backup
    done = restore_backup(copy, records, at=datetime.now().astimezone())
    typer.echo(f"Put back: {done.records} is now as in {copy}")
    if done.damaged:
        complain(f"The damaged records are kept: {done.aside}")
    elif done.aside is not None:
        complain(f"The records of before are kept: {done.aside}")
