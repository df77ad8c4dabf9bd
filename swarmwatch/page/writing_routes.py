"""The pages that write: an inspection, an event, a look at a bait box, the settings."""

import datetime as dt
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import BaseModel, Field, create_model
from starlette.responses import Response

from swarmwatch.errors import StoreError, UsageError
from swarmwatch.page import score_words
from swarmwatch.page.event_words import BY_WORD, EVENTS, all_fields
from swarmwatch.page.field_words import check_group, inspection_groups, names_of
from swarmwatch.page.form_sheets import check_sheet, event_sheet, inspection_sheet
from swarmwatch.page.form_view import FormView, Sheet, answered_form, opened_form, unsent_form
from swarmwatch.page.guard import same_origin
from swarmwatch.page.house import House, HouseOf, link, told_words
from swarmwatch.page.units import METRIC, UNITS
from swarmwatch.page.writing import Draft, opened, write
from swarmwatch.records.noting import noted_cells
from swarmwatch.tables import TABLES

_HTML: dict[str, Any] = {"content": {"text/html": {}}}
_FORM_ANSWERS: dict[int | str, dict[str, Any]] = {
    303: {"description": "Noted; where it is shown"},
    403: {"description": "Sent by a page that is not ours"} | _HTML,
    404: {"description": "No such colony or box"} | _HTML,
    409: {"description": "Somebody else wrote meanwhile, or serve was started anew"} | _HTML,
    422: {"description": "Something does not fit; the form, as it was filled in"} | _HTML,
    503: {"description": "The records can't be written; the form, as it was filled in"} | _HTML,
}
_STATUS = {"faulty": 422, "unlikely": 422, "changed": 409}
_IN_DOUBT = {"unsure", "suspect"}
_STRANGER = "This form was not sent by a page of this server, so nothing was done."
Day = Annotated[
    str,
    Query(
        description="The day, year-month-day; today if blank", json_schema_extra={"format": "date"}
    ),
]


def _form_of(table: str, columns: tuple[str, ...]) -> type[BaseModel]:
    """Return the shape of what a form of one table sends: all of it text."""
    hidden = ("token", "form", "seen", "accept")
    texts: dict[str, Any] = dict.fromkeys((*hidden, *columns), (str, ""))
    key: dict[str, Any] = dict.fromkeys(TABLES[table].key, (str, ""))
    key[TABLES[table].key[0]] = (str, Field(min_length=1))
    return create_model(f"{table.title()}Form", **key, **texts)


if TYPE_CHECKING:

    class InspectionForm(BaseModel):
        """What the form of an inspection sends; made of the table's columns as it runs."""

    class EventForm(BaseModel):
        """What the form of an event sends; made of the table's columns as it runs."""

    class CheckForm(BaseModel):
        """What the form of a look at a box sends; made of the table's columns as it runs."""
else:
    InspectionForm = _form_of("inspections", names_of(inspection_groups(bars=False)))
    EventForm = _form_of("events", tuple(f.name for f in all_fields()))
    CheckForm = _form_of("checks", names_of((check_group(),)))


ROUTES = APIRouter(default_response_class=HTMLResponse, responses=_FORM_ANSWERS)


@ROUTES.get("/inspect")
def inspect(
    request: Request,
    house: HouseOf,
    colony: Annotated[str, Query(min_length=1)],
    date: Day = "",
    visit: Annotated[int, Query(ge=1, le=9)] = 1,
) -> HTMLResponse:
    """Show the form of one inspection."""
    key = _key(house, "inspections", colony, date, visit=str(visit))
    return _show(house, request, inspection_sheet(house, key))


@ROUTES.post("/inspect")
def note_inspection(
    request: Request,
    house: HouseOf,
    sent: Annotated[InspectionForm, Form()],
) -> Response:
    """Note one inspection, whole or in part."""
    brought = sent.model_dump()
    key = _key(house, "inspections", brought["colony"], brought["date"], visit=brought["visit"])
    told = "sick" if brought["brood_health"] in _IN_DOUBT else "noted"
    return _note(
        house,
        request,
        inspection_sheet(house, key),
        brought,
        there=("/colony", {"name": brought["colony"]}, told),
    )


@ROUTES.get("/event")
def event(
    request: Request,
    house: HouseOf,
    *,
    colony: Annotated[str, Query(min_length=1)],
    event: Annotated[str, Query(description="What was done; a list to choose from if blank")] = "",
    date: Day = "",
    visit: Annotated[int, Query(ge=1, le=9)] = 1,
) -> HTMLResponse:
    """Show the form of one event, or which events there are."""
    if event:
        return _show(house, request, event_sheet(_event_key(house, colony, event, date, visit)))
    key = _key(house, "events", colony, date)
    return house.page(
        request,
        "events.html",
        title=f"What was done: {colony}",
        name=colony,
        groups=EVENTS,
        day=score_words.plain_day(key["date"]),
    )


@ROUTES.post("/event")
def note_event(request: Request, house: HouseOf, sent: Annotated[EventForm, Form()]) -> Response:
    """Note one event."""
    brought = sent.model_dump()
    key = _event_key(house, *(brought[n] for n in ("colony", "event", "date", "visit")))
    return _note(
        house,
        request,
        event_sheet(key),
        brought,
        there=("/colony", {"name": brought["colony"]}, "noted"),
    )


@ROUTES.get("/check")
def check(
    request: Request, house: HouseOf, box: Annotated[str, Query(min_length=1)], date: Day = ""
) -> HTMLResponse:
    """Show the form of one look at a bait box."""
    return _show(house, request, check_sheet(house, _key(house, "checks", box, date)))


@ROUTES.post("/check")
def note_check(
    request: Request,
    house: HouseOf,
    sent: Annotated[CheckForm, Form()],
) -> Response:
    """Note one look at a bait box."""
    brought = sent.model_dump()
    key = _key(house, "checks", brought["box"], brought["date"])
    return _note(
        house,
        request,
        check_sheet(house, key),
        brought,
        there=("/boxes", {}, "noted"),
    )


@ROUTES.get("/settings")
def settings(request: Request, house: HouseOf, told: str = "") -> HTMLResponse:
    """Show the choice of units, and the form file for a yard with no network."""
    return house.page(
        request,
        "settings.html",
        title="More",
        units=UNITS,
        chosen=house.desk.records.setting("units") or METRIC,
        sources=score_words.sources_of(house.desk.evidence),
        told=told_words(told),
    )


@ROUTES.post("/settings")
def keep_settings(
    request: Request,
    house: HouseOf,
    units: Annotated[str, Form()] = "",
    token: Annotated[str, Form()] = "",
) -> Response:
    """Keep the units of the pages."""
    if not _is_ours(house, request) or not house.tokens.fits(request.state.session, token):
        return house.fault(request, _STRANGER, status=403)
    if units not in UNITS:
        return house.fault(request, "There are no such units.", status=422)
    house.desk.records.set_setting("units", units)
    return RedirectResponse(link("/settings", told="units"), status_code=303)


class NotThereError(UsageError):
    """A page asks for a colony or a box that is not on record."""


def _key(house: House, table: str, name: str, date: str, **more: str) -> dict[str, str]:
    """Return the key of a row as text; a colony or a box that is not there is refused."""
    first = TABLES[table].key[0]
    parent = "boxes" if first == "box" else "colonies"
    with house.desk.records.reading() as connection:
        known = noted_cells(connection, parent, {first: name})
    if not known:
        message = f"There is no {first} {name!r} on record."
        raise NotThereError(message)
    try:
        day = dt.date.fromisoformat(date.strip()) if date.strip() else house.desk.today
    except ValueError:
        message = f"{date!r} is not a date. Write year-month-day, such as 2026-05-14."
        raise UsageError(message) from None
    if more.get("visit", "1") not in set("123456789"):
        message = (
            f"{more['visit']!r} is no visit: 1 is the first inspection of a day, 2 the second."
        )
        raise UsageError(message)
    return {first: name, "date": day.isoformat()} | more


def _event_key(
    house: House, colony: str, event: str, date: str, visit: int | str
) -> dict[str, str]:
    if event not in BY_WORD:
        message = f"There is no event {event!r}. Choose one from the colony's page."
        raise NotThereError(message)
    return _key(house, "events", colony, date, event=event, visit=str(visit))


def _show(house: House, request: Request, sheet: Sheet) -> HTMLResponse:
    noted, seen = opened(house.desk, sheet.table, sheet.key)
    return _drawn(house, request, sheet, opened_form(sheet, noted, seen))


def _is_ours(house: House, request: Request) -> bool:
    return same_origin(request.headers, house.hosts)


def _note(
    house: House,
    request: Request,
    sheet: Sheet,
    brought: Mapping[str, str],
    *,
    there: tuple[str, dict[str, str], str],
) -> Response:
    """Note what a form brought, or show it again with all that was typed."""
    if not _is_ours(house, request):
        return house.fault(request, _STRANGER, status=403)
    typed = {n: brought[n] for n in names_of(sheet.groups)}
    seen, name = brought["seen"], brought["form"]
    if not house.tokens.fits(request.state.session, brought["token"]):
        form = unsent_form(sheet, typed, seen=seen, name=name)
        return _drawn(house, request, sheet, form, status=409)
    draft = Draft(
        table=sheet.table,
        key=sheet.key,
        cells=typed,
        seen=seen,
        form=name,
        accept=brought["accept"] == "yes",
        bare=sheet.bare,
    )
    try:
        verdict = write(house.desk, house.forms, draft, at=house.desk.clock())
    except StoreError as error:
        form = unsent_form(sheet, typed, f"{error} Nothing was changed.", seen=seen, name=name)
        return _drawn(house, request, sheet, form, status=503)
    if verdict.kind in {"noted", "same"}:
        path, query, told = there
        told = told if verdict.kind == "noted" or told == "sick" else "same"
        return RedirectResponse(link(path, **query, told=told), status_code=303)
    form = answered_form(sheet, typed, verdict, seen=seen, name=name)
    return _drawn(house, request, sheet, form, status=_STATUS[verdict.kind])


def _drawn(
    house: House, request: Request, sheet: Sheet, form: FormView, *, status: int = 200
) -> HTMLResponse:
    days = {
        "summary": sheet.other,
        "line": "Its day; none in the future.",
        "fixed": {n: v for n, v in sheet.key.items() if n not in {"date", "visit"}},
        "date": sheet.key["date"],
        "latest": max(house.desk.today, house.desk.clock().date()).isoformat(),
        "visit": sheet.key.get("visit", ""),
        "which": sheet.which,
    }
    return house.page(
        request,
        "form.html",
        title=sheet.title,
        status=status,
        form=form,
        days=None if form.summary else days,
        back=sheet.back,
        caution=sheet.caution,
    )
