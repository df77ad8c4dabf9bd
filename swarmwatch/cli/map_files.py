"""The files that show a plan, written so that none is ever half there."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.mapping.land import Land

MAP_FILES = ("map.html", "map.pdf", "spots.gpx", "spots.geojson")


def write_map_files(
    folder: Path,
    *,
    plan: "pd.DataFrame",
    sources: "pd.DataFrame",
    frames: Mapping[str, "pd.DataFrame"],
    scores: "pd.DataFrame | None" = None,
    land: "Land | None" = None,
    credits: Sequence[str] = (),  # noqa: A002 - the field's word
    made_on: date,
    force: bool = False,
) -> list[Path]:
    """Write the map, the sheet and the phone files of a plan.

    Parameters
    ----------
    folder
        Where they go; made if it isn't there.
    plan, sources, scores
        Tables of that name.
    frames
        The keeper's tables by name: `apiaries`, and `sites`, `boxes`, `hangings`, `keep_out` where
        known.
    land
        Background from `swarmwatch.mapping.land.read_land`.
    credits
        Lines that thank whoever made the data.
    made_on
        The evening that the map speaks of.
    force
        Write over files that are there.

    Returns
    -------
    The files: `MAP_FILES` in that order.

    Raises
    ------
    UsageError
        A file is there already and `force` is not set, or the folder can't be written.
    RecordsError
        A table breaks its contract. Nothing is written then.
    """
    from swarmwatch.cli.files import write_whole

    refuse_existing(folder, force=force)
    shown = {
        "sources": sources,
        "scores": scores,
        "land": land,
        "credits": credits,
        "made_on": made_on,
    }
    contents = _contents(plan, frames, shown)
    return [write_whole(folder / name, contents[name], force=force) for name in MAP_FILES]


def refuse_existing(folder: Path, *, force: bool) -> None:
    """Refuse a folder that holds one of the files, unless `force` is set."""
    from swarmwatch.errors import UsageError

    if folder.exists() and not folder.is_dir():
        message = f"{folder}: this is a file. Give another folder with --to."
        raise UsageError(message)
    there = [name for name in MAP_FILES if (folder / name).exists()]
    if there and not force:
        message = (
            f"{folder}: {', '.join(there)} would be overwritten, so nothing was written. "
            "Give another folder with --to, or --force to replace them."
        )
        raise UsageError(message)


def _contents(
    plan: "pd.DataFrame", frames: Mapping[str, "pd.DataFrame"], shown: Mapping[str, Any]
) -> dict[str, bytes]:
    from swarmwatch.mapping.exports import geojson, gpx
    from swarmwatch.mapping.page import interactive_map
    from swarmwatch.mapping.sheet import map_sheet

    sites, boxes = frames.get("sites"), frames.get("boxes")
    drawn = {
        "apiaries": frames["apiaries"],
        "sites": sites,
        "keep_out": frames.get("keep_out"),
        "hangings": frames.get("hangings"),
        **shown,
    }
    return {
        "map.html": interactive_map(plan, **drawn).encode("utf-8"),
        "map.pdf": map_sheet(plan, boxes=boxes, **drawn),
        "spots.gpx": gpx(plan, sites=sites, boxes=boxes).encode("utf-8"),
        "spots.geojson": geojson(plan, sites=sites, boxes=boxes).encode("utf-8"),
    }
