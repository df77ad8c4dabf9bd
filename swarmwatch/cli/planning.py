"""From records to a plan: the one step that `place`, `map` and `demo` share."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    import datetime as dt

    import pandas as pd

    from swarmwatch.evidence import Evidence

_BOXES = 5
SPACING_M = 500.0
LURE = "nasonov-lure"

Boxes = Annotated[
    int | None,
    typer.Option("--boxes", min=1, help="How many to hang; default: all you have free, or 5."),
]
Spacing = Annotated[
    float, typer.Option("--spacing", min=0, metavar="M", help="Warn of boxes nearer than this [m].")
]
Lure = Annotated[str, typer.Option("--lure", help="nasonov-lure, lemongrass-oil, other or none.")]
High = Annotated[
    bool, typer.Option("--high", help="Hang boxes as high as your sites say, above reach.")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the keeper asks of a plan; `boxes` None means all that hang nowhere yet."""

    boxes: int | None = None
    spacing_m: float = SPACING_M
    lure: str = LURE
    allow_high: bool = False


def plan_from(
    frames: "Mapping[str, pd.DataFrame]",
    on: "dt.date",
    evidence: "Evidence",
    wishes: Wishes,
) -> "tuple[pd.DataFrame, pd.DataFrame]":
    """Return where swarms come from, and where to hang the boxes.

    Raises
    ------
    UsageError
        The records hold no site.
    PlanInfeasible
        No site may bear a box.
    """
    import pandas as pd

    from swarmwatch import plan_boxes, season_swarms
    from swarmwatch.errors import UsageError

    if frames["sites"].empty:
        message = "No sites yet. Import a table of sites where a bait box may hang."
        raise UsageError(message)
    own = season_swarms(
        frames["colonies"],
        frames["apiaries"],
        on=on,
        inspections=frames["inspections"],
        events=frames["events"],
        evidence=evidence,
    )
    sources = pd.concat([own, frames["sources"]], ignore_index=True)
    hangings, have = frames["hangings"], frames["boxes"]
    hanging = hangings.loc[hangings["taken_on"].isna(), "box"]
    free = int((~have["box"].isin(hanging)).sum())
    plan = plan_boxes(
        sources,
        frames["sites"],
        boxes=wishes.boxes or free or _BOXES,
        existing=hangings,
        keep_out=frames["keep_out"],
        spacing_m=wishes.spacing_m,
        evidence=evidence,
        box_table=have,
        apiaries=frames["apiaries"],
        lure=wishes.lure,
        allow_high=wishes.allow_high,
    )
    return sources, plan
