"""The verb `place`: where to hang the bait boxes, why, and what each may catch."""

from pathlib import Path
from typing import Annotated

import typer

from swarmwatch.cli.console import complain, evening_on, parse_day, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Force, On, OwnEvidence, Records
from swarmwatch.cli.planning import LURE, SPACING_M, Boxes, High, Lure, Spacing, Wishes, plan_from


def place(
    *,
    boxes: Boxes = None,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Write the plan there, as CSV.")
    ] = None,
    spacing: Spacing = SPACING_M,
    lure: Lure = LURE,
    high: High = False,
    on: On = None,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Choose where to hang bait boxes: site, height, swarms to expect with a range, and why.

    Boxes that hang already, keep-out areas, permission and height are minded. A site without the
    owner's yes is "ask first".

    Example: swarmwatch place --boxes 3 --to plan.csv
    """
    from datetime import datetime

    from swarmwatch.cli.files import refuse_existing, write_whole
    from swarmwatch.cli.place_text import plan_as_text
    from swarmwatch.cli.score import evidence_with
    from swarmwatch.mapping.safety import safety_lines
    from swarmwatch.records import open_records
    from swarmwatch.records.exporting import csv_text
    from swarmwatch.tables import TABLES

    evening = evening_on(datetime.now().astimezone(), parse_day(on, "--on"))
    if to is not None:
        refuse_existing(to, force=force)
    with open_records(records) as store:
        frames = store.frames()
        evidence = evidence_with(own_evidence, store.setting("yearly_swarm_chance"))
    wishes = Wishes(boxes=boxes, spacing_m=spacing, lure=lure, allow_high=high)
    _, plan = plan_from(frames, evening, evidence, wishes)
    safety = safety_lines(evidence)
    if to is not None:
        write_whole(to, csv_text(plan, TABLES["plan"]).encode("utf-8"), force=force)
        complain(f"Written: {to}")
    if as_json:
        lines = [f"{heading}: {text}" for heading, text in safety]
        facts = {str(name): fact for name, fact in plan.attrs.items()}
        print_json("plan", plan, **facts, on=evening.isoformat(), safety=lines)
    else:
        typer.echo(plan_as_text(plan, frames["sites"], safety))
