"""What happens on one run: find what crossed, raise it, send it, and say what still stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import pandas as pd

from swarmwatch.alerts.calendar import calendar_bytes, refuse_foreign, write_calendar
from swarmwatch.alerts.channels import TERMINAL, Channel, Message
from swarmwatch.alerts.manners import Manners
from swarmwatch.alerts.outbox import Delivery, deliver, raise_alerts, read_levels, waiting
from swarmwatch.alerts.standings import box_standings, colony_standings
from swarmwatch.alerts.thresholds import Crossings, Held, Standing, at_or_over, crossings
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.records import Records

ACT = "act"


@dataclass(frozen=True, slots=True, kw_only=True)
class Alerted:
    """What one run did: newly raised, tried to send, and what stands at or over the act line.

    `held` counts what quiet hours keep waiting.
    """

    raised: tuple[Message, ...]
    deliveries: tuple[Delivery, ...]
    over_the_line: tuple[Standing, ...]
    held: int = 0


def standings_of(
    records: Records, scores: pd.DataFrame, *, on: date, evidence: Evidence
) -> list[Standing]:
    """Gather where every colony of `scores` and every checked bait box of the records stands."""
    return colony_standings(scores) + box_standings(
        records.frame("checks"),
        on=on,
        evidence=evidence,
        hangings=records.frame("hangings"),
        catches=records.frame("catches"),
    )


def raise_and_deliver(
    records: Records,
    scores: pd.DataFrame,
    *,
    on: date,
    now: datetime,
    channels: Sequence[Channel],
    calendar: Path | None = None,
    force: bool = False,
    lowest: str = ACT,
    evidence: Evidence | None = None,
    manners: Manners = Manners(),  # noqa: B008 - it can't be changed
) -> Alerted:
    """Raise what crossed a line, send what waits, write the calendar.

    Parameters
    ----------
    records
        The open records.
    scores
        The `scores` table of every colony, of the evening `on`.
    on
        The evening.
    now
        The moment, with its zone.
    channels
        Where alerts go, in this order. Without any, they wait for the terminal.
    calendar
        The calendar file to make anew; None for none.
    force
        Write over a calendar file of another program.
    lowest
        The lowest level that alerts.
    evidence
        The shipped numbers if None.
    manners
        When services are left alone, what goes out as one message, how often a message is tried.

    Returns
    -------
    What was raised and sent, and what stands at or over the act line.

    Raises
    ------
    UsageError
        The calendar file is another program's or can't be written.
    StoreError
        The records can't be written.
    """
    evidence = load_evidence() if evidence is None else evidence
    if calendar is not None:
        refuse_foreign(calendar, force=force)
    standings = standings_of(records, scores, on=on, evidence=evidence)

    def find(before: dict[str, Held]) -> Crossings:
        return crossings(standings, before, evidence=evidence, lowest=lowest)

    # without a channel, alerts wait for the terminal: none may be lost
    names = [channel.name for channel in channels] or [TERMINAL]
    raised = raise_alerts(records, find, channels=names, now=now)
    over = at_or_over(standings, ACT)
    deliveries = deliver(records, channels, now=now, manners=manners)
    held = sum(
        len(waiting(records, c.name, now=now)) for c in channels if manners.hold_back(c, now)
    )
    if calendar is not None:
        to_do = at_or_over(standings, lowest)
        write_calendar(calendar, calendar_bytes(to_do, made_at=now, evidence=evidence))
    return Alerted(
        raised=tuple(raised),
        deliveries=tuple(deliveries),
        over_the_line=tuple(over),
        held=held,
    )


def would_raise(
    records: Records,
    scores: pd.DataFrame,
    *,
    on: date,
    lowest: str = ACT,
    evidence: Evidence | None = None,
) -> tuple[list[Standing], list[Standing]]:
    """Find what a run would raise, and what stands at or over the act line; write nothing."""
    evidence = load_evidence() if evidence is None else evidence
    standings = standings_of(records, scores, on=on, evidence=evidence)
    with records.reading() as connection:
        before = read_levels(connection)
    found = crossings(standings, before, evidence=evidence, lowest=lowest)
    return list(found.raised), at_or_over(standings, ACT)
