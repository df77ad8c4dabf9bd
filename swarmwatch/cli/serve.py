"""The verb `serve`: the pages for the phone, from this machine."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain, parse_day
from swarmwatch.cli.options import RECORDS_DEFAULT, Force, On, OwnEvidence, Records

if TYPE_CHECKING:
    import datetime as dt
    import socket

    from swarmwatch.page.desk import Desk
    from swarmwatch.records import Records as Store

_OPEN_NETWORK = (
    "Mind: this goes over http. Whoever is on that network can read what you read and write. Use "
    "a network of your own, none that is open to guests, and end this when you are done."
)


def serve(
    *,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="Where to listen; 0 takes a free one.")
    ] = 8765,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan", help="Let phones on your network in, too, each with a code shown here."
        ),
    ] = False,
    form_file: Annotated[
        Path | None,
        typer.Option(
            "--form-file",
            metavar="FILE",
            help="Write the form file for a yard with no network, and end.",
        ),
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Start, ask for the first page, tell how it went, end.")
    ] = False,
    on: On = None,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Serve today's list, each colony's history, the forms and the map as pages for the phone.

    Only this machine can open them unless --lan is given. End it with Ctrl+C. With --check it ends
    by itself.

    Example: swarmwatch serve --check --port 0 --on 2026-06-05
    """
    from swarmwatch.records import open_records

    day = parse_day(on, "--on")
    if form_file is not None:
        _write_form_file(form_file, records, force=force)
        return
    with open_records(records) as store:
        desk = _desk(store, day, own_evidence, ahead=not check)
        try:
            _serve(desk, port=port, lan=lan, check=check)
        finally:
            desk.close()


def _desk(
    store: "Store", day: "dt.date | None", own_evidence: Path | None, *, ahead: bool
) -> "Desk":
    from datetime import datetime
    from functools import partial

    from swarmwatch.page.desk import Desk
    from swarmwatch.records.scoring import evidence_for

    return Desk(
        store,
        clock=lambda: datetime.now().astimezone(),
        evidence_of=partial(evidence_for, own_evidence),
        on=day,
        ahead=ahead,
    )


def _serve(desk: "Desk", *, port: int, lan: bool, check: bool) -> None:
    import time
    from contextlib import suppress

    from swarmwatch.page.app import make_app
    from swarmwatch.page.house import House
    from swarmwatch.page.pairing import Pairing
    from swarmwatch.page.serving import (
        HERE,
        lan_address,
        listen,
        names_of,
        serve_until_ended,
        serve_while,
    )

    sockets = listen([HERE, *([lan_address()] if lan else [])], port)
    try:
        pairing = Pairing(clock=time.monotonic, show=_show_code) if lan else None
        house = House(desk=desk, hosts=names_of(sockets), pairing=pairing)
        complain("Working out the scores ...")
        desk.standing()
        app = make_app(house)
        if check:
            serve_while(app, sockets, _answers)
            return
        _tell(sockets, lan=lan)
        with suppress(KeyboardInterrupt):
            serve_until_ended(app, sockets)
        complain("Ended.")
    finally:
        for listening in sockets:
            listening.close()


def _answers(host: str) -> None:
    from swarmwatch.page.serving import ask_once

    typer.echo(f"http://{host}/ answers: {ask_once(host)} bytes.")


def _tell(sockets: "list[socket.socket]", *, lan: bool) -> None:
    for listening, who in zip(sockets, ("this machine", "phones on your network"), strict=False):
        host, port = listening.getsockname()[:2]
        typer.echo(f"http://{host}:{port}/ for {who}")
    if lan:
        complain("A phone that opens that address is asked for a code, which is shown here.")
        complain(_OPEN_NETWORK)
    complain("Ctrl+C ends it.")


def _show_code(code: str) -> None:
    half = len(code) // 2
    complain(
        f"A phone asks to come in. Its code: {code[:half]} {code[half:]} (works once, for ten "
        "minutes; if you did not ask, type it nowhere)."
    )


def _write_form_file(path: Path, records: str, *, force: bool) -> None:
    from datetime import datetime

    from swarmwatch.cli.files import refuse_existing, write_whole
    from swarmwatch.page.form_file import form_file
    from swarmwatch.page.house import page_templates
    from swarmwatch.records import open_records

    refuse_existing(path, force=force)
    with open_records(records) as store:
        frames = {name: store.frame(name) for name in ("colonies", "hives", "boxes")}
    today = datetime.now().astimezone().date()
    made = form_file(page_templates(), frames, made_on=today)
    write_whole(path, made.encode("utf-8"), force=force)
    typer.echo(f"{path}")
    complain(
        "Take it to the phone and open it in Chromium (Chrome on Android is one), the only browser "
        "it was tested in; at home: swarmwatch import inspections.csv checks.csv"
    )
