"""The first page: the colonies in the order of what a visit is worth, and the boxes due."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from swarmwatch.mapping.levels import MARKS, Mark
from swarmwatch.page import score_words
from swarmwatch.page.score_words import Row
from swarmwatch.wording import one_line

# colonies on one page: what a keeper reads at once, and well under 100 KiB
A_PAGE = 25
# a box whose look is due so soon is on the list [d]
_SOON_D = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ColonyCard:
    """One colony on the list; texts as they are shown, `name` as it is stored.

    `gone` says that the prime swarm has left, or probably has: that is then said first.
    """

    name: str
    yard: str
    mark: Mark
    chances: tuple[score_words.Chance, ...]
    besides: tuple[str, ...]
    gone: bool
    advice: str
    do_by: str
    worth: str
    reasons: tuple[str, ...]
    sure: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxDue:
    """One bait box with something to do."""

    name: str
    site: str
    state: str
    do: str
    do_by: str
    urgent: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayView:
    """The whole page; `first` counts from 1, `total` is the number of colonies chosen from."""

    on: str
    weather: str
    cards: tuple[ColonyCard, ...]
    sick: tuple[tuple[str, str], ...]
    boxes: tuple[BoxDue, ...]
    yards: tuple[str, ...]
    yard: str
    page: int
    pages: int
    first: int
    total: int


def today_view(
    scores: Mapping[str, Row],
    *,
    visits: Sequence[Row],
    boxes: Sequence[Row],
    sick: Mapping[str, dt.date],
    on: dt.date,
    yard: str = "",
    page: int = 1,
) -> TodayView:
    """Lay out the list of one evening.

    Parameters
    ----------
    scores
        Rows of `score_colonies`, by colony.
    visits, boxes
        Rows of `order_of_visits` and `hung_boxes`.
    sick
        The colonies whose brood last looked unsure or suspect, with the day.
    on
        The evening spoken of.
    yard
        Only this yard's colonies; all if blank or unknown.
    page
        Which part of the list, from 1; too large a number gives the last one.

    Returns
    -------
    What the page shows, worked out in full.
    """
    yards = tuple(sorted({str(row["apiary"]) for row in scores.values()}))
    yard = yard if yard in yards else ""
    order = [r for r in visits if not yard or str(r["apiary"]) == yard]
    pages = max(1, -(-len(order) // A_PAGE))
    page = min(max(1, page), pages)
    first = (page - 1) * A_PAGE
    shown = order[first : first + A_PAGE]
    cards = [card_of(scores[str(r["colony"])], on, worth=str(r["because"])) for r in shown]
    return TodayView(
        on=score_words.plain_day(on),
        weather=str(next(iter(scores.values()))["weather_kind"]) if scores else "",
        cards=tuple(cards),
        sick=tuple(
            (name, score_words.plain_day(day)) for name, day in sick.items() if name in scores
        ),
        boxes=boxes_due(boxes, on) if page == 1 else (),
        yards=yards,
        yard=yard,
        page=page,
        pages=pages,
        first=first + 1,
        total=len(order),
    )


def card_of(row: Row, on: dt.date, *, worth: str = "") -> ColonyCard:
    """Return one score as it is shown."""
    advice = row["advice"]
    return ColonyCard(
        name=str(row["colony"]),
        yard=one_line(row["apiary"]),
        mark=MARKS[str(row["level"])],
        chances=score_words.chances_of(row),
        besides=score_words.besides_of(row),
        gone=score_words.probably_gone(row),
        advice="" if score_words.is_blank(advice) else one_line(advice),
        do_by=score_words.by_when(row["do_by"], on),
        worth=one_line(worth),
        reasons=tuple(one_line(r) for r in score_words.reasons_of(row)),
        sure=score_words.sure_of(row),
    )


def boxes_due(boxes: Sequence[Row], on: dt.date) -> tuple[BoxDue, ...]:
    """Return the boxes with something to do within days, in the order given."""
    latest = pd.Timestamp(on + dt.timedelta(days=_SOON_D))
    return tuple(
        box_of(row, on)
        for row in boxes
        if row["state"] in {"occupied", "scouted"}
        or (not score_words.is_blank(row["do_by"]) and pd.Timestamp(str(row["do_by"])) <= latest)
    )


def box_of(row: Row, on: dt.date) -> BoxDue:
    """Return one row of `hung_boxes` as it is shown."""
    site = row["site"]
    return BoxDue(
        name=str(row["box"]),
        site="" if score_words.is_blank(site) else one_line(site),
        state=str(row["state"]),
        do=one_line(row["do"]),
        do_by=score_words.by_when(row["do_by"], on),
        urgent=row["state"] in {"occupied", "scouted"},
    )
