"""Is a service's answer built as agreed? What isn't is refused by name, never guessed."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, NoReturn

from data_sources.errors import SourceMalformed
from data_sources.weather.units import converter

_YEARS = range(1700, 2201)  # station records begin in the 1700s; others are slips
_SAID = 200


@dataclass(frozen=True, slots=True)
class Shape:
    """Checks parts of one provider's answer; every method raises SourceMalformed on a fault."""

    provider: str

    def refuse(self, what: str) -> NoReturn:
        """Refuse an answer: `what` goes on after the provider's name."""
        message = f"{self.provider} {what}. Try again later."
        raise SourceMalformed(message)

    def answer(self, payload: object) -> Mapping[str, Any]:
        """Return an answer that is an object and no error."""
        if not isinstance(payload, dict):
            self.refuse(f"sent a {type(payload).__name__} instead of one place's answer")
        if payload.get("error"):
            self.refuse(f"refused: {one_line(payload.get('reason', 'no reason given'))}")
        return payload

    def member(self, holder: Mapping[str, Any], key: str) -> Mapping[str, Any]:
        """Return the object under a key."""
        value = holder.get(key)
        if not isinstance(value, dict):
            self.refuse(f"sent an answer without {key!r}")
        return value

    def array(self, holder: Mapping[str, Any], key: str) -> list[Any]:
        """Return the array under a key."""
        value = holder.get(key)
        if not isinstance(value, list):
            self.refuse(f"sent an answer without the series {key!r}")
        return value

    def text(self, holder: Mapping[str, Any], key: str) -> str:
        """Return the text under a key."""
        value = holder.get(key)
        if not isinstance(value, str):
            self.refuse(f"sent an answer without {key!r}")
        return value

    def number(self, cell: object, name: str) -> float | None:
        """Return a finite number, or None for a null."""
        if cell is None:
            return None
        if isinstance(cell, bool) or not isinstance(cell, int | float) or not _finite(cell):
            self.refuse(f"sent {str(cell)[:40]!r} in {name!r} where a number should be")
        return float(cell)

    def day(self, text: object, pattern: str | None = None) -> date:
        """Return a day written in ISO 8601, or by a pattern of `datetime.strptime`."""
        try:
            if pattern is None:
                return date.fromisoformat(text)  # type: ignore[arg-type] # caught below
            # a day of the place: it has no zone
            return datetime.strptime(text, pattern).date()  # type: ignore[arg-type] # noqa: DTZ007
        except (ValueError, TypeError):
            self.refuse("sent something else where a date should be")

    def instant(self, text: object) -> datetime:
        """Return an instant written in ISO 8601 with its zone, in UTC."""
        try:
            instant = datetime.fromisoformat(text)  # type: ignore[arg-type] # caught below
        except (ValueError, TypeError):
            self.refuse("sent something else where a time should be")
        if instant.tzinfo is None or instant.year not in _YEARS:
            self.refuse("sent a time without its zone, or of no sensible year")
        return instant.astimezone(UTC)

    def scaled(self, cell: object, name: str, scale: tuple[float, float]) -> float | None:
        """Return a number in our unit by the factor and offset of `units.converter`."""
        number = self.number(cell, name)
        return None if number is None else (number - scale[1]) * scale[0]

    def series(
        self,
        holder: Mapping[str, Any],
        units: Mapping[str, Any],
        name: str,
        *,
        column: str,
        length: int,
    ) -> list[float | None]:
        """Return a series of `length` values in the unit of our `column`."""
        cells = self.array(holder, name)
        if len(cells) != length:
            self.refuse(f"sent {len(cells)} values of {name!r} for {length} days")
        scale = converter(column, units.get(name), self.provider)
        return [self.scaled(cell, name, scale) for cell in cells]


def known_days(
    days: Sequence[date], values: Mapping[str, Sequence[float | None]]
) -> tuple[list[date], dict[str, list[float | None]]]:
    """Leave out the days on which nothing at all is known."""
    known = [i for i in range(len(days)) if any(v[i] is not None for v in values.values())]
    return [days[i] for i in known], {c: [v[i] for i in known] for c, v in values.items()}


def one_line(text: object) -> str:
    """Return a service's own words as one short printable line."""
    line = "".join(c if c.isprintable() else " " for c in str(text))
    return line.strip(" .")[:_SAID]


def _finite(cell: float) -> bool:
    try:
        return math.isfinite(cell)
    except OverflowError:  # a whole number beyond any float
        return False
