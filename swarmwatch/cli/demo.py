"""``swarmwatch demo``: the whole job on an invented scenario, without a network."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import print_json
from swarmwatch.cli.map_files import PLAN_FILES
from swarmwatch.cli.options import AsJson

if TYPE_CHECKING:
    from datetime import date, datetime

    import pandas as pd

    from swarmwatch.records import Records

FILES = ("swarmwatch.sqlite", "scores.csv", *PLAN_FILES, "alerts.ics")

_COLONIES_SHOWN = 6
_EVENING_HOUR = 18
_INVENTED = "Yards, colonies, notes, weather and land are made up."
_NEXT = """Next: open map.html in a browser, print map.pdf and box-sheets.pdf. With your own bees:
`swarmwatch new` starts records, `swarmwatch import` brings your tables, then ask `swarmwatch score`
and `swarmwatch place`."""


def demo(
    *,
    to: Annotated[
        Path, typer.Option("--to", metavar="FOLDER", help="Where the demo's files go.")
    ] = Path("swarmwatch-demo"),
    as_json: AsJson = False,
) -> None:
    """Show the whole job on an invented scenario: scores, bait-box plan, map, alerts.

    Nothing in it is real, and no network is used. A second run replaces the demo's own files and
    never another one. The evening it speaks of is fixed, whatever the date today.

    Example: swarmwatch demo --to bees-demo
    """
    from tempfile import TemporaryDirectory

    from demo_data import ON
    from swarmwatch.cli.demo_folder import refuse_foreign, replace_files
    from swarmwatch.errors import UsageError

    ours = refuse_foreign(to, FILES)
    try:
        to.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(prefix=".swarmwatch-", dir=to) as name:
            made = Path(name)
            scores, plan, sites = _make(made, ON)
            replace_files(made, to, FILES, ours)
    except OSError as error:
        message = f"{to}: {error.strerror or error}. Check that you may write there."
        raise UsageError(message) from error
    files = [to / name for name in FILES]
    if as_json:
        print_json("demo", scores, on=ON.isoformat(), plan=_rows(plan), files=list(map(str, files)))
    else:
        typer.echo(_told(ON, scores, plan, sites, files))


def _make(folder: Path, on: "date") -> tuple["pd.DataFrame", "pd.DataFrame", "pd.DataFrame"]:
    """Write every file into `folder`; return the scores, the plan and the sites."""
    from datetime import UTC, datetime, time

    from demo_data import LAND_FILE
    from demo_data import folder as scenario
    from swarmwatch.alerts.alerting import raise_and_deliver
    from swarmwatch.alerts.channels import Terminal
    from swarmwatch.cli.map_files import Planned, write_plan_files
    from swarmwatch.cli.score import write_scores
    from swarmwatch.evidence import load_evidence
    from swarmwatch.mapping.land import read_land
    from swarmwatch.placement.wishes import Wishes
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import plan_tables, score_tables

    evening = datetime.combine(on, time(_EVENING_HOUR), tzinfo=UTC)
    with open_records(folder / "swarmwatch.sqlite", create=True) as records:
        _import(records, scenario(), evening)
        frames = records.frames()
        scores = score_tables(frames, on, load_evidence())
        raise_and_deliver(
            records,
            scores,
            on=on,
            now=evening,
            channels=[Terminal(lambda _: None)],
            calendar=folder / "alerts.ics",
        )
    sources, plan = plan_tables(frames, on, load_evidence(), Wishes())
    write_scores(scores, folder / "scores.csv", force=False)
    planned = Planned(
        plan=plan,
        sources=sources,
        frames=frames,
        evidence=load_evidence(),
        on=on,
        scores=scores,
        land=read_land((scenario() / LAND_FILE).read_text(encoding="utf-8")),
        credits=["Everything on this map is invented."],
    )
    write_plan_files(folder, planned)
    return scores, plan, frames["sites"]


def _import(records: "Records", scenario: Path, evening: "datetime") -> None:
    """Bring the tables in as `swarmwatch import` does."""
    from demo_data import TABLE_FILES
    from swarmwatch.records.importing import check_reads, refuse_faults, store_checked
    from swarmwatch.records.reading import read_files

    reads = read_files([scenario / name for name in TABLE_FILES])
    checked = check_reads(reads, {}, today=evening.date())
    refuse_faults(checked, accept_unlikely=False)
    store_checked(records, checked, at=evening, by="the invented scenario")


def _told(
    on: "date",
    scores: "pd.DataFrame",
    plan: "pd.DataFrame",
    sites: "pd.DataFrame",
    files: "Sequence[Path]",
) -> str:
    from swarmwatch.cli.place_text import plan_as_text
    from swarmwatch.cli.score_text import scores_as_text
    from swarmwatch.mapping.safety import safety_lines

    today = int((scores["level"] == "today").sum())
    parts = [
        f"An invented scenario, evening of {on.isoformat()}. {_INVENTED}",
        scores_as_text(scores, most=max(_COLONIES_SHOWN, today)),
        plan_as_text(plan, sites, safety_lines()),
        "\n".join(["Files:", *(f"  {path}" for path in files)]),
        _NEXT,
    ]
    return "\n\n".join(parts)


def _rows(plan: "pd.DataFrame") -> list[dict[str, object]]:
    rows: list[dict[str, object]] = json.loads(
        plan.to_json(orient="records", date_format="iso", double_precision=6)
    )
    return rows
