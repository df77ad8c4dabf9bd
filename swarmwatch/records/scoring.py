"""From the tables of the records to scores and a plan: what every shell over them shares."""

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path

import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.placement.plan import plan_boxes
from swarmwatch.placement.sources import season_swarms
from swarmwatch.placement.wishes import BOXES, Wishes
from swarmwatch.swarming.score import score_colonies
from swarmwatch.swarming.what_if import what_if

Frames = Mapping[str, pd.DataFrame]


def evidence_for(own: Path | None, yearly_swarm_chance: str | None) -> Evidence:
    """Load the evidence: the records' share of colonies that swarm, then the keeper's own file.

    Parameters
    ----------
    own
        The keeper's own numbers, a TOML file.
    yearly_swarm_chance
        The setting of that name, in 0..1 [-]; None where it was never set.

    Raises
    ------
    EvidenceError
        The file breaks its own rules.
    """
    evidence = load_evidence()
    if yearly_swarm_chance is not None:
        key = "season.yearly_chance_inspected"
        evidence = evidence.with_values({key: float(yearly_swarm_chance)})
    return load_evidence(own, base=evidence)


def only_of(frames: Frames, colonies: Iterable[str]) -> dict[str, pd.DataFrame]:
    """Return the tables with the rows of some colonies only; the other tables stay whole."""
    names = set(colonies)
    mine = ("colonies", "inspections", "events")
    return {
        name: frame[frame["colony"].isin(names)] if name in mine else frame
        for name, frame in frames.items()
    }


def score_tables(
    frames: Frames, on: dt.date, evidence: Evidence, *, words: bool = True
) -> pd.DataFrame:
    """Score the colonies of one set of tables on one evening; `words` as `score_colonies`."""
    return score_colonies(
        frames["colonies"],
        frames["inspections"],
        frames["weather"],
        on,
        events=frames["events"],
        apiaries=frames["apiaries"],
        hives=frames["hives"],
        evidence=evidence,
        words=words,
    )


def change_tables(frames: Frames, on: dt.date, change: str, evidence: Evidence) -> pd.DataFrame:
    """Compare the colonies of one set of tables with and without a change, as `what_if` does."""
    return what_if(
        frames["colonies"],
        frames["inspections"],
        frames["weather"],
        on,
        change,
        events=frames["events"],
        apiaries=frames["apiaries"],
        hives=frames["hives"],
        evidence=evidence,
    )


def plan_tables(
    frames: Frames, on: dt.date, evidence: Evidence, wishes: Wishes
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return where swarms come from, and where to hang the boxes.

    Raises
    ------
    UsageError
        The tables hold no site.
    PlanInfeasible
        No site may bear a box.
    """
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
        boxes=wishes.boxes or free or BOXES,
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
