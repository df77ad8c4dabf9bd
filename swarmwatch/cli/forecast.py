"""The verb `forecast`: how many swarms to count on this season, and how many hives to have."""

from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, evening_on, parse_day, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, On, OwnEvidence, Records
from swarmwatch.cli.planning import Lure
from swarmwatch.placement.wishes import LURE

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

    from swarmwatch.evidence import Evidence

# how many boxes to reckon with where none is noted and none asked for
_BOXES = 2


def forecast(
    *,
    boxes: Annotated[
        int | None,
        typer.Option(
            "--boxes",
            min=0,
            help="How many more boxes you mean to hang; default: all, or none once some hang.",
        ),
    ] = None,
    lure: Lure = LURE,
    on: On = None,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
) -> None:
    """Forecast the season: catches by date, own swarms apart from others, hives to have ready.

    It works in January, before any colony was opened, so that you can decide whether to order
    bees. After the season it speaks of the next one.

    Example: swarmwatch forecast --on 2026-01-15
    """
    from datetime import datetime

    from swarmwatch.cli.forecast_text import forecast_as_text
    from swarmwatch.cli.score import frames_and_evidence
    from swarmwatch.errors import UsageError
    from swarmwatch.placement.forecast import season_forecast

    evening = evening_on(datetime.now().astimezone(), parse_day(on, "--on"))
    frames, evidence = frames_and_evidence(records, own_evidence)
    if frames["apiaries"].empty:
        message = (
            "No yard yet, so no season to speak of. Start records with `swarmwatch new --place "
            "LAT,LON`, or import a table of apiaries."
        )
        raise UsageError(message)
    frames = _until(frames, evening)
    frames, planned, notes = _planned(frames, evening, evidence, boxes=boxes, lure=lure)
    table = season_forecast(
        frames,
        on=evening,
        planned=planned,
        scores=_scores(frames, evening, evidence),
        evidence=evidence,
    )
    if as_json:
        facts = {str(name): fact for name, fact in table.attrs.items()}
        print_json("forecast", table, **facts, seen_from=evening.isoformat(), notes=notes)
        return
    typer.echo(forecast_as_text(table, evening, evidence))
    for note in notes:
        complain(note)


def _until(frames: "dict[str, pd.DataFrame]", on: "date") -> "dict[str, pd.DataFrame]":
    """Leave out what was noted of days after the evening."""
    import pandas as pd

    days = {"hangings": "hung_on", "checks": "date", "catches": "caught_on", "events": "date"}
    known = dict(frames)
    for name, day in days.items():
        known[name] = frames[name][frames[name][day] <= pd.Timestamp(on)].reset_index(drop=True)
    # a box that came down later was still up
    hung = known["hangings"]
    later = hung["taken_on"] > pd.Timestamp(on)
    known["hangings"] = hung.assign(taken_on=hung["taken_on"].mask(later))
    return known


def _planned(
    frames: "dict[str, pd.DataFrame]",
    on: "date",
    evidence: "Evidence",
    *,
    boxes: int | None,
    lure: str,
) -> "tuple[dict[str, pd.DataFrame], pd.DataFrame | None, list[str]]":
    """Return the tables, the boxes to reckon with besides those that hang, and what to say of it.

    Where no site is noted, the boxes are reckoned with near the yards.
    """
    from swarmwatch.errors import PlanInfeasible
    from swarmwatch.placement.forecast import assumed_sites
    from swarmwatch.placement.wishes import Wishes
    from swarmwatch.records.scoring import plan_tables

    have, hangings = frames["boxes"], frames["hangings"]
    hanging = int(hangings["taken_on"].isna().sum())
    free = int((~have["box"].isin(hangings.loc[hangings["taken_on"].isna(), "box"])).sum())
    count = boxes if boxes is not None else 0 if hanging else free or _BOXES
    if not count:
        return frames, None, []
    said = []
    if boxes is None and not free:
        said.append(f"You have noted no boxes: reckoned with {count}. Say --boxes N for another.")
    if frames["sites"].empty:
        sites = assumed_sites(frames["apiaries"], count, evidence)
        away_m = evidence.value("boxes.assumed_distance_m")
        said.append(
            f"You have noted no sites: reckoned with sites {away_m:.0f} m from your yards. "
            "Note real ones, then ask again."
        )
        frames = frames | {"sites": sites}
    try:
        _, plan = plan_tables(frames, on, evidence, Wishes(boxes=count, lure=lure))
    except PlanInfeasible as error:
        return frames, None, [*said, f"Reckoned without new boxes: {error}"]
    unnamed = plan["box"].fillna("not named yet")
    return frames, plan[["site", "height_m"]].assign(box=unnamed, lure=lure), said


def _scores(
    frames: "dict[str, pd.DataFrame]", on: "date", evidence: "Evidence"
) -> "pd.DataFrame | None":
    """Score the colonies where any was opened this season: that goes before the yearly chance."""
    import pandas as pd

    from swarmwatch.placement.box_life import box_season
    from swarmwatch.records.scoring import score_tables

    season = box_season(frames["apiaries"], frames["weather"], on=on, evidence=evidence)
    opened = frames["inspections"]["date"]
    now = (opened >= pd.Timestamp(season.put_out_on)) & (opened <= pd.Timestamp(on))
    return score_tables(frames, on, evidence) if now.any() else None
