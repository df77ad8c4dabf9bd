"""``swarmwatch map``: the box plan on a map, on paper and for the phone."""

from pathlib import Path
from typing import Annotated

import typer

from swarmwatch.cli.console import complain, evening_on, parse_day
from swarmwatch.cli.options import (
    PAPER,
    RECORDS_DEFAULT,
    Force,
    On,
    OwnEvidence,
    Paper,
    Records,
)
from swarmwatch.cli.planning import Boxes, High, Lure, Placing, Spacing, planned_of
from swarmwatch.placement.wishes import LURE, SPACING_M, Wishes


def draw_map(
    *,
    to: Annotated[Path, typer.Option("--to", metavar="FOLDER", help="Where the files go.")],
    records: Records = RECORDS_DEFAULT,
    boxes: Boxes = None,
    land: Annotated[
        Path | None,
        typer.Option(
            "--land",
            metavar="FILE",
            help="Woods, water, ways to draw: an OpenStreetMap extract, what `land` fetched, or "
            "a layer with a `kind`.",
        ),
    ] = None,
    paper: Paper = PAPER,
    spacing: Spacing = SPACING_M,
    lure: Lure = LURE,
    high: High = False,
    on: On = None,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Draw where to hang your bait boxes: map, printed sheet and files for a phone.

    Writes map.html (opens anywhere, no network needed), map.pdf (to print), spots.gpx and
    spots.kml (for a phone), spots.geojson and spots.gpkg (for a GIS). Yards bear the
    level of their most urgent colony.

    Example: swarmwatch map --to map-2026 --boxes 3
    """
    from dataclasses import replace
    from datetime import datetime

    from swarmwatch.cli.land import land_round
    from swarmwatch.cli.map_files import MAP_FILES, refuse_existing_in, write_plan_files
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import evidence_for, plan_tables

    evening = evening_on(datetime.now().astimezone(), parse_day(on, "--on"))
    refuse_existing_in(to, MAP_FILES, force=force)
    with open_records(records) as opened:
        frames = opened.frames()
        evidence = evidence_for(own_evidence, opened.setting("yearly_swarm_chance"))
    ground = None if land is None else land_round(frames, land)
    wishes = Wishes(boxes=boxes, spacing_m=spacing, lure=lure, allow_high=high)
    sources, plan = plan_tables(frames, evening, evidence, wishes)
    placing = Placing(plan=plan, sources=sources, frames=frames)
    planned = replace(planned_of(placing, evidence, on=evening), land=ground)
    files = write_plan_files(to, planned, names=MAP_FILES, paper=paper, force=force)
    for file in files:
        typer.echo(file)
    complain("Odds, not promises: ask each owner first and read the safety lines on the sheet.")
