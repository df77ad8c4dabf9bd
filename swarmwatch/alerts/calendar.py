"""Which calendar entries does the keeper need for what stands over a line?

The file is a view of today, made anew on each run. Each colony or bait box has one entry with one
identity (UID) for good: read in again, it moves to the new day instead of standing there twice,
and it is gone from the file when nothing needs doing.
"""

import hashlib
import os
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from icalendar import Alarm, Calendar, Event

from swarmwatch.alerts.thresholds import Standing
from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence
from swarmwatch.wording import one_line

PRODID = "-//swarmwatch//alerts//EN"
_DOMAIN = "alerts.swarmwatch.invalid"


def calendar_bytes(
    standings: Sequence[Standing], *, made_at: datetime, evidence: Evidence
) -> bytes:
    """Write one all-day entry with a reminder for each standing that has a last day.

    Parameters
    ----------
    standings
        What is to be done; one without `do_by` has no entry.
    made_at
        The moment, with its zone; each entry's DTSTAMP.
    evidence
        Gives ``levels.reminder_hour``.

    Returns
    -------
    The iCalendar file; the same arguments give the same bytes.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    reminder = timedelta(hours=evidence.value("levels.reminder_hour"))
    for standing in standings:
        if standing.do_by is not None:
            calendar.add_component(_entry(standing, made_at=made_at, reminder=reminder))
    return bytes(calendar.to_ical())


def refuse_foreign(path: Path, *, force: bool) -> None:
    """Refuse to write over a file that is not a calendar of ours.

    Raises
    ------
    UsageError
        There is such a file and `force` is not set, or the path can't be read.
    """
    if force or not path.exists():
        return
    try:
        ours = _is_ours(path)
    except OSError as error:
        message = f"{path}: {error.strerror}. Check the path."
        raise UsageError(message) from error
    if not ours:
        message = (
            f"{path}: this file was not written by swarmwatch alert, so it is left alone. "
            "Name another file, or give --force."
        )
        raise UsageError(message)


def write_calendar(path: Path, content: bytes) -> None:
    """Put the file in place whole: written beside it first, then moved over.

    Raises
    ------
    UsageError
        The folder is missing or can't be written.
    """
    try:
        handle, beside = tempfile.mkstemp(dir=path.parent, prefix=".swarmwatch-", suffix=".ics")
    except OSError as error:
        raise UsageError(_not_written(path, error)) from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(beside).replace(path)
    except OSError as error:
        Path(beside).unlink(missing_ok=True)
        raise UsageError(_not_written(path, error)) from error


def _not_written(path: Path, error: OSError) -> str:
    return f"{path}: {error.strerror}. Check that the folder exists and that you may write there."


def _is_ours(path: Path) -> bool:
    try:
        return str(Calendar.from_ical(path.read_bytes()).get("prodid", "")) == PRODID
    except (ValueError, IndexError, KeyError):
        return False


def _entry(standing: Standing, *, made_at: datetime, reminder: timedelta) -> Event:
    assert standing.do_by is not None  # noqa: S101 - the caller looked
    what = "Bait box" if standing.kind == "box" else "Colony"
    event = Event()
    event.add("uid", f"{_identity(standing)}@{_DOMAIN}")
    event.add("dtstamp", made_at.astimezone(UTC))
    # of two entries with one UID a calendar keeps the one with the higher number
    event.add("sequence", int(made_at.timestamp()) // 60)
    event.add("dtstart", standing.do_by)
    event.add("dtend", standing.do_by + timedelta(days=1))
    event.add("summary", f"{what} {one_line(standing.name)}: {standing.level}")
    event.add("description", _description(standing))
    event.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", standing.text)
    alarm.add("trigger", reminder)
    event.add_component(alarm)
    return event


def _description(standing: Standing) -> str:
    whole = one_line(standing.advice)
    return standing.text if not whole or whole in standing.text else f"{standing.text}\n{whole}"


def _identity(standing: Standing) -> str:
    return hashlib.sha256(standing.subject.encode("utf-8")).hexdigest()[:32]
