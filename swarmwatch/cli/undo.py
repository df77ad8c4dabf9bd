"""``swarmwatch undo``: take back what was done last."""

from typing import Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.options import RECORDS_DEFAULT, Records


def undo(
    number: Annotated[
        int | None,
        typer.Argument(
            metavar="[NUMBER]",
            help="The action, as `swarmwatch log` numbers it.",
            show_default=False,
        ),
    ] = None,
    *,
    records: Records = RECORDS_DEFAULT,
) -> None:
    """Take back the last import, note or box check: rows it added go, those it changed return.

    Nothing is lost: what goes is kept with the corrections, and an undo can be undone by its own
    number. Fetched weather and sent alerts are not taken back.

    Example: swarmwatch undo
    """
    from datetime import datetime

    from swarmwatch.cli.log import told
    from swarmwatch.records import open_records
    from swarmwatch.records.history import undo as take_back

    with open_records(records) as store:
        done = take_back(store, at=datetime.now().astimezone(), number=number)
    typer.echo(
        f"Taken back: {told(done.action)}\n"
        f"{_rows(done.removed)} removed, {_rows(done.put_back)} as before."
    )
    complain("`swarmwatch log` shows the number that undoes this.")


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"
