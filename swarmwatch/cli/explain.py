"""The verb `explain`: a score walked through, a word of the trade, or the season of a place."""

from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from swarmwatch.cli.console import evening_on, parse_day
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, On, OwnEvidence, Records

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

    from swarmwatch.evidence import Evidence


def explain(
    what: Annotated[
        str | None, typer.Argument(metavar="COLONY|WORD", help="What to explain.")
    ] = None,
    *,
    words: Annotated[
        bool, typer.Option("--words", help="Explain all words of the trade that are used here.")
    ] = False,
    season: Annotated[
        bool,
        typer.Option(
            "--season", help="Show when swarms come, week by week, at each of your yards."
        ),
    ] = False,
    on: On = None,
    as_json: AsJson = False,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
) -> None:
    """Walk through a colony's score step by step, with each number and where it is from.

    Made for two to read together, one who knows bees and one who begins. A word of the trade in
    place of a colony is explained instead; --words explains all, --season shows an average year.

    Example: swarmwatch explain Garnet --on 2026-06-05
    """
    from datetime import datetime

    if (what is not None) + words + season != 1:
        message = "give one of: the name of a colony, a word of the trade, --words or --season"
        raise typer.BadParameter(message, param_hint="COLONY|WORD")
    evening = evening_on(datetime.now().astimezone(), parse_day(on, "--on"))
    if words:
        _show_words(None, as_json=as_json)
        return
    from swarmwatch.sheets.glossary import word_for

    if what is not None and word_for(what) is not None and not _is_colony(records, what):
        _show_words(what, as_json=as_json)
        return
    from swarmwatch.cli.score import frames_and_evidence

    frames, evidence = frames_and_evidence(records, own_evidence)
    if what is None:
        _show_season(frames, evening, evidence, as_json=as_json)
    else:
        _show_walk(frames, what, evening, evidence, as_json=as_json)


def _is_colony(records: str, name: str) -> bool:
    """Say whether the records, where there are any, hold a colony of that name."""
    from swarmwatch.errors import StoreError
    from swarmwatch.records import open_records

    try:
        with open_records(records, create=False) as store:
            return _named(store.frame("colonies"), name) is not None
    except StoreError:
        return False


def _named(colonies: "pd.DataFrame", name: str) -> str | None:
    by_lower = {str(c).casefold(): str(c) for c in colonies["colony"]}
    return by_lower.get(name.strip().casefold())


def _show_words(asked: str | None, *, as_json: bool) -> None:
    from swarmwatch.cli.explain_text import words_as_text
    from swarmwatch.sheets.glossary import glossary, word_for

    one = None if asked is None else word_for(asked)
    shown = list(glossary()) if one is None else [one]
    if as_json:
        import pandas as pd

        from swarmwatch.cli.console import print_json

        rows = [[w.word, list(w.also), w.means] for w in shown]
        print_json("words", pd.DataFrame(rows, columns=["word", "also", "means"]))
    else:
        typer.echo(words_as_text(shown))


def _show_season(
    frames: "dict[str, pd.DataFrame]", on: "date", evidence: "Evidence", *, as_json: bool
) -> None:
    from swarmwatch.cli.explain_text import seasons_as_text
    from swarmwatch.errors import UsageError
    from swarmwatch.sheets.season_calendar import season_calendars

    if frames["apiaries"].empty:
        message = (
            "The records hold no yard, so there is no place to tell the season of. "
            "Add one with `swarmwatch new` or `swarmwatch import apiaries.csv`."
        )
        raise UsageError(message)
    calendars = season_calendars(frames["apiaries"], frames["weather"], on=on, evidence=evidence)
    if not as_json:
        typer.echo(seasons_as_text(calendars, evidence))
        return
    import pandas as pd

    from swarmwatch.cli.console import print_json

    rows = [
        [c.apiary, w.monday.isoformat(), w.share, w.by_then, list(w.to_do)]
        for c in calendars
        for w in c.weeks
    ]
    columns = ["apiary", "monday", "share", "by_then", "to_do"]
    peaks = {c.apiary: [d.isoformat() for d in (c.early, c.peak_on, c.late)] for c in calendars}
    print_json("season", pd.DataFrame(rows, columns=columns), on=on.isoformat(), peaks=peaks)


def _show_walk(
    frames: "dict[str, pd.DataFrame]",
    name: str,
    on: "date",
    evidence: "Evidence",
    *,
    as_json: bool,
) -> None:
    from swarmwatch.cli.explain_text import walk_as_json, walk_as_text
    from swarmwatch.errors import UsageError
    from swarmwatch.records.scoring import only_of, score_tables
    from swarmwatch.sheets.explain import explain as steps_of
    from swarmwatch.swarming.walk import walk_through

    colony = _named(frames["colonies"], name)
    if colony is None:
        _refuse(frames["colonies"], name)
    walk = walk_through(frames, colony, on=on, evidence=evidence)
    if walk is None:
        message = f"{colony} died, was united or absconded by {on.isoformat()}: it has no score."
        raise UsageError(message)
    scores = score_tables(only_of(frames, [colony]), on, evidence)
    (row,) = scores.to_dict("records")
    steps = steps_of(walk, row, evidence)
    if as_json:
        from swarmwatch.cli.console import print_json

        print_json("explain", scores, steps=walk_as_json(steps, evidence))
    else:
        typer.echo(walk_as_text(colony, walk, steps, evidence))


def _refuse(colonies: "pd.DataFrame", name: str) -> NoReturn:
    from difflib import get_close_matches

    from swarmwatch.errors import UsageError
    from swarmwatch.sheets.glossary import near_words

    by_lower = {str(c).casefold(): str(c) for c in colonies["colony"]}
    near = [by_lower[n] for n in get_close_matches(name.strip().casefold(), by_lower, n=3)]
    near += near_words(name)
    meant = f"Did you mean {' or '.join(near)}? " if near else ""
    message = (
        f"{name!r} is neither a colony on record nor a word explained here. {meant}"
        "`swarmwatch score` lists the colonies, `swarmwatch explain --words` the words."
    )
    raise UsageError(message)
