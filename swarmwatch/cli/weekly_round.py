"""The verb `round`: the one command for the weekly round, safe to run as often as one likes."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.alert_options import Digest, Quiet, Through, going_out, held_words
from swarmwatch.cli.console import complain, evening_on, parse_day, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Force, On, OwnEvidence, Records

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from swarmwatch.alerts.alerting import Alerted
    from swarmwatch.alerts.channels import Channel, Message
    from swarmwatch.alerts.manners import Manners
    from swarmwatch.sheets.round_facts import Round


def weekly_round(
    *,
    to: Annotated[
        Path, typer.Option("--to", metavar="FOLDER", help="Where page, sheets and calendar go.")
    ] = Path("swarmwatch-round"),
    offline: Annotated[
        bool,
        typer.Option("--offline", help="Ask nobody for weather: use what the records hold."),
    ] = False,
    server: Annotated[
        str | None,
        typer.Option("--server", metavar="URL", help="Another address of the weather service."),
    ] = None,
    contact: Annotated[
        str | None,
        typer.Option(
            "--contact",
            envvar="SWARMWATCH_CONTACT",
            metavar="ADDRESS",
            help="Your mail or web address, shown to the weather services.",
        ),
    ] = None,
    channel: Through = None,
    quiet_hours: Quiet = None,
    digest: Digest = None,
    paper: Annotated[
        str, typer.Option("--paper", metavar="a4|letter", help="Size of the sheets.")
    ] = "a4",
    on: On = None,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Do the weekly round: weather, scores, the order of visits, what is due, sheets, alerts.

    Writes round.html (to read), round-sheets.pdf (to print and fill in, each yard for itself) and
    round.ics (for your calendar). A second run replaces them and alerts nobody twice. Exit code 1
    says that something stands at act or today, or that a channel failed.

    Example: swarmwatch round --offline --on 2026-06-05 --to round-23
    """
    from datetime import datetime

    from swarmwatch.alerts.channels import Terminal
    from swarmwatch.cli.round_files import refuse_foreign_files
    from swarmwatch.mapping.paper import size_mm

    now = datetime.now().astimezone()
    asked = parse_day(on, "--on")
    evening = evening_on(now, asked)
    if asked is None and evening != now.date():
        complain(f"It is not evening yet: this speaks of {evening}, the chances count from today.")
    size_mm(paper)
    ours = refuse_foreign_files(to, force=force)
    services, manners = going_out(channel, quiet_hours, digest)
    if not offline:
        _fetch(records, server=server, contact=contact)
    channels: list[Channel] = [*services, *([] if as_json else [Terminal(_show_alerts)])]
    facts, files, done = _do(
        records,
        evening,
        now,
        channels=channels,
        manners=manners,
        own_evidence=own_evidence,
        to=to,
        paper=paper,
        ours=ours,
    )
    _show(facts, files, as_json=as_json)
    errors = dict.fromkeys(d.error for d in done.deliveries if d.error)
    for line in filter(None, [*errors, held_words(done)]):
        complain(line)
    raise typer.Exit(1 if facts.needs_keeper or errors else 0)


def _fetch(records: str, *, server: str | None, contact: str | None) -> None:
    """Fetch the weather as the verb `weather` does; without a yard there is nothing to fetch."""
    import sys
    from contextlib import redirect_stdout

    from swarmwatch.cli.weather import weather
    from swarmwatch.records import open_records

    with open_records(records) as store:
        no_yard = store.frame("apiaries").empty
    if not no_yard:
        # the round's own words go to stdout, and under --json nothing else may
        with redirect_stdout(sys.stderr):
            weather(records=records, server=server, contact=contact)


def _do(
    records: str,
    evening: "date",
    now: "datetime",
    *,
    channels: "list[Channel]",
    manners: "Manners",
    own_evidence: Path | None,
    to: Path,
    paper: str,
    ours: dict[str, list[str]],
) -> "tuple[Round, list[Path], Alerted]":
    """Score, alert and write the files; return the facts, the files and what the alerting did."""
    from swarmwatch.alerts.alerting import raise_and_deliver, standings_of
    from swarmwatch.cli.round_files import round_calendar, write_round_files
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import evidence_for, score_tables
    from swarmwatch.sheets.round_facts import round_of

    with open_records(records) as store:
        evidence = evidence_for(own_evidence, store.setting("yearly_swarm_chance"))
        frames = store.frames()
        scores = score_tables(frames, evening, evidence)
        facts = round_of(scores, frames, on=evening, evidence=evidence)
        # alerts go first: a folder that can't be written must not hold them back
        done = raise_and_deliver(
            store,
            scores,
            on=evening,
            now=now,
            channels=channels,
            evidence=evidence,
            manners=manners,
        )
        standings = standings_of(store, scores, on=evening, evidence=evidence)
        calendar = round_calendar(standings, facts, now=now, evidence=evidence)
        files = write_round_files(to, facts, frames, calendar, paper=paper, ours=ours)
    return facts, files, done


def _show_alerts(messages: "Sequence[Message]") -> None:
    import sys

    typer.echo("New alerts:")
    for message in messages:
        typer.echo(f"  {message.level:<9} {message.text}")
    typer.echo("")
    # an alert counts as sent once this returns, so nothing may wait in a buffer
    sys.stdout.flush()


def _show(facts: "Round", files: "list[Path]", *, as_json: bool) -> None:
    from swarmwatch.cli.round_text import round_as_text, visits_frame

    if as_json:
        print_json(
            "round",
            visits_frame(facts),
            on=facts.on.isoformat(),
            weather=list(facts.weather),
            boxes=[
                {"box": b.box, "state": b.state, "do": b.do, "do_by": b.do_by} for b in facts.boxes
            ],
            files=[str(f) for f in files],
        )
        return
    typer.echo(round_as_text(facts))
    typer.echo("\n".join(["", "Files:", *(f"  {f}" for f in files)]))
