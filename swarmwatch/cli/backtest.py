"""The verb `backtest`: how good was the score, on your own seasons or on simulated ones?"""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Force, OwnEvidence, Records

if TYPE_CHECKING:
    import pandas as pd


_FILES = ("backtest.html", "backtest.pdf")


def backtest(
    *,
    records: Records = RECORDS_DEFAULT,
    season: Annotated[
        list[int] | None,
        typer.Option("--season", metavar="YEAR", help="Only this season; may be repeated."),
    ] = None,
    simulated: Annotated[
        int,
        typer.Option(
            "--simulated", metavar="N", min=0, help="N simulated worlds instead of your records."
        ),
    ] = 0,
    seasons: Annotated[
        int, typer.Option("--seasons", min=1, help="Seasons in each simulated world.")
    ] = 4,
    colonies: Annotated[
        int, typer.Option("--colonies", min=1, help="Colonies in each simulated world.")
    ] = 40,
    cover: Annotated[
        int,
        typer.Option(
            "--cover",
            metavar="SETS",
            min=0,
            help="Sets of parameters for the cover of the ranges; 0 leaves it out.",
        ),
    ] = 32,
    every: Annotated[
        int | None,
        typer.Option(
            "--every", metavar="DAYS", min=1, help="Days between forecasts; default: a week."
        ),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Seed of everything that is drawn.")] = 1,
    learned: Annotated[
        bool,
        typer.Option(
            "--learned", help="Also the score with what it learns from the other seasons; slow."
        ),
    ] = False,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FOLDER", help="Write a page and a PDF there."),
    ] = None,
    as_json: AsJson = False,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Replay past seasons with only what was known each day, and say how good the score was.

    Beside it stand the base rate, a rule of thumb on cell stages, and a model trained on the other
    seasons; with --learned also the score with the numbers that `learn` takes from these. Only
    colonies with an outcome count; a treated colony counts up to its treatment.

    Example: swarmwatch backtest --season 2025 --every 14
    """
    from swarmwatch.cli.backtest_runs import (
        cover_of_ranges,
        forecasts_by_group,
        of_records,
        of_simulation,
    )
    from swarmwatch.cli.backtest_text import as_text, heading
    from swarmwatch.records.scoring import evidence_for

    if simulated and season:
        message = "--season picks from your records; with --simulated say --seasons instead"
        raise typer.BadParameter(message, param_hint="--season")
    if to is not None and not force:
        _refuse_to_replace(to)
    if simulated:
        evidence = evidence_for(own_evidence, None)
        rows, first_tables = of_simulation(
            worlds=simulated,
            seasons=seasons,
            colonies=colonies,
            every=every or 7,
            seed=seed,
            evidence=evidence,
            learned=learned,
            say=_progress,
        )
    else:
        # drawn day by day where a report is asked for
        rows = of_records(
            records,
            wanted=season,
            own_evidence=own_evidence,
            every=every or (7 if to is None else 1),
            seed=seed,
            learned=learned,
            say=_progress,
        )
    words = heading(rows, simulated=simulated, seasons=seasons, colonies=colonies, seed=seed)
    groups = forecasts_by_group(rows, seed=seed)
    held = None
    if simulated and cover:
        _progress("cover of the ranges")
        held = cover_of_ranges(first_tables, sets=cover, seed=seed, evidence=evidence)
    if to is not None:
        _write(to, rows, groups, [*words], force=force)
    if as_json:
        print_json("backtest", groups, about=words, seed=seed, cover=held)
    else:
        typer.echo(as_text(groups, words, held))


def _refuse_to_replace(folder: Path) -> None:
    """Say so before the long run, not after it."""
    from swarmwatch.errors import UsageError

    there = [str(folder / name) for name in _FILES if (folder / name).exists()]
    if there:
        message = f"{', '.join(there)}: there already. Give another folder, or --force."
        raise UsageError(message)


def _progress(text: str) -> None:
    import sys

    if sys.stderr.isatty():
        complain(f"... {text}")


def _write(
    folder: Path,
    rows: "pd.DataFrame",
    groups: "pd.DataFrame",
    words: list[str],
    *,
    force: bool,
) -> None:
    from swarmwatch.cli.backtest_runs import examples_of
    from swarmwatch.cli.backtest_text import pooled_cells
    from swarmwatch.cli.files import write_whole
    from swarmwatch.reports.backtest_report import Report, as_page, as_pdf
    from swarmwatch.swarming.backtest import forecasts_in

    report = Report(
        title=words[0],
        lines=words[1:],
        table=pooled_cells(groups),
        rows=rows,
        examples=examples_of(rows),
        forecasts=forecasts_in(rows),
    )
    contents = (as_page(report).encode("utf-8"), as_pdf(report))
    for name, content in zip(_FILES, contents, strict=True):
        complain(f"Wrote {write_whole(folder / name, content, force=force)}")
