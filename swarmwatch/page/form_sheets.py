"""What each form asks of the row with a key: an inspection, an event, a look at a bait box."""

from collections.abc import Mapping

import pandas as pd

from swarmwatch.page import score_words
from swarmwatch.page.event_words import BY_WORD, event_group
from swarmwatch.page.field_words import check_group, inspection_groups
from swarmwatch.page.form_view import Sheet
from swarmwatch.page.house import House, link
from swarmwatch.records.inspecting import has_bars
from swarmwatch.records.noting import noted_cells
from swarmwatch.records.reading_back import frame_of

_PARTIAL = 'Partial notes are fine: a blank says "not looked", 0 and none say "looked, found none".'
_AFRICANIZED = (
    "A yard of yours lies in an area with Africanized bees: no amateur catching. Keep away from "
    "the box and call trained, registered people."
)


def inspection_sheet(house: House, key: Mapping[str, str]) -> Sheet:
    """Return what the form of one inspection asks."""
    with house.desk.records.reading() as connection:
        colony = noted_cells(connection, "colonies", {"colony": key["colony"]})
        hives = frame_of(connection, "hives")
    second = "" if key["visit"] == "1" else f", inspection {key['visit']} of that day"
    return Sheet(
        table="inspections",
        action="/inspect",
        title=f"Inspect {key['colony']}",
        lead=f"{score_words.plain_day(key['date'])}{second}. {_PARTIAL}",
        button="Note this inspection",
        groups=inspection_groups(bars=has_bars(pd.Series(colony), hives)),
        key=key,
        back=(link("/colony", name=key["colony"]), key["colony"]),
        other="Another day, or a second inspection",
        which="Which inspection of that day",
    )


def event_sheet(key: Mapping[str, str]) -> Sheet:
    """Return what the form of one event asks."""
    event = BY_WORD[key["event"]]
    second = "" if key["visit"] == "1" else f", number {key['visit']} of that day"
    return Sheet(
        table="events",
        action="/event",
        title=f"{event.name}: {key['colony']}",
        lead=f"{score_words.plain_day(key['date'])}{second}. {event.line} Fill in what you know: "
        "the day alone is worth noting.",
        button="Note this",
        groups=(event_group(key["event"]),),
        key=key,
        back=(link("/event", colony=key["colony"]), "what else was done"),
        other="Another day, or a second time",
        which="Which time on that day",
        bare=True,
    )


def check_sheet(house: House, key: Mapping[str, str]) -> Sheet:
    """Return what the form of one look at a bait box asks."""
    with house.desk.records.reading() as connection:
        yards = frame_of(connection, "apiaries")
    return Sheet(
        table="checks",
        action="/check",
        title=f"Check {key['box']}",
        lead=f"{score_words.plain_day(key['date'])}. Stay on the ground. {_PARTIAL}",
        button="Note this look",
        groups=(check_group(),),
        key=key,
        back=(link("/boxes"), "bait boxes"),
        other="Another day",
        caution=_AFRICANIZED if (yards["africanized_area"] == "yes").any() else "",
    )
