"""The verb `score`: each colony's chance of swarming, why, and what to do by when."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, evening_on, parse_day, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Force, On, OwnEvidence, Records

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

    from swarmwatch.evidence import Evidence


def score(
    *,
    on: On = None,
    change: Annotated[
        str | None,
        typer.Option(
            "--if",
            metavar="CHANGE",
            help="Compare with a change made that evening, such as split, room-added or wait-7.",
        ),
    ] = None,
    colony: Annotated[
        str | None, typer.Option("--colony", metavar="NAME", help="With --if: this colony only.")
    ] = None,
    visits: Annotated[
        int | None,
        typer.Option(
            "--visits", metavar="N", help="With time for only N colonies this week: say which."
        ),
    ] = None,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Write the table there, as CSV.")
    ] = None,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Score every colony: its chance of swarming with a range, why, and what to do by when.

    Exit code 1 says that at least one colony needs you. What a change does is shown by --if, such
    as "--if split --colony Candle"; which colonies to open in a short week by "--visits 3".

    Example: swarmwatch score --on 2026-06-05 --to scores.csv
    """
    import datetime as dt

    _fit_together(change=change, colony=colony, visits=visits, to=to)
    now = dt.datetime.now().astimezone()
    asked = parse_day(on, "--on")
    evening = evening_on(now, asked)
    if asked is None and evening != now.date():
        complain(f"It is not evening yet: this speaks of {evening}, the chances count from today.")
    if change is not None:
        scores = _show_change(records, evening, own_evidence, change, colony, as_json=as_json)
    elif visits is not None:
        scores = _show_visits(records, evening, own_evidence, visits, as_json=as_json)
    else:
        scores = scores_from(records, evening, own_evidence)
        if to is not None:
            write_scores(scores, to, force=force)
        _show_scores(scores, as_json=as_json)
    if scores["level"].isin(["act", "today"]).any():
        raise typer.Exit(1)


def _fit_together(
    *, change: str | None, colony: str | None, visits: int | None, to: Path | None
) -> None:
    """Refuse options that don't go together, before anything is read."""
    if change is not None and visits is not None:
        message = "it is one question or the other: give --if or --visits"
        raise typer.BadParameter(message, param_hint="--visits")
    if colony is not None and change is None:
        message = "goes with --if, such as --if split --colony Candle"
        raise typer.BadParameter(message, param_hint="--colony")
    if to is not None and (change is not None or visits is not None):
        message = "writes the scores; for --if and --visits use --json"
        raise typer.BadParameter(message, param_hint="--to")
    if visits is not None and visits < 1:
        message = f"{visits} is too few. Write how many colonies you have time for, 1 or more"
        raise typer.BadParameter(message, param_hint="--visits")


def _show_scores(scores: "pd.DataFrame", *, as_json: bool) -> None:
    if as_json:
        print_json("scores", scores)
        return
    from swarmwatch.cli.score_text import scores_as_text

    typer.echo(scores_as_text(scores))


def _show_change(
    location: str,
    on: "dt.date",
    own_evidence: Path | None,
    change: str,
    colony: str | None,
    *,
    as_json: bool,
) -> "pd.DataFrame":
    """Show what a change does; return the colonies shown, with their level as things are."""
    from swarmwatch.cli.score_text import changes_as_text
    from swarmwatch.records.scoring import change_tables
    from swarmwatch.swarming.what_if import read_change

    word = read_change(change)
    frames, evidence = frames_and_evidence(location, own_evidence)
    if colony is not None:
        frames = frames | {"colonies": _only(frames["colonies"], colony)}
    compared = change_tables(frames, on, word, evidence)
    if as_json:
        print_json("what-if", compared)
    else:
        typer.echo(changes_as_text(compared))
    return compared


def _only(colonies: "pd.DataFrame", name: str) -> "pd.DataFrame":
    """Return the one colony's row; a name that is not on record is refused with the nearest."""
    from difflib import get_close_matches

    from swarmwatch.errors import UsageError

    by_lower = {str(c).lower(): c for c in colonies["colony"]}
    wanted = name.strip().lower()
    if wanted in by_lower:
        row: pd.DataFrame = colonies[colonies["colony"] == by_lower[wanted]]
        return row
    near = [str(by_lower[n]) for n in get_close_matches(wanted, by_lower, n=3, cutoff=0.5)]
    meant = f"Did you mean {' or '.join(near)}?" if near else "The verb score lists all."
    message = f"No colony {name!r} on record. {meant}"
    raise UsageError(message)


def _show_visits(
    location: str, on: "dt.date", own_evidence: Path | None, visits: int, *, as_json: bool
) -> "pd.DataFrame":
    """Show which colonies to open in a short week; return the scores they rest on."""
    from swarmwatch.cli.score_text import visits_as_text
    from swarmwatch.records.scoring import score_tables
    from swarmwatch.swarming.visits import order_of_visits

    frames, evidence = frames_and_evidence(location, own_evidence)
    scores = score_tables(frames, on, evidence)
    order = order_of_visits(
        scores,
        visits,
        inspections=frames["inspections"],
        events=frames["events"],
        evidence=evidence,
    )
    if as_json:
        print_json("visits", order)
    else:
        typer.echo(visits_as_text(order))
    return scores


def frames_and_evidence(
    location: str, own_evidence: Path | None
) -> "tuple[dict[str, pd.DataFrame], Evidence]":
    """Read all tables of the records, and the numbers to use with them."""
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import evidence_for

    with open_records(location) as store:
        frames = store.frames()
        chance = store.setting("yearly_swarm_chance")
    return frames, evidence_for(own_evidence, chance)


def scores_from(location: str, on: "dt.date", own_evidence: Path | None = None) -> "pd.DataFrame":
    """Open the records and score them on one evening."""
    from swarmwatch.records.scoring import score_tables

    frames, evidence = frames_and_evidence(location, own_evidence)
    return score_tables(frames, on, evidence)


def write_scores(scores: "pd.DataFrame", path: Path, *, force: bool) -> None:
    """Write the scores as CSV, whole or not at all; over an existing file only with `force`."""
    from swarmwatch.cli.files import write_whole
    from swarmwatch.records.exporting import csv_text
    from swarmwatch.tables import TABLES

    write_whole(path, csv_text(scores, TABLES["scores"]).encode("utf-8"), force=force)
