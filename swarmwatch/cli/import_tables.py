"""``swarmwatch import``: bring files into the records, all of them or none."""

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, print_json
from swarmwatch.cli.options import RECORDS_DEFAULT, AsJson, Records

if TYPE_CHECKING:
    from datetime import datetime

    import pandas as pd

    from swarmwatch.errors import Problem
    from swarmwatch.records import Stored
    from swarmwatch.records.importing import Checked


def import_tables(
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE...",
            help="CSV, XLSX, Parquet or GeoJSON files named as the tables, or folders of them.",
        ),
    ],
    *,
    records: Records = RECORDS_DEFAULT,
    table: Annotated[
        str | None,
        typer.Option("--table", metavar="TABLE", help="Which table it is, whatever its name."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be done and write nothing.")
    ] = False,
    good_rows: Annotated[
        bool, typer.Option("--good-rows", help="Import the rows without faults, list the others.")
    ] = False,
    accept_unlikely: Annotated[
        bool, typer.Option("--accept-unlikely", help="Keep values that are unlikely but possible.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Bring files into your records; on any fault nothing is imported and every fault is named.

    The same file twice changes nothing. A row whose key is stored already corrects it, and the
    earlier values are kept. Nothing is deleted.

    Example: swarmwatch import colonies.csv inspections.csv
    """
    from datetime import datetime

    from swarmwatch.records.importing import check_reads, refuse_faults, remarks, without_refused
    from swarmwatch.records.reading import read_files

    now = datetime.now().astimezone()
    reads = read_files(files, table=table)
    stored = _stored(records)
    checked = check_reads(reads, stored, today=now.date())
    for remark in remarks(checked):
        complain(remark)
    undecided = good_rows or not checked.faults  # a file that is refused anyway asks nothing
    accepted = accept_unlikely or (undecided and confirmed(checked.doubts))
    refused: Sequence[Problem] = ()
    if good_rows:
        checked, refused = without_refused(
            checked, stored, today=now.date(), accept_unlikely=accepted
        )
    refuse_faults(checked, accept_unlikely=accepted)
    done = _store(records, checked, now, dry_run=dry_run)
    _report(done, as_json=as_json, dry_run=dry_run)
    if refused:
        rows = len({(p.table, p.row) for p in refused})
        complain("\n".join(map(str, refused)))
        were = "row was" if rows == 1 else "rows were"
        complain(f"{rows} {were} refused; mend and import again.")
        raise typer.Exit(1)


def _stored(records: str) -> "Mapping[str, pd.DataFrame]":
    """Read what is stored; a store that isn't there is not made before all is checked."""
    from swarmwatch.records import open_records, records_exist

    if not records_exist(records):
        return {}
    with open_records(records) as opened:
        return opened.frames()


def confirmed(doubts: "Sequence[Problem]") -> bool:
    """Ask about every unlikely value on a terminal; without one they are refused."""
    if not doubts or not sys.stdin.isatty():
        return False
    for doubt in doubts:
        complain(str(doubt))
    return typer.confirm("Are these values right?", default=False, err=True)


def _store(
    records: str, checked: "Checked", now: "datetime", *, dry_run: bool
) -> "Mapping[str, Stored]":
    from swarmwatch.records import open_records, records_exist
    from swarmwatch.records.importing import store_checked

    # a dry run without a store is tried in memory
    place = "sqlite://" if dry_run and not records_exist(records) else records
    names = ", ".join(dict.fromkeys(read.source for read in checked.reads))
    with open_records(place, create=True) as opened:
        return store_checked(opened, checked, at=now, by=names, keep=not dry_run)


def _report(done: "Mapping[str, Stored]", *, as_json: bool, dry_run: bool) -> None:
    if as_json:
        from dataclasses import asdict

        import pandas as pd

        rows = [{"table": name, **asdict(stored)} for name, stored in done.items()]
        print_json("import", pd.DataFrame(rows), dry_run=dry_run)
    else:
        for name, s in done.items():
            typer.echo(
                f"{name}: {s.new} new, {s.corrected} corrected, {s.unchanged} unchanged"
                + (" (not written: --dry-run)" if dry_run else "")
            )
    for name, s in done.items():
        if s.blanked:
            are = "value is" if s.blanked == 1 else "values are"
            complain(
                f"{name}: {s.blanked} stored {are} blank now, as in the file; "
                "what was there is kept with the corrections."
            )
