"""Who comes in from another machine, the pages' style, and the form file to take away."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.responses import Response

from swarmwatch.page.guard import cookie_of, same_origin
from swarmwatch.page.house import STYLE, House, HouseOf

_FOR_A_YEAR = "private, max-age=31536000, immutable"
_WRONG = (
    "That is not the code, or it is too old. Look at the window again; after five wrong ones a new "
    "code is shown a minute later."
)
_HTML: dict[str, Any] = {"content": {"text/html": {}}}
_ANSWERS: dict[int | str, dict[str, Any]] = {
    303: {"description": "Come in"},
    403: {"description": "Sent by a page that is not ours, or a wrong code"} | _HTML,
    404: {"description": "Only this machine is served"} | _HTML,
}


ROUTES = APIRouter(default_response_class=HTMLResponse)


# async: the pairing is touched by one thread only, the one that stands guard
@ROUTES.get("/pair", responses=_ANSWERS)
async def pair(request: Request, house: HouseOf) -> HTMLResponse:
    """Show where a phone types the code."""
    if house.pairing is None:
        return house.fault(request, "Only this machine is served.", status=404)
    wait = "" if house.pairing.offer() else "Wait a minute, then load this page again."
    return _pair_page(house, request, wait)


@ROUTES.post("/pair", responses=_ANSWERS)
async def try_code(
    request: Request,
    house: HouseOf,
    code: Annotated[str, Form()] = "",
    token: Annotated[str, Form()] = "",
) -> Response:
    """Let in a phone that gives the right code."""
    if house.pairing is None:
        return house.fault(request, "Only this machine is served.", status=404)
    ours = same_origin(request.headers, house.hosts)
    if not ours or not house.tokens.fits(request.state.session, token):
        return house.fault(request, "Load the page with the code anew.", status=403)
    session = house.pairing.try_code(code)
    if not session:
        return _pair_page(house, request, _WRONG, status=403)
    answer = RedirectResponse("/", status_code=303)
    answer.headers["Set-Cookie"] = cookie_of(session)
    return answer


@ROUTES.get("/page.css", response_class=Response)
async def style() -> Response:
    """Give the pages their style."""
    return Response(STYLE, media_type="text/css", headers={"Cache-Control": _FOR_A_YEAR})


def _pair_page(house: House, request: Request, wrong: str, *, status: int = 200) -> HTMLResponse:
    return house.page(
        request, "pair.html", title="Who is there?", status=status, wrong=wrong, bare=True
    )
