"""Which alerts wait to be sent, and which were: the outbox in the records.

Raising an alert and moving its level are one transaction, and an alert's key is a hash of what
crossed, to which level, on which day and for which channel: running twice raises once. Sending
counts the try before it starts and notes the moment after it worked. An alert noted as sent is
never sent again. An alert can go out twice in two ways, and says so the second time: a crash
between the sending and the note, and a service that answers too late to be understood. A crash
before the sending costs nothing, since the alert still waits. While one program sends, another
leaves that alert alone for five minutes.
"""

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import sqlalchemy as sa

from swarmwatch.alerts.channels import Channel, ChannelError, Message
from swarmwatch.alerts.manners import Manners
from swarmwatch.alerts.thresholds import Crossings, Held, Standing
from swarmwatch.records import Records
from swarmwatch.records.schema import alert_levels, alerts
from swarmwatch.tables.outputs import LEVELS

_LEASE = timedelta(minutes=5)
_SENDING = "being sent since "
_SEEN_BUT_NOT_SENT = "Look whether it came: the program stopped while sending"
_UNSURE = "may have come: "
# first, where a lock screen does not cut it off
_MAYBE_AGAIN = "Maybe again: "


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """What became of one alert: `error` is "" when it was sent."""

    message: Message
    channel: str
    error: str


def key_of(*, subject: str, level: str, on_day: date, channel: str) -> str:
    """Return the key of an alert: the same crossing for the same channel has the same key."""
    said = json.dumps([subject, level, on_day.isoformat(), channel])
    return hashlib.sha256(said.encode("utf-8")).hexdigest()[:32]


def read_levels(connection: sa.Connection) -> dict[str, Held]:
    """Read the level that each subject is held at."""
    return {
        row.subject: Held(level=row.level, on_day=date.fromisoformat(row.on_day))
        for row in connection.execute(sa.select(alert_levels))
    }


def raise_alerts(
    records: Records,
    find: Callable[[dict[str, Held]], Crossings],
    *,
    channels: Sequence[str],
    now: datetime,
) -> list[Message]:
    """Write what crossed into the outbox and hold the new levels, in one transaction.

    Parameters
    ----------
    records
        The open records.
    find
        Takes the levels before, gives what crossed; called inside the transaction, so that two
        programs at once don't both see the old levels.
    channels
        The names of the channels that each alert goes to.
    now
        The moment, with its zone.

    Returns
    -------
    One message for each crossing that was not in the outbox yet, most urgent first.

    Raises
    ------
    StoreError
        The records can't be written; nothing was raised.
    """
    with records.writing() as connection:
        found = find(read_levels(connection))
        rows = [_row(s, channel, now) for s in found.raised for channel in channels]
        known = set(
            connection.scalars(
                sa.select(alerts.c.alert).where(alerts.c.alert.in_([r["alert"] for r in rows]))
            )
        )
        new = [row for row in rows if row["alert"] not in known]
        if new:
            connection.execute(alerts.insert(), new)
        connection.execute(alert_levels.delete())
        held = [
            {"subject": subject, "level": h.level, "on_day": h.on_day.isoformat()}
            for subject, h in found.held.items()
        ]
        if held:
            connection.execute(alert_levels.insert(), held)
    said: dict[tuple[object, object], Message] = {}
    for row in new:
        said.setdefault((row["colony"], row["box"]), _message(row))
    return list(said.values())


def waiting(records: Records, channel: str, *, now: datetime) -> list[Message]:
    """Return a channel's alerts that nobody is sending, oldest first, then most urgent first."""
    query = (
        sa.select(alerts)
        .where(alerts.c.channel == channel, alerts.c.sent_at.is_(None))
        .order_by(alerts.c.raised_at, alerts.c.alert)
    )
    with records.reading() as connection:
        rows = connection.execute(query).mappings().all()
    free = [row for row in rows if not _leased(row["error"], now)]
    free.sort(key=lambda row: (row["raised_at"], -LEVELS.index(row["level"])))
    return [_message(row) for row in free]


def deliver(
    records: Records,
    channels: Sequence[Channel],
    *,
    now: datetime,
    manners: Manners = Manners(),  # noqa: B008 - it can't be changed
) -> list[Delivery]:
    """Send what waits through each channel.

    A failed alert keeps its error, its secrets masked, and waits for the next run; the other
    alerts and channels go on.

    Parameters
    ----------
    records
        The open records.
    channels
        Where to send, in this order.
    now
        The moment, in the keeper's zone.
    manners
        When services are left alone, what goes out as one message, how often a message is tried.

    Returns
    -------
    What became of each alert that was tried.
    """
    done: list[Delivery] = []
    for channel in channels:
        if manners.hold_back(channel, now):
            continue
        for parcel in manners.parcels(channel, waiting(records, channel.name, now=now)):
            claimed = [m for m in parcel if _claim(records, m, now)]
            if claimed:
                done.extend(_send(records, channel, claimed, now, manners))
    return done


def _send(
    records: Records, channel: Channel, messages: list[Message], now: datetime, manners: Manners
) -> list[Delivery]:
    fault, tries = _try(channel, messages), 0
    for wait_s in manners.waits_s:
        if fault is None or not fault.passing:
            break
        manners.sleep(wait_s)
        fault, tries = _try(channel, messages), tries + 1
    error = "" if fault is None else str(fault)
    with records.writing() as connection:
        for message in messages:
            noted: dict[str, object] = {"error": None, "sent_at": now}
            if fault is not None:
                # a clear refusal of the second try says nothing of the first
                unsure = fault.unsure or message.unsure
                noted = {"error": f"{_UNSURE if unsure else ''}{error}"}
            connection.execute(
                alerts.update()
                .where(alerts.c.alert == message.key)
                .values(tries=alerts.c.tries + tries, **noted)
            )
    return [Delivery(message=m, channel=channel.name, error=error) for m in messages]


def _try(channel: Channel, messages: list[Message]) -> ChannelError | None:
    try:
        channel.send(messages)
    except ChannelError as fault:
        return fault
    return None


def _claim(records: Records, message: Message, now: datetime) -> bool:
    """Count the try and mark the alert as being sent, unless another program did so since."""
    mark = f"{_SENDING}{now.astimezone(UTC).isoformat()}. {_SEEN_BUT_NOT_SENT}."
    with records.writing() as connection:
        claimed = connection.execute(
            alerts.update()
            .where(
                alerts.c.alert == message.key,
                alerts.c.sent_at.is_(None),
                alerts.c.tries == message.tries,
            )
            .values(tries=alerts.c.tries + 1, error=mark)
        )
        return claimed.rowcount == 1


def _leased(error: str | None, now: datetime) -> bool:
    if not error or not error.startswith(_SENDING):
        return False
    since = datetime.fromisoformat(error.removeprefix(_SENDING).split(". ")[0])
    return since <= now < since + _LEASE


def _row(standing: Standing, channel: str, now: datetime) -> dict[str, object]:
    return {
        "alert": key_of(
            subject=standing.subject, level=standing.level, on_day=standing.on, channel=channel
        ),
        "colony": standing.name if standing.kind == "colony" else None,
        "box": standing.name if standing.kind == "box" else None,
        "raised_at": now,
        "level": standing.level,
        "text": standing.text,
        "channel": channel,
        "sent_at": None,
        "tries": 0,
        "error": None,
    }


def _message(row: "sa.RowMapping | dict[str, object]") -> Message:
    unsure = str(row["error"] or "").startswith((_SENDING, _UNSURE))
    return Message(
        key=str(row["alert"]),
        level=str(row["level"]),
        text=f"{_MAYBE_AGAIN if unsure else ''}{row['text']}",
        colony=None if row["colony"] is None else str(row["colony"]),
        box=None if row["box"] is None else str(row["box"]),
        tries=int(str(row["tries"])),
        unsure=unsure,
    )
