"""The verb `box`: what hangs where, in what state, what to do by when; and notes on a bait box."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, evening_on, parse_day, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, OwnEvidence, Records

# plain Python: loads no pandas
from swarmwatch.tables.inputs import CATCHES, CHECKS, HANGINGS

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    import pandas as pd

    from swarmwatch.cli.box_told import Told

_LURES, _TENANTS, _KINDS = (
    "|".join(table.column(name).words)
    for table, name in ((HANGINGS, "lure"), (CHECKS, "tenant"), (CATCHES, "kind"))
)


def box(
    name: Annotated[
        str | None, typer.Argument(metavar="[BOX]", help="The bait box; without one: list all.")
    ] = None,
    *,
    hang: Annotated[
        str | None, typer.Option("--hang", metavar="SITE", help="It was hung at this site.")
    ] = None,
    place: Annotated[
        str | None,
        typer.Option("--place", metavar="LAT,LON", help="With --hang: where a new site lies."),
    ] = None,
    lure: Annotated[
        str | None, typer.Option("--lure", metavar=_LURES, help="With --hang: its lure.")
    ] = None,
    scouts: Annotated[
        str | None, typer.Option("--scouts", metavar="NUMBER", help="Scouts at once; 0: none.")
    ] = None,
    pollen_in: Annotated[
        str | None,
        typer.Option("--pollen-in", metavar="yes|no", help="Bees carry pollen in."),
    ] = None,
    occupied: Annotated[
        str | None, typer.Option("--occupied", metavar="yes|no", help="A swarm lives there.")
    ] = None,
    tenant: Annotated[
        str | None, typer.Option("--tenant", metavar=_TENANTS, help="Who else lives there.")
    ] = None,
    note: Annotated[
        str | None, typer.Option("--note", metavar="TEXT", help="Anything else seen.")
    ] = None,
    caught: Annotated[
        str | None,
        typer.Option("--caught", metavar=_KINDS, help="A swarm moved in: which kind."),
    ] = None,
    from_colony: Annotated[
        str | None,
        typer.Option("--from-colony", metavar="NAME", help="With --caught: where it came from."),
    ] = None,
    moved: Annotated[
        bool, typer.Option("--moved", help="The box with its swarm was taken away.")
    ] = False,
    new_colony: Annotated[
        str | None,
        typer.Option("--new-colony", metavar="NAME", help="Name of the colony it became."),
    ] = None,
    apiary: Annotated[
        str | None, typer.Option("--apiary", metavar="YARD", help="With --new-colony: its yard.")
    ] = None,
    hive_type: Annotated[
        str | None,
        typer.Option("--hive-type", metavar="TYPE", help="With --new-colony: its hive."),
    ] = None,
    take_down: Annotated[
        bool, typer.Option("--take-down", help="The empty box was taken down.")
    ] = False,
    on: Annotated[
        str | None, typer.Option("--date", metavar="DATE", help="Day; default: today.")
    ] = None,
    accept_unlikely: Annotated[
        bool, typer.Option("--accept-unlikely", help="Keep values that are unlikely but possible.")
    ] = False,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
) -> None:
    """List your bait boxes with state, what to do and by when; or note what you did or saw at one.

    Look from the ground. What you leave out stays "not looked". Notes of one day are put together.

    Example: swarmwatch box B1 --scouts 12 --occupied no --date 2026-06-04
    """
    from datetime import datetime

    from swarmwatch.cli.box_told import Told

    now = datetime.now().astimezone()
    asked = parse_day(on, "--date")
    told = Told(
        hang=hang,
        place=place,
        lure=lure,
        check={
            column: value
            for column, value in {
                "scouts": scouts,
                "pollen_in": pollen_in,
                "occupied": occupied,
                "tenant": tenant,
                "note": note,
            }.items()
            if value is not None
        },
        caught=caught,
        from_colony=from_colony,
        moved=moved,
        new_colony=new_colony,
        apiary=apiary,
        hive_type=hive_type,
        take_down=take_down,
    )
    if name is None:
        if told.anything:
            message = "say which box, such as `swarmwatch box B1 --scouts 12`"
            raise typer.BadParameter(message, param_hint="BOX")
        _list(records, evening_on(now, asked), own_evidence, as_json=as_json)
        return
    if not told.anything:
        _list(records, evening_on(now, asked), own_evidence, as_json=as_json, only=name)
        return
    _note(records, name, told, now, asked or now.date(), accept_unlikely=accept_unlikely)


def _list(
    records: str,
    evening: "dt.date",
    own_evidence: "Path | None",
    *,
    as_json: bool,
    only: str | None = None,
) -> None:
    from swarmwatch.cli.box_text import boxes_as_text
    from swarmwatch.cli.box_told import named_box
    from swarmwatch.cli.score import frames_and_evidence
    from swarmwatch.errors import UsageError
    from swarmwatch.placement.box_life import box_season, caught_colonies, hung_boxes

    frames, evidence = frames_and_evidence(records, own_evidence)
    if frames["apiaries"].empty:
        message = "No yard yet. Start records with `swarmwatch new --place LAT,LON`."
        raise UsageError(message)
    boxes = hung_boxes(frames, on=evening, evidence=evidence)
    if only is not None:
        wanted = named_box(frames["boxes"], only)
        boxes = boxes[boxes["box"] == wanted].reset_index(drop=True)
    season = box_season(frames["apiaries"], frames["weather"], on=evening, evidence=evidence)
    followed = caught_colonies(
        frames["catches"], frames["inspections"], on=evening, season=season, evidence=evidence
    )
    if as_json:
        print_json("boxes", boxes, on=evening.isoformat(), caught=_rows(followed))
    else:
        typer.echo(boxes_as_text(boxes, followed, evening, evidence))


def _rows(table: "pd.DataFrame") -> object:
    import json

    return json.loads(table.to_json(orient="records", date_format="iso", date_unit="s"))


def _note(
    records: str,
    name: str,
    told: "Told",
    now: "dt.datetime",
    day: "dt.date",
    *,
    accept_unlikely: bool,
) -> None:
    from swarmwatch.cli.box_rows import notes_of
    from swarmwatch.cli.import_tables import confirmed
    from swarmwatch.evidence import load_evidence
    from swarmwatch.records import open_records
    from swarmwatch.records.importing import check_reads, refuse_faults, store_checked

    with open_records(records) as opened:
        stored = opened.frames()
        if told.needs_colony(stored, name, day) and sys.stdin.isatty():
            told = _ask_colony(told)
        reads, said, minded = notes_of(told, stored, name=name, on=day, evidence=load_evidence())
        checked = check_reads(reads, stored, today=now.date())
        if sys.stdin.isatty():
            accept_unlikely = accept_unlikely or confirmed(checked.doubts)
        refuse_faults(checked, accept_unlikely=accept_unlikely)
        store_checked(opened, checked, at=now, by="box")
    for line in said:
        typer.echo(line)
    for line in minded:
        complain(line)


def _ask_colony(told: "Told") -> "Told":
    """Ask for the colony that a catch became; Enter at the first question leaves it for later."""
    from dataclasses import replace

    questions = (
        "Name of the new colony (Enter: later)",
        "In which yard does it stand",
        "In which hive type, such as langstroth-deep-10 or top-bar",
    )
    answers: list[str] = []
    for question in questions:
        answers.append(typer.prompt(question, default="", show_default=False, err=True).strip())
        if not answers[0]:
            return told
    colony, apiary, hive_type = (a or None for a in answers)
    return replace(told, new_colony=colony, apiary=apiary, hive_type=hive_type)
