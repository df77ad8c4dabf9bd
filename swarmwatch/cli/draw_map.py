"""``swarmwatch map``: the box plan on a map, on paper and for the phone."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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
from swarmwatch.cli.planning import LURE, SPACING_M, Boxes, High, Lure, Spacing, Wishes, plan_from

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.mapping.land import Land


def draw_map(
    *,
    to: Annotated[Path, typer.Option("--to", metavar="FOLDER", help="Where the files go.")],
    records: Records = RECORDS_DEFAULT,
    boxes: Boxes = None,
    land: Annotated[
        Path | None,
        typer.Option(
            "--land", metavar="FILE", help="Woods, water, ways to draw: GeoJSON with a `kind`."
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
    from datetime import datetime

    from swarmwatch.cli.map_files import (
        MAP_FILES,
        Planned,
        refuse_existing_in,
        write_plan_files,
    )
    from swarmwatch.cli.score import evidence_with, score_frames
    from swarmwatch.records import open_records

    evening = evening_on(datetime.now().astimezone(), parse_day(on, "--on"))
    refuse_existing_in(to, MAP_FILES, force=force)
    ground = None if land is None else _read_ground(land)
    with open_records(records) as opened:
        frames = opened.frames()
        evidence = evidence_with(own_evidence, opened.setting("yearly_swarm_chance"))
    wishes = Wishes(boxes=boxes, spacing_m=spacing, lure=lure, allow_high=high)
    sources, plan = plan_from(frames, evening, evidence, wishes)
    planned = Planned(
        plan=plan,
        sources=sources,
        frames=frames,
        evidence=evidence,
        on=evening,
        scores=None if frames["colonies"].empty else score_frames(frames, evening, evidence),
        land=ground,
        credits=_credits(frames["weather"]),
    )
    files = write_plan_files(to, planned, names=MAP_FILES, paper=paper, force=force)
    for file in files:
        typer.echo(file)
    complain("Odds, not promises: ask each owner first and read the safety lines on the sheet.")


def _read_ground(path: Path) -> "Land":
    from swarmwatch.errors import UsageError
    from swarmwatch.mapping.land import read_land

    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        message = f"{path}: {reason}. Give a GeoJSON file with --land."
        raise UsageError(message) from error
    return read_land(text)


def _credits(weather: "pd.DataFrame") -> list[str]:
    from data_sources.weather.open_meteo import CREDIT, PROVIDER

    used = weather["provider"].dropna().str.casefold().str.startswith(PROVIDER.casefold())
    return [CREDIT] if used.any() else []
