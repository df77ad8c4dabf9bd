"""When is the keeper left alone, what goes out as one message, and how often is one tried?"""

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from swarmwatch.alerts.channels import Channel, Message
from swarmwatch.errors import UsageError
from swarmwatch.tables.outputs import LEVELS

_HOURS = re.compile(r"(\d{1,2})(?::([0-5]\d))?-(\d{1,2})(?::([0-5]\d))?")
_HOURS_A_DAY = 24
_MINUTES_AN_HOUR = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class QuietHours:
    """Minutes of the day, by the keeper's clock, from which and until which nothing goes out."""

    start: int
    end: int

    @classmethod
    def read(cls, text: str) -> "QuietHours":
        """Read such hours as ``22-7`` or ``21:30-06:45``.

        Raises
        ------
        UsageError
            They are written otherwise, or are no hours.
        """
        found = _HOURS.fullmatch(text.strip())
        if found:
            hours = [int(found[i]) for i in (1, 3)]
            start, end = (
                hour * _MINUTES_AN_HOUR + int(minute or 0)
                for hour, minute in zip(hours, (found[2], found[4]), strict=True)
            )
            if max(hours) < _HOURS_A_DAY and start != end:
                return cls(start=start, end=end)
        message = f"quiet hours {text!r}: write from and until, such as 22-7 or 21:30-06:45."
        raise UsageError(message)

    def hold(self, minute: int) -> bool:
        """Say whether a minute of the day [0..1439] lies in them; they may go over midnight."""
        if self.start < self.end:
            return self.start <= minute < self.end
        return minute >= self.start or minute < self.end


@dataclass(frozen=True, slots=True, kw_only=True)
class Manners:
    """How alerts go out through services; the terminal, which wakes nobody, knows no manners.

    `quiet` hours hold all back until a run after them. Alerts up to the level `digest` go out as
    one message a run, higher ones each by itself; None gives each its own. A message that was not
    taken is tried again in the same run after each of `waits_s`, `sleep` waits so long [s].
    """

    quiet: QuietHours | None = None
    digest: str | None = None
    waits_s: Sequence[float] = ()
    sleep: Callable[[float], None] = time.sleep

    def __post_init__(self) -> None:
        """Refuse a level that is none."""
        if self.digest is not None and self.digest not in LEVELS:
            message = f"digest level {self.digest!r} is not known. Choose of {', '.join(LEVELS)}."
            raise UsageError(message)

    def hold_back(self, channel: Channel, now: datetime) -> bool:
        """Say whether nothing goes out through a channel now, by the clock of `now`'s zone."""
        if channel.together or self.quiet is None:
            return False
        return self.quiet.hold(now.hour * _MINUTES_AN_HOUR + now.minute)

    def parcels(self, channel: Channel, messages: Sequence[Message]) -> list[list[Message]]:
        """Share out what waits for a channel into what is sent at once, in its order."""
        if channel.together:
            return [list(messages)]
        highest = -1 if self.digest is None else LEVELS.index(self.digest)
        alone = [m for m in messages if LEVELS.index(m.level) > highest]
        others = [m for m in messages if LEVELS.index(m.level) <= highest]
        return [[m] for m in alone] + ([others] if others else [])
