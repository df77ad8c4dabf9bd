"""The verb `place`: where to hang the bait boxes, why, and what each may catch."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, evening_on, parse_day, print_json
from swarmwatch.cli.land import Address, LandFile, Within
from swarmwatch.cli.options import (
    PAPER,
    RECORDS_DEFAULT,
    AsJson,
    Force,
    On,
    OwnEvidence,
    Paper,
    Records,
)
from swarmwatch.cli.planning import Boxes, High, Lure, Spacing, placing_from
from swarmwatch.placement.wishes import LURE, SPACING_M, Wishes

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

    from swarmwatch.cli.planning import Placing
    from swarmwatch.evidence import Evidence

# what a plan from a map adds to the records, once its owners were asked
_SITES_FILE = "sites.csv"
_ASK_THEN_IMPORT = (
    "Next: ask the owners, write yes or no under permission in sites.csv, and bring it in with "
    "`swarmwatch import {}`. Where an owner said no, no spot is proposed again."
)


def place(
    *,
    boxes: Boxes = None,
    land: LandFile = None,
    within: Within = None,
    address: Address = None,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to",
            metavar="FILE.csv|FOLDER",
            help="A .csv for the plan alone; a folder for map, box sheets, letters, labels and "
            "exports, too.",
        ),
    ] = None,
    paper: Paper = PAPER,
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

    With a map (--land) spots are sought on trees, hedges, wood edges and walls within the ground
    where you may hang boxes (--within, --address), away from lines, paths and play areas.

    Example: swarmwatch place --boxes 3 --to plan.csv
    """
    from datetime import datetime

    from swarmwatch.cli.place_text import plan_as_text
    from swarmwatch.mapping.safety import safety_lines
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import evidence_for

    evening = evening_on(datetime.now().astimezone(), parse_day(on, "--on"))
    if to is not None:
        _refuse_target(to, from_map=land is not None, paper=paper, force=force)
    with open_records(records) as store:
        frames = store.frames()
        evidence = evidence_for(own_evidence, store.setting("yearly_swarm_chance"))
    wishes = Wishes(boxes=boxes, spacing_m=spacing, lure=lure, allow_high=high)
    placing = placing_from(
        frames, evening, evidence, wishes, land=land, within=within, addresses=address or ()
    )
    plan, search = placing.plan, placing.search
    safety = safety_lines(evidence)
    if to is not None:
        _write(to, placing, evidence, on=evening, paper=paper, force=force)
    if as_json:
        lines = [f"{heading}: {text}" for heading, text in safety]
        facts = {str(name): fact for name, fact in plan.attrs.items()}
        if search is not None:
            facts["land"] = search.facts()
        print_json("plan", plan, **facts, on=evening.isoformat(), safety=lines)
    else:
        told = search.lines() if search is not None else []
        typer.echo(plan_as_text(plan, placing.frames["sites"], safety, of_the_map=told))


def _is_table(to: Path) -> bool:
    return to.suffix.lower() == ".csv"


def _refuse_target(to: Path, *, from_map: bool, paper: str, force: bool) -> None:
    """Refuse files that are there, and paper that is none, before any work is done."""
    from swarmwatch.cli.files import refuse_existing
    from swarmwatch.cli.map_files import PLAN_FILES, refuse_existing_in

    if _is_table(to):
        refuse_existing(to, force=force)
    else:
        from swarmwatch.mapping.paper import size_mm

        size_mm(paper)
        names = (*PLAN_FILES, _SITES_FILE) if from_map else PLAN_FILES
        refuse_existing_in(to, names, force=force)


def _write(
    to: Path, placing: "Placing", evidence: "Evidence", *, on: "date", paper: str, force: bool
) -> None:
    """Write the plan alone, or the folder to walk out with."""
    from swarmwatch.cli.files import write_whole
    from swarmwatch.cli.map_files import write_plan_files
    from swarmwatch.cli.planning import planned_of
    from swarmwatch.records.exporting import csv_text
    from swarmwatch.tables import TABLES

    def table(path: Path, rows: "pd.DataFrame", name: str) -> Path:
        return write_whole(path, csv_text(rows, TABLES[name]).encode("utf-8"), force=force)

    if _is_table(to):
        written = [table(to, placing.plan, "plan")]
    else:
        written = write_plan_files(
            to, planned_of(placing, evidence, on=on), paper=paper, force=force
        )
        if placing.search is not None:
            written.append(table(to / _SITES_FILE, placing.search.chosen(placing.plan), "sites"))
    for file in written:
        complain(f"Written: {file}")
    if written[-1].name == _SITES_FILE:
        complain(_ASK_THEN_IMPORT.format(written[-1]))
