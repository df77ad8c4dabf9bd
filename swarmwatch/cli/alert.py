"""``swarmwatch alert``: tell the keeper, once, when something crosses a line."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.alert_options import Digest, Quiet, Through, going_out, held_words
from swarmwatch.cli.console import complain, evening_on, parse_day, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Force, On, OwnEvidence, Records

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from swarmwatch.alerts.alerting import Alerted
    from swarmwatch.alerts.channels import Channel, Message
    from swarmwatch.alerts.thresholds import Standing


def alert(
    *,
    records: Records = RECORDS_DEFAULT,
    on: On = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show what would be raised; write and send nothing.")
    ] = False,
    calendar: Annotated[
        Path | None,
        typer.Option("--calendar", metavar="FILE.ics", help="Write what is due as a calendar."),
    ] = None,
    channel: Through = None,
    quiet_hours: Quiet = None,
    digest: Digest = None,
    test: Annotated[
        bool,
        typer.Option(
            "--test", help="Send a word of trial through each --channel, and nothing else."
        ),
    ] = False,
    lowest: Annotated[
        str,
        typer.Option(
            envvar="SWARMWATCH_ALERT_LOWEST",
            metavar="LEVEL",
            help="Alert from this level on: look-soon, act or today.",
        ),
    ] = "act",
    evidence: OwnEvidence = None,
    as_json: AsJson = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print faults only.")] = False,
    force: Force = False,
) -> None:
    """Tell you, once, which colony or bait box crossed a line and what to do by when.

    A second run says nothing twice. A level falls back only when the chance is well below its
    line. Exit code 1 means that something stands at act or today, or that a channel failed.

    Example: swarmwatch alert --on 2026-06-05 --calendar swarmwatch.ics
    """
    from datetime import datetime

    from swarmwatch.alerts.alerting import raise_and_deliver, would_raise
    from swarmwatch.alerts.channels import Terminal
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import evidence_for, score_tables

    services, manners = going_out(channel, quiet_hours, digest)
    if test:
        _try_out(services)
        return
    now = datetime.now().astimezone()
    asked = parse_day(on, "--on")
    evening = evening_on(now, asked)
    if asked is None and evening != now.date() and not quiet:
        complain(f"It is not evening yet: this speaks of {evening}, the chances count from today.")
    with open_records(records, create=False) as store:
        numbers = evidence_for(evidence, store.setting("yearly_swarm_chance"))
        scores = score_tables(store.frames(), evening, numbers)
        if dry_run:
            found, over = would_raise(store, scores, on=evening, lowest=lowest, evidence=numbers)
            if not quiet:
                _show_dry(found, over, evening, as_json=as_json)
            raise typer.Exit(1 if over else 0)

        def write(messages: "Sequence[Message]") -> None:
            _show(messages, evening, as_json=as_json)

        channels: list[Channel] = [*services, *([] if quiet else [Terminal(write)])]
        done = raise_and_deliver(
            store,
            scores,
            on=evening,
            now=now,
            channels=channels,
            calendar=calendar,
            force=force,
            lowest=lowest,
            evidence=numbers,
            manners=manners,
        )
    if not quiet:
        if done.held:
            complain(held_words(done))
        _show_rest(done, evening, as_json=as_json)
    failed = [d for d in done.deliveries if d.error]
    for error in dict.fromkeys(d.error for d in failed):
        complain(error)
    raise typer.Exit(1 if done.over_the_line or failed else 0)


def _try_out(services: "Sequence[Channel]") -> None:
    """Send a word of trial through each service; the first that fails ends it."""
    from swarmwatch.alerts.channels import Message
    from swarmwatch.errors import UsageError

    if not services:
        message = "--test needs a --channel to try."
        raise UsageError(message)
    text = "This is how an alert of swarmwatch arrives. It is a trial: nothing is due."
    for service in services:
        service.send([Message(key="trial", level="quiet", text=text)])
        typer.echo(f"Sent through {service.name}. Look whether it came.")


def _show(messages: "Sequence[Message]", evening: "date", *, as_json: bool) -> None:
    import sys

    import pandas as pd

    if as_json:
        columns = ["alert", "colony", "box", "level", "text"]
        rows = [[m.key, m.colony, m.box, m.level, m.text] for m in messages]
        print_json("alert", pd.DataFrame(rows, columns=columns), on=evening.isoformat())
    else:
        typer.echo(f"New alerts, evening of {evening.isoformat()}")
        for message in messages:
            typer.echo(f"  {message.level:<9} {message.text}")
    # an alert counts as sent once this returns, so nothing may wait in a buffer
    sys.stdout.flush()


def _show_rest(done: "Alerted", evening: "date", *, as_json: bool) -> None:
    printed = any(d.channel == "terminal" and not d.error for d in done.deliveries)
    if as_json:
        if not printed:
            _show([], evening, as_json=True)
        return
    if not printed:
        typer.echo(f"No new alerts, evening of {evening.isoformat()}")
    _show_over(done.over_the_line)


def _show_dry(
    found: "list[Standing]", over: "list[Standing]", evening: "date", *, as_json: bool
) -> None:
    import pandas as pd

    if as_json:
        rows = [
            [
                None,
                s.name if s.kind == "colony" else None,
                s.name if s.kind == "box" else None,
                s.level,
                s.text,
            ]
            for s in found
        ]
        frame = pd.DataFrame(rows, columns=["alert", "colony", "box", "level", "text"])
        print_json("alert", frame, on=evening.isoformat(), dry_run=True)
        return
    typer.echo(f"Would be raised, evening of {evening.isoformat()}: {len(found) or 'nothing'}")
    for standing in found:
        typer.echo(f"  {standing.level:<9} {standing.text}")
    _show_over(over)


def _show_over(over: "Sequence[Standing]") -> None:
    from swarmwatch.wording import one_line

    if over:
        names = ", ".join(f"{one_line(s.name)} ({s.level})" for s in over)
        typer.echo(f"At or over the act line: {names}")
