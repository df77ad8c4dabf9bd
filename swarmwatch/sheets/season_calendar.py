"""What happens at a yard in an average year, week by week: swarms, bait boxes, when to look?

Pure: yards, weather and an evening in, dates and weeks out.
"""

import math
from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.placement.box_life import BoxSeason, box_season
from swarmwatch.sheets.round_facts import day_words

_WEEK_D = 7
KEYS = (
    "season.sd_before",
    "season.sd_after",
    "season.peak_error",
    "season.in_season_weight",
    "preparation.lead_before_departure",
    "advice.look_most_in_season",
    "boxes.out_before_first_d",
    "boxes.down_after_last_d",
    "boxes.build_up_d",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """One week from its Monday: shares of the year's prime swarms [0..1], and what falls in it."""

    monday: date
    share: float
    by_then: float
    to_do: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonCalendar:
    """An average year at one yard; `early` and `late` are the 80 % range of its peak."""

    apiary: str
    peak_on: date
    early: date
    late: date
    weeks: tuple[Week, ...]


def season_calendars(
    apiaries: pd.DataFrame, weather: pd.DataFrame | None, *, on: date, evidence: Evidence
) -> tuple[SeasonCalendar, ...]:
    """Lay out the season of each yard; after its bait boxes came down, the next one.

    Parameters
    ----------
    apiaries
        The yards.
    weather
        The table, or None.
    on
        The evening to speak of.
    evidence
        The numbers.

    Returns
    -------
    One calendar a yard, in the order of `apiaries`.
    """
    out = []
    for name in apiaries["apiary"]:
        yard = apiaries[apiaries["apiary"] == name]
        season = box_season(yard, weather, on=on, evidence=evidence)
        out.append(_calendar(str(name), season, evidence))
    return tuple(out)


def _calendar(name: str, season: BoxSeason, evidence: Evidence) -> SeasonCalendar:
    error = evidence["season.peak_error"]
    early, late = (
        season.peak_on + timedelta(days=round(end * season.peak_error_share))
        for end in (error.low, error.high)
    )
    days = sorted(_days(season, evidence))
    first, last = (d - timedelta(days=d.weekday()) for d in (days[0][0], days[-1][0]))
    weeks = []
    for number in range((last - first).days // _WEEK_D + 1):
        monday = first + timedelta(days=_WEEK_D * number)
        ends = [(monday - season.peak_on).days - 0.5 + d for d in (0, _WEEK_D)]
        before, by_then = (float(x) for x in season.prime_by(ends))
        here = tuple(
            f"{day_words(day)}: {words}"
            for day, words in days
            if monday <= day < monday + timedelta(days=_WEEK_D)
        )
        weeks.append(Week(monday=monday, share=by_then - before, by_then=by_then, to_do=here))
    return SeasonCalendar(
        apiary=name, peak_on=season.peak_on, early=early, late=late, weeks=tuple(weeks)
    )


def _days(season: BoxSeason, evidence: Evidence) -> list[tuple[date, str]]:
    """Return the days of the season with what to do, in no order."""
    value = evidence.value
    # where the curve has fallen to the share of its peak that counts as out of season
    edge = math.sqrt(-2 * math.log(value("season.in_season_weight")))
    first = season.peak_on - timedelta(days=round(edge * season.curve.sd_before_d))
    last = season.peak_on + timedelta(days=round(edge * season.curve.sd_after_d))
    look = first - timedelta(days=round(value("preparation.lead_before_departure")))
    every = f"{value('advice.look_most_in_season'):.0f}"
    days = [
        (look, f"begin looking for queen cells, at most {every} days apart from here on"),
        (season.put_out_on, "bait boxes hang by now; ask the owner and your local rules first"),
        (first, "the first prime swarms"),
        (season.peak_on, "most prime swarms about now"),
        (last, "the last prime swarms, afterswarms some days later"),
        (season.take_down_on, "take the bait boxes down"),
    ]
    # where no cold comes, or late, every swarm has time enough
    if season.build_up_until is not None and season.build_up_until < season.take_down_on:
        days.append((season.build_up_until, "a swarm that comes later hardly builds up by itself"))
    return days
