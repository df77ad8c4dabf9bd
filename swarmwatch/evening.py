"""Which evening is spoken of? Shells call it; the core takes the day as an argument."""

from datetime import date, datetime, timedelta

# tables.md: before this local hour it is the evening before that is spoken of
_HOUR = 17


def last_evening(now: datetime) -> date:
    """Return the day of the last evening that has passed; `now` carries the yard's own zone."""
    return now.date() if now.hour >= _HOUR else now.date() - timedelta(days=1)
