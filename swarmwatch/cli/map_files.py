"""The files that show a plan, written so that none is ever half there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.evidence import Evidence
    from swarmwatch.mapping.land import Land

MAP_FILES = ("map.html", "map.pdf", "spots.gpx", "spots.kml", "spots.geojson", "spots.gpkg")
PAPER_FILES = ("box-sheets.pdf", "letters.pdf", "labels.pdf")
PLAN_FILES = ("plan.csv", *MAP_FILES, *PAPER_FILES)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Planned:
    """A plan and what is shown with it.

    `frames` holds the keeper's tables by name: `apiaries`, and `sites`, `boxes`, `hangings`,
    `keep_out`, `weather` where known; `land` is the background from
    `swarmwatch.mapping.land.read_land`; `credits` thank whoever made the data; `on` is the evening
    that the plan speaks of.
    """

    plan: "pd.DataFrame"
    sources: "pd.DataFrame"
    frames: Mapping[str, "pd.DataFrame"]
    evidence: "Evidence"
    on: date
    scores: "pd.DataFrame | None" = None
    land: "Land | None" = None
    credits: Sequence[str] = ()


def write_plan_files(
    folder: Path,
    planned: Planned,
    *,
    names: Sequence[str] = PLAN_FILES,
    paper: str = "a4",
    force: bool = False,
) -> list[Path]:
    """Write the files of a plan: table, map, phone files, and the paper to walk out with.

    Parameters
    ----------
    folder
        Where they go; made if it isn't there.
    planned
        The plan and what is shown with it.
    names
        Which of `PLAN_FILES`.
    paper
        "a4" or "letter".
    force
        Write over files that are there.

    Returns
    -------
    The files in the order of `names`.

    Raises
    ------
    UsageError
        A file is there already and `force` is not set, the folder can't be written, or the paper
        is not known.
    RecordsError
        A table breaks its contract. Nothing is written then.
    """
    from swarmwatch.cli.files import write_whole

    refuse_existing_in(folder, names, force=force)
    contents = _map_contents(planned, paper)
    if not set(MAP_FILES).issuperset(names):
        contents |= _paper_contents(planned, paper)
    return [write_whole(folder / name, contents[name], force=force) for name in names]


def refuse_existing_in(folder: Path, names: Sequence[str], *, force: bool) -> None:
    """Refuse a folder that holds one of the files, unless `force` is set."""
    from swarmwatch.errors import UsageError

    if folder.exists() and not folder.is_dir():
        message = f"{folder}: this is a file. Give another folder with --to."
        raise UsageError(message)
    there = [name for name in names if (folder / name).exists()]
    if there and not force:
        message = (
            f"{folder}: {', '.join(there)} would be overwritten, so nothing was written. "
            "Give another folder with --to, or --force to replace them."
        )
        raise UsageError(message)


def _map_contents(planned: Planned, paper: str) -> dict[str, bytes]:
    from swarmwatch.mapping.exports import geojson, geopackage, gpx, kml
    from swarmwatch.mapping.page import interactive_map
    from swarmwatch.mapping.sheet import map_sheet

    plan, frames = planned.plan, planned.frames
    sites, boxes, keep_out = (frames.get(name) for name in ("sites", "boxes", "keep_out"))
    drawn: dict[str, Any] = {
        "sources": planned.sources,
        "apiaries": frames["apiaries"],
        "sites": sites,
        "scores": planned.scores,
        "keep_out": keep_out,
        "hangings": frames.get("hangings"),
        "land": planned.land,
        "credits": planned.credits,
        "made_on": planned.on,
    }
    thanks = [*planned.credits, *([planned.land.attribution] if planned.land else [])]
    spots: dict[str, Any] = {
        "sites": sites,
        "boxes": boxes,
        "attribution": "; ".join(line.rstrip(".") for line in thanks if line),
    }
    layers = {**spots, "apiaries": frames["apiaries"], "keep_out": keep_out}
    return {
        "map.html": interactive_map(plan, **drawn).encode("utf-8"),
        "map.pdf": map_sheet(plan, boxes=boxes, size=paper, **drawn),
        "spots.gpx": gpx(plan, **spots).encode("utf-8"),
        "spots.kml": kml(plan, **layers).encode("utf-8"),
        "spots.geojson": geojson(plan, **spots).encode("utf-8"),
        "spots.gpkg": geopackage(plan, made_on=planned.on, **layers),
    }


def _paper_contents(planned: Planned, paper: str) -> dict[str, bytes]:
    from swarmwatch.placement.box_life import box_season
    from swarmwatch.records.exporting import csv_text
    from swarmwatch.sheets import paper_files
    from swarmwatch.tables import TABLES

    season = box_season(
        planned.frames["apiaries"],
        planned.frames["weather"],
        on=planned.on,
        evidence=planned.evidence,
    )
    return {
        "plan.csv": csv_text(planned.plan, TABLES["plan"]).encode("utf-8"),
        **paper_files(
            planned.plan,
            planned.frames,
            planned.evidence,
            on=planned.on,
            paper=paper,
            put_out_on=season.put_out_on,
            take_down_on=season.take_down_on,
        ),
    }
