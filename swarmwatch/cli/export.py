"""``swarmwatch export``: write the records as CSV files, one a table."""

from pathlib import Path
from typing import Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.options import RECORDS_DEFAULT, Force, Records


def export(
    *,
    to: Annotated[Path, typer.Option("--to", metavar="FOLDER", help="Where to write the files.")],
    records: Records = RECORDS_DEFAULT,
    force: Force = False,
) -> None:
    """Write every table of your records as a CSV file, which `import` reads back as it was.

    A text that a spreadsheet would run as a formula gets a quote before it; the import takes it
    off again.

    Example: swarmwatch export --to my-records
    """
    from swarmwatch.records import open_records
    from swarmwatch.records.exporting import write_folder

    with open_records(records) as opened:
        frames = opened.frames()
        notes = opened.count_extra_notes()
        place = opened.location
    for path in write_folder(frames, to, force=force):
        typer.echo(f"{path}  {len(frames[path.stem])} rows")
    if notes:
        complain(f"Not exported: extra notes from unknown columns, {notes}, which stay in {place}.")
