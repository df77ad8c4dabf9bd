"""``swarmwatch inspect``: write down one inspection, whole or in part."""

import inspect
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, parse_day
from swarmwatch.cli.options import RECORDS_DEFAULT, Records

# plain Python: these load no pandas, and every column of the table is an option
from swarmwatch.tables.inputs import INSPECTIONS
from swarmwatch.tables.model import Column

if TYPE_CHECKING:
    from collections.abc import Iterable

    from swarmwatch.records.importing import Checked

_SUSPECT = (
    "The brood may be sick. Stop and close up; move no bees, comb, boxes or tools; clean tools and "
    "gloves; call your bee inspector."
)


def _with_columns(verb: Callable[..., None]) -> Callable[..., None]:
    """Give `verb` an option for each column of an inspection in place of its ``**seen``."""
    signature = inspect.signature(verb)
    fixed = [p for p in signature.parameters.values() if p.kind is not p.VAR_KEYWORD]
    columns = [
        inspect.Parameter(
            column.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=None,
            annotation=Annotated[str | None, _option(column)],
        )
        for column in INSPECTIONS.columns
        if column.name not in INSPECTIONS.key
    ]
    both = [*fixed, *columns]
    verb.__signature__ = signature.replace(parameters=both)  # type: ignore[attr-defined] # typer reads it
    verb.__annotations__ = {p.name: p.annotation for p in both}
    return verb


def _option(column: Column) -> object:
    shape = "|".join(column.words) or {"number": "NUMBER", "count": "NUMBER"}.get(
        column.kind, "TEXT"
    )
    return typer.Option(
        f"--{column.name.replace('_', '-')}", metavar=shape, help=f"{column.meaning}."
    )


@_with_columns
def inspect_colony(
    colony: Annotated[str, typer.Argument(help="The colony that you opened.")],
    *,
    records: Records = RECORDS_DEFAULT,
    on: Annotated[
        str | None, typer.Option("--date", metavar="DATE", help="Day; default: today.")
    ] = None,
    visit: Annotated[
        int, typer.Option("--visit", min=1, max=9, help="2 for the day's second inspection.")
    ] = 1,
    accept_unlikely: Annotated[
        bool, typer.Option("--accept-unlikely", help="Keep values that are unlikely but possible.")
    ] = False,
    **seen: str | None,
) -> None:
    """Write down one inspection; what you leave out stays "not looked".

    Without options it asks on a terminal, Enter skips a question. A note on the same day is added
    to that day's first inspection; a second inspection is --visit 2.

    Example: swarmwatch inspect Anvil --combs-bees 8 --eggs-seen yes
    """
    from datetime import datetime

    from swarmwatch.cli.import_tables import confirmed
    from swarmwatch.errors import UsageError
    from swarmwatch.records import open_records
    from swarmwatch.records.importing import check_reads, refuse_faults, store_checked
    from swarmwatch.records.inspecting import colony_row, has_bars, questions
    from swarmwatch.records.noting import noted_cells, one_note

    now = datetime.now().astimezone()
    day = parse_day(on, "--date") or now.date()
    answers = {n: v for n, v in seen.items() if v is not None}
    asks = not answers and sys.stdin.isatty()
    with open_records(records) as opened:
        stored = opened.frames()
        row = colony_row(stored["colonies"], colony)
        name = str(row["colony"])
        bars = has_bars(row, stored["hives"])
        key = {"colony": name, "date": day.isoformat(), "visit": str(visit)}
        with opened.reading() as connection:
            noted = noted_cells(connection, "inspections", key)
        if asks:
            complain(f"{name}, {day}. Enter skips a question; 0 or none: looked, found none.")
            answers = _ask(questions(bars=bars), bars=bars)

        def check(found: dict[str, str]) -> "Checked":
            if not found:
                message = "nothing was seen. Say what, such as --combs-bees 8 --eggs-seen yes."
                raise UsageError(message)
            # what was noted that day already is checked with what was seen now
            read = one_note("inspections", key, {**noted, **found})
            return check_reads([read], stored, today=now.date())

        checked = check(answers)
        if asks:
            answers, checked = _mended(answers, checked, check, bars=bars)
            accept_unlikely = accept_unlikely or confirmed(checked.doubts)
        refuse_faults(checked, accept_unlikely=accept_unlikely)
        done = store_checked(opened, checked, at=now, by="inspect")["inspections"]
    kept = "noted" if done.new else "added to" if done.corrected else "already noted"
    typer.echo(f"{name}, {day}, visit {visit}: {kept}.")
    if answers.get("brood_health", "").strip().lower() in {"unsure", "suspect"}:
        complain(_SUSPECT)


def _ask(columns: "Iterable[str]", *, bars: bool) -> dict[str, str]:
    from swarmwatch.records.inspecting import fault_of, meaning

    answers = {}
    for column in columns:
        words = "/".join(INSPECTIONS.column(column).words)
        question = meaning(column, bars=bars) + (f" ({words})" if words else "")
        while True:
            answer = typer.prompt(question, default="", show_default=False, err=True).strip()
            fault = fault_of(column, answer) if answer else ""
            if not fault:
                break
            complain(fault)
        if answer:
            answers[column] = answer
    return answers


def _mended(
    answers: dict[str, str],
    checked: "Checked",
    check: "Callable[[dict[str, str]], Checked]",
    *,
    bars: bool,
) -> "tuple[dict[str, str], Checked]":
    """Ask again for answers that don't go together, so that the others are not lost."""
    while checked.faults:
        for fault in checked.faults:
            complain(str(fault))
        columns = dict.fromkeys(fault.column for fault in checked.faults)
        others = {n: v for n, v in answers.items() if n not in columns}
        again = others | _ask(columns, bars=bars)
        if again == answers:
            break
        answers, checked = again, check(again)
    return answers, checked
