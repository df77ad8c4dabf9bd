"""``swarmwatch log``: what was done to the records, and who was told what."""

from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Records

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.records.history import Action

_MINUTE = "%Y-%m-%d %H:%M"


def log(
    *,
    last: Annotated[
        int, typer.Option("--last", min=1, metavar="N", help="How many lines, the newest first.")
    ] = 20,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
) -> None:
    """Show what was done: each import, note, box check, fetch and undo, and each alert sent.

    A line with a number can be taken back with `swarmwatch undo NUMBER`.

    Example: swarmwatch log --last 5
    """
    import pandas as pd

    from swarmwatch.records import open_records
    from swarmwatch.records.history import actions

    with open_records(records) as store:
        done, alerts = actions(store), store.alerts()
    rows = _rows(done, alerts).head(last)
    if as_json:
        print_json("log", rows)
        return
    if rows.empty:
        typer.echo("Nothing was done to these records yet.")
    for number, at, what in zip(
        rows["number"], rows["at"].dt.to_pydatetime(), rows["what"], strict=True
    ):
        typer.echo(f"{'' if pd.isna(number) else number:>5}  {at.astimezone():{_MINUTE}}  {what}")


def told(action: "Action") -> str:
    """Say an action in a line."""
    counts: dict[str, list[int]] = {}
    for table, new, corrected in action.tables:
        known = counts.setdefault(table, [0, 0])
        known[0] += new
        known[1] += corrected
    parts = [
        f"{table} "
        + " and ".join(f"{n} {word}" for n, word in ((new, "new"), (other, "changed")) if n)
        for table, (new, other) in counts.items()
    ]
    return f"{action.by}: {', '.join(parts)}"


def _rows(done: "list[Action]", alerts: "pd.DataFrame") -> "pd.DataFrame":
    """Return one row a line, the newest first: ``at``, ``number``, ``what``."""
    import pandas as pd

    lines: list[tuple[object, int | None, str]] = []
    for action in done:
        back = action.undone_at
        gone = f" (taken back {back.astimezone():{_MINUTE}})" if back else ""
        lines.append((action.at, action.number if action.undoable else None, told(action) + gone))
    sent = alerts[alerts["sent_at"].notna()]
    lines += [
        (row["sent_at"], None, f"alert, {row['level']}, through {row['channel']}: {row['text']}")
        for row in sent.to_dict("records")
    ]
    frame = pd.DataFrame(lines, columns=["at", "number", "what"])
    frame = frame.assign(
        at=pd.to_datetime(frame["at"], utc=True), number=frame["number"].astype("Int64")
    )
    return frame.sort_values("at", ascending=False, kind="stable").reset_index(drop=True)
