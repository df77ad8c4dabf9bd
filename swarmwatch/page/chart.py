"""Draw a colony's chance by day, with its range, what was seen and what was done."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from swarmwatch.wording import per_cent

_WIDTH, _HEIGHT = 340, 190
_LEFT, _RIGHT, _TOP, _BOTTOM = 38, 8, 10, 44
# the top of the scale is a round one, so that charts can be set side by side
_TOPS = (0.1, 0.25, 0.5, 1.0)
_LABEL_DAYS = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A line of the scale or a day on the axis: where it is drawn and what it says."""

    at: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PointRow:
    """One evening in words, for the table beside the chart."""

    day: str
    p: str
    span: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """All that the chart's template draws; places in its own units, y down."""

    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    band: str
    line: str
    dot: tuple[float, float] | None
    scale: tuple[Tick, ...]
    days: tuple[Tick, ...]
    looks: tuple[float, ...]
    deeds: tuple[float, ...]
    summary: str
    rows: tuple[PointRow, ...]


def chart_of(
    points: pd.DataFrame,
    *,
    looks: Sequence[dt.date],
    deeds: Sequence[tuple[dt.date, str]],
) -> Chart | None:
    """Lay out the chart.

    Parameters
    ----------
    points
        ``on``, ``p_7d``, ``p_7d_low``, ``p_7d_high``, ``p_gone`` [-], by evening.
    looks
        The days of inspections.
    deeds
        The days and words of events.

    Returns
    -------
    The chart, None where there are fewer than two evenings.
    """
    if len(points) < 2:
        return None
    days = list(points["on"])
    first, last = days[0], days[-1]
    span = (last - first).days
    top = next(t for t in _TOPS if t >= min(1.0, float(points["p_7d_high"].max())))

    def x(day: dt.date) -> float:
        return float(round(_LEFT + (_WIDTH - _LEFT - _RIGHT) * (day - first).days / span, 1))

    def y(chance: float) -> float:
        return float(round(_TOP + (_HEIGHT - _TOP - _BOTTOM) * (1 - chance / top), 1))

    def path(column: str) -> list[str]:
        return [f"{x(d)},{y(p)}" for d, p in zip(days, points[column], strict=True)]

    seen = [d for d in looks if first <= d <= last]
    done = [(d, what) for d, what in deeds if first <= d <= last]
    return Chart(
        width=_WIDTH,
        height=_HEIGHT,
        left=_LEFT,
        right=_WIDTH - _RIGHT,
        top=_TOP,
        bottom=_HEIGHT - _BOTTOM,
        band=" ".join(path("p_7d_high") + path("p_7d_low")[::-1]),
        line=" ".join(path("p_7d")),
        dot=(x(last), y(float(points["p_7d"].iloc[-1]))),
        scale=tuple(Tick(at=y(top * k / 2), text=per_cent(top * k / 2)) for k in range(3)),
        days=tuple(Tick(at=x(d), text=f"{d.day} {d:%b}") for d in days[::-_LABEL_DAYS]),
        looks=tuple(x(d) for d in seen),
        deeds=tuple(x(d) for d, _ in done),
        summary=_summary(points, seen, done),
        rows=_rows(points, seen, done),
    )


def _summary(points: pd.DataFrame, seen: list[dt.date], done: list[tuple[dt.date, str]]) -> str:
    days, chances = list(points["on"]), [float(p) for p in points["p_7d"]]
    start, end, highest = (
        f"{days[i]} ({per_cent(chances[i])})" for i in (0, -1, chances.index(max(chances)))
    )
    return (
        f"Chance of a prime swarm in the next 7 days, from {start} to {end}; highest on {highest}. "
        f"Marked: {_count(len(seen), 'inspection')}, {_count(len(done), 'event')}. "
        "The table below says the same."
    )


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _rows(
    points: pd.DataFrame, seen: list[dt.date], done: list[tuple[dt.date, str]]
) -> tuple[PointRow, ...]:
    rows = []
    for point in points.iloc[::-1].to_dict("records"):
        day = point["on"]
        what = ["inspected"] * (day in seen) + [word for d, word in done if d == day]
        rows.append(
            PointRow(
                day=day.isoformat(),
                p="left" if point["p_gone"] >= 1 else per_cent(point["p_7d"]),
                span=f"{per_cent(point['p_7d_low'])} to {per_cent(point['p_7d_high'])}",
                what=", ".join(what),
            )
        )
    return tuple(rows)
