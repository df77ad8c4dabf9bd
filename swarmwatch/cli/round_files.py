"""The files of a round: page, sheets and calendar, each whole or not at all, the same twice."""

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.alerts.thresholds import Standing
    from swarmwatch.evidence import Evidence
    from swarmwatch.sheets.round_facts import Apart, BoxVisit, Round

PAGE, SHEETS, CALENDAR = "round.html", "round-sheets.pdf", "round.ics"
FILES = (PAGE, SHEETS, CALENDAR)
_WORDS = (
    (SHEETS, "sheets to print and fill in, one set a yard"),
    (CALENDAR, "what is due, for your calendar"),
)
# what an entry says of when it was written, and nothing of what is due
_WRITTEN = re.compile(rb"^(?:DTSTAMP|SEQUENCE)[:;].*\r?\n", re.MULTILINE)
_VERB = "round"


def refuse_foreign_files(folder: Path, *, force: bool) -> dict[str, list[str]]:
    """Refuse a folder that holds other files of these names; return our own, by fingerprint.

    Raises
    ------
    UsageError
        A file there is not of an earlier round, or was changed since, and `force` is not set.
    """
    from swarmwatch.cli.demo_folder import refuse_foreign

    return {} if force else refuse_foreign(folder, FILES, verb=_VERB)


def write_round_files(
    folder: Path,
    facts: "Round",
    frames: Mapping[str, "pd.DataFrame"],
    calendar: bytes,
    *,
    paper: str,
    ours: dict[str, list[str]],
) -> list[Path]:
    """Write the round's files; a second run of the same facts leaves the same bytes.

    Parameters
    ----------
    folder
        Where they go; made if it isn't there.
    facts, frames
        The round and the keeper's tables.
    calendar
        What `round_calendar` gives.
    paper
        "a4" or "letter".
    ours
        What `refuse_foreign_files` gave.

    Returns
    -------
    The files.

    Raises
    ------
    UsageError
        The folder can't be written; nothing there is half done.
    """
    from tempfile import TemporaryDirectory

    from swarmwatch.cli.demo_folder import replace_files
    from swarmwatch.errors import UsageError
    from swarmwatch.sheets.inspection_sheet import inspection_sheets
    from swarmwatch.sheets.round_page import round_page

    contents = {
        PAGE: round_page(facts, files=_WORDS).encode("utf-8"),
        SHEETS: inspection_sheets(facts, frames, paper=paper),
        CALENDAR: _kept(folder / CALENDAR, calendar),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(prefix=".swarmwatch-", dir=folder) as name:
            for file, content in contents.items():
                (Path(name) / file).write_bytes(content)
            replace_files(Path(name), folder, FILES, ours, verb=_VERB)
    except OSError as error:
        message = f"{folder}: {error.strerror or error}. Check that you may write there."
        raise UsageError(message) from error
    return [folder / file for file in FILES]


def round_calendar(
    standings: Sequence["Standing"], facts: "Round", *, now: datetime, evidence: "Evidence"
) -> bytes:
    """Write the calendar: what is to be done by a day at colonies, bait boxes and caught swarms.

    The next look at a quiet colony is on page and sheet only: a bell for each would be too many.

    The entries and their identities are those of `swarmwatch alert`, so a calendar that reads
    both shows each colony and box once.
    """
    from swarmwatch.alerts.calendar import calendar_bytes
    from swarmwatch.alerts.thresholds import at_or_over

    over = at_or_over(standings, "look-soon")
    # a quiet colony may need room, too, by a day
    over += [s for s in standings if s.kind == "colony" and s.do_by is not None and s not in over]
    named = {s.subject for s in over}
    more = [
        *(_check(box, box.do_by, facts.on) for box in facts.boxes if box.do_by is not None),
        *(_apart(a, a.do_by, facts.on) for a in facts.apart if a.do_by is not None),
    ]
    due = [*over, *(s for s in more if s.subject not in named)]
    return calendar_bytes(due, made_at=now, evidence=evidence)


def _apart(apart: "Apart", do_by: date, on: date) -> "Standing":
    from swarmwatch.alerts.thresholds import Standing
    from swarmwatch.wording import one_line

    return Standing(
        kind="colony",
        name=apart.colony,
        on=on,
        level="look-soon",
        score=None,
        text=f"Caught colony {one_line(apart.colony)}: {one_line(apart.do)}.",
        do_by=max(do_by, on + timedelta(days=1)),
    )


def _check(box: "BoxVisit", do_by: date, on: date) -> "Standing":
    from swarmwatch.alerts.thresholds import Standing
    from swarmwatch.wording import one_line

    # a check that was due before today is due today: a past day is in nobody's calendar
    day = max(do_by, on + timedelta(days=1))
    return Standing(
        kind="box",
        name=box.box,
        on=on,
        level="look-soon",
        score=None,
        text=f"Bait box {one_line(box.box)}: {one_line(box.state)}. Look by {day.isoformat()}.",
        advice=box.do,
        do_by=day,
    )


def _kept(path: Path, content: bytes) -> bytes:
    """Return the calendar that is there where it says the same: only its stamps would change."""
    try:
        there = path.read_bytes()
    except OSError:
        return content
    return there if _WRITTEN.sub(b"", there) == _WRITTEN.sub(b"", content) else content
