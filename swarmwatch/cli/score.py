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
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Write the table there, as CSV.")
    ] = None,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Score every colony: its chance of swarming with a range, why, and what to do by when.

    Exit code 1 says that at least one colony needs you.

    Example: swarmwatch score --on 2026-06-05 --to scores.csv
    """
    import datetime as dt

    now = dt.datetime.now().astimezone()
    asked = parse_day(on, "--on")
    evening = evening_on(now, asked)
    if asked is None and evening != now.date():
        complain(f"It is not evening yet: this speaks of {evening}, the chances count from today.")
    scores = scores_from(records, evening, own_evidence)
    if to is not None:
        write_scores(scores, to, force=force)
    if as_json:
        print_json("scores", scores)
    else:
        from swarmwatch.cli.score_text import scores_as_text

        typer.echo(scores_as_text(scores))
    if scores["level"].isin(["act", "today"]).any():
        raise typer.Exit(1)


def scores_from(location: str, on: "dt.date", own_evidence: Path | None = None) -> "pd.DataFrame":
    """Open the records and score them on one evening."""
    from swarmwatch.records import open_records

    with open_records(location) as store:
        frames = store.frames()
        chance = store.setting("yearly_swarm_chance")
    return score_frames(frames, on, evidence_with(own_evidence, chance))


def evidence_with(own: Path | None, yearly_swarm_chance: str | None) -> "Evidence":
    """Load the evidence, a keeper's own file and the share of colonies that usually swarm there."""
    from swarmwatch.evidence import load_evidence

    evidence = load_evidence(own)
    if yearly_swarm_chance is None:
        return evidence
    return evidence.with_values({"season.yearly_chance_inspected": float(yearly_swarm_chance)})


def score_frames(
    frames: "dict[str, pd.DataFrame]", on: "dt.date", evidence: "Evidence"
) -> "pd.DataFrame":
    """Score the tables of one set of records."""
    from swarmwatch import score_colonies

    return score_colonies(
        frames["colonies"],
        frames["inspections"],
        frames["weather"],
        on,
        events=frames["events"],
        apiaries=frames["apiaries"],
        hives=frames["hives"],
        evidence=evidence,
    )


def write_scores(scores: "pd.DataFrame", path: Path, *, force: bool) -> None:
    """Write the scores as CSV, whole or not at all; over an existing file only with `force`."""
    from swarmwatch.cli.files import write_whole
    from swarmwatch.records.exporting import csv_text
    from swarmwatch.tables import TABLES

    write_whole(path, csv_text(scores, TABLES["scores"]).encode("utf-8"), force=force)
