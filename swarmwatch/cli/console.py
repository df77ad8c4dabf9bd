"""How do results and complaints reach the terminal?"""

import json
import sys
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import typer

from swarmwatch.evening import last_evening

if TYPE_CHECKING:
    import pandas as pd


def complain(text: str) -> None:
    """Write a plain line to stderr, where warnings and errors go."""
    typer.echo(text, err=True)


def evening_on(now: datetime, asked: date | None) -> date:
    """Return the day whose evening a command speaks of: `asked`, or the last evening before `now`.

    Times are local: `now` carries the machine's zone.
    """
    if asked is not None:
        return asked
    return last_evening(now)


def parse_day(text: str | None, option: str) -> date | None:
    """Read an ISO date given to `option`; refuse every other form by name."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        message = f"{text!r} is not a date. Write year-month-day, such as 2026-05-14"
        raise typer.BadParameter(message, param_hint=option) from None


def print_json(kind: str, frame: "pd.DataFrame", **more: object) -> None:
    """Write one JSON document: its `schema` name, the rows, and whatever the verb adds."""
    rows: list[dict[str, Any]] = json.loads(
        frame.to_json(orient="records", date_format="iso", date_unit="s", double_precision=6)
    )
    document = {"schema": f"swarmwatch/{kind}/1", "rows": rows, **more}
    json.dump(document, sys.stdout, ensure_ascii=False, indent=2, allow_nan=False, default=str)
    sys.stdout.write("\n")
