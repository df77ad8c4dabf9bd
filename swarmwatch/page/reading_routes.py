"""The pages that change nothing: today, a colony, what if, the boxes, the map."""

import base64
import hashlib
import re
from typing import Annotated, Any

import pandas as pd
from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from swarmwatch.errors import SwarmwatchError
from swarmwatch.page import score_words
from swarmwatch.page.colony_view import CHANGES, colony_view, tried
from swarmwatch.page.desk import Standing
from swarmwatch.page.field_words import inspection_groups
from swarmwatch.page.form_file import FILE, form_file
from swarmwatch.page.house import PATIENCE_S, House, HouseOf, told_words, turning
from swarmwatch.page.today_view import A_PAGE, box_of, today_view
from swarmwatch.records.inspecting import has_bars

_PAGES_MOST = 100_000
_HOME = (
    '<body><nav aria-label="Pages" style="margin:0 0.9rem"><a href="/" style="display:inline-flex;'
    'min-height:48px;align-items:center;font-weight:600">Back to today</a></nav>'
)
_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_TEXT = re.compile(r">([^<]+)<")
_NOT_FOUND: dict[int | str, dict[str, Any]] = {
    404: {"description": "No such colony", "content": {"text/html": {}}}
}

Told = Annotated[str, Query(description="What the form before this page led to")]
Name = Annotated[str, Query(description="The colony's name, as stored", min_length=1)]


ROUTES = APIRouter(default_response_class=HTMLResponse)


@ROUTES.get("/")
def today(
    request: Request,
    house: HouseOf,
    yard: str = "",
    page: Annotated[int, Query(ge=1, le=_PAGES_MOST)] = 1,
    told: Told = "",
) -> HTMLResponse:
    """Show whom to visit first, and what is due."""
    standing, fresh = house.desk.standing(patience_s=PATIENCE_S)
    return house.page(
        request,
        "today.html",
        title="Today",
        standing=standing,
        fresh=fresh,
        view=today_view(
            standing.rows,
            visits=standing.visits,
            boxes=standing.boxes,
            sick=standing.sick,
            on=standing.on,
            yard=yard,
            page=page,
        ),
        ahead=standing.noted_today,
        sources=score_words.sources_of(standing.evidence),
        told=told_words(told),
        a_page=A_PAGE,
    )


@ROUTES.get("/colony", responses=_NOT_FOUND)
def colony(
    request: Request, house: HouseOf, name: Name, *, whole: str = "", told: Told = ""
) -> HTMLResponse:
    """Show one colony: its chance by day, its diary, what a change would do."""
    standing, fresh = house.desk.standing(patience_s=PATIENCE_S)
    row = _row(standing, name)
    if row is None:
        return _no_colony(house, request, name)
    score = standing.rows.get(name)
    if fresh and score is not None:
        house.desk.expect(standing, name, CHANGES)
    points, missing = house.desk.histories.points(standing, name)
    return house.page(
        request,
        "colony.html",
        title=name,
        standing=standing,
        fresh=fresh,
        view=colony_view(
            standing.frames,
            name,
            score=score,
            points=points,
            missing=missing if score is not None else 0,
            groups=inspection_groups(bars=has_bars(row, standing.frames["hives"])),
            sick=standing.sick,
            on=standing.on,
            whole=bool(whole),
        ),
        ahead=standing.noted_today,
        sources=score_words.sources_of(standing.evidence),
        changes=CHANGES,
        told=told_words(told),
    )


@ROUTES.get("/what-if", responses=_NOT_FOUND)
def what_if(request: Request, house: HouseOf, name: Name, change: str) -> HTMLResponse:
    """Show what one change would do to one colony."""
    if change not in CHANGES:
        return house.fault(request, "There is no such change to try.", status=404)
    title = f"What if: {name}"
    standing, fresh = house.desk.standing(patience_s=PATIENCE_S)
    if _row(standing, name) is None:
        return _no_colony(house, request, name)
    answer = house.desk.change(standing, name, change) if fresh else None
    try:
        compared = None if answer is None else answer.result(timeout=PATIENCE_S)
    except TimeoutError:
        compared = None
    if compared is None:
        return house.waiting(request, title=title, what="Working it out.")
    return house.page(
        request,
        "what_if.html",
        title=title,
        standing=standing,
        name=name,
        on=score_words.plain_day(standing.on),
        answer=tried(compared, change),
        changes=CHANGES,
        asked=change,
        waiting=change.startswith("wait"),
    )


@ROUTES.get("/boxes")
def boxes(request: Request, house: HouseOf, told: Told = "") -> HTMLResponse:
    """Show the bait boxes that hang, and what is due at each."""
    standing, fresh = house.desk.standing(patience_s=PATIENCE_S)
    names = {str(r["box"]) for r in standing.boxes}
    return house.page(
        request,
        "boxes.html",
        title="Bait boxes",
        standing=standing,
        fresh=fresh,
        boxes=[box_of(r, standing.on) for r in standing.boxes],
        idle=[n for n in standing.frames["boxes"]["box"] if n not in names],
        on=score_words.plain_day(standing.on),
        told=told_words(told),
    )


@ROUTES.get("/map")
def map_(request: Request, house: HouseOf) -> HTMLResponse:
    """Show the map of the box plan, with its script."""
    standing, fresh = house.desk.standing(patience_s=PATIENCE_S)
    drawing = house.desk.map_page(standing) if fresh else None
    try:
        page = None if drawing is None else drawing.result(timeout=PATIENCE_S)
    except TimeoutError:
        page = None
    except SwarmwatchError as error:
        return house.page(request, "fault.html", title="Map", what=str(error))
    if page is None:
        return house.waiting(request, title="Map", what="Drawing the map.")
    page = _in_units(page, standing)
    return HTMLResponse(
        page.replace("<body>", _HOME, 1), headers={"Content-Security-Policy": map_policy(page)}
    )


@ROUTES.get("/form-file")
def take_form_file(house: HouseOf) -> HTMLResponse:
    """Give the form file for a yard with no network, to be kept on the phone."""
    desk = house.desk
    frames = {name: desk.records.frame(name) for name in ("colonies", "hives", "boxes")}
    made = form_file(house.templates, frames, made_on=desk.today)
    return HTMLResponse(
        made,
        headers={
            "Content-Disposition": f'attachment; filename="{FILE}"',
            "Content-Security-Policy": "sandbox",
        },
    )


def map_policy(page: str) -> str:
    """Return the policy of the map: its own scripts by their hash, and nothing else that runs."""
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(s.encode('utf-8')).digest()).decode('ascii')}'"
        for s in _SCRIPT.findall(page)
    )
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )


def _in_units(page: str, standing: Standing) -> str:
    """Turn the measures of the map's words; its popups show the same words."""
    turn = turning(standing)
    head, main, rest = page.partition("<main>")
    words, end, tail = rest.partition("</main>")
    return head + main + _TEXT.sub(lambda m: f">{turn(m[1])}<", words) + end + tail


def _row(standing: Standing, name: str) -> "pd.Series[str] | None":
    colonies = standing.frames["colonies"]
    same = colonies[colonies["colony"] == name]
    return None if same.empty else same.iloc[0]


def _no_colony(house: House, request: Request, name: str) -> HTMLResponse:
    return house.fault(request, f"There is no colony {name!r} on record.", status=404)
