"""The pages as one application: the routes, what they say when something fails, and the guard."""

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import ASGIApp

from swarmwatch import __version__
from swarmwatch.errors import StoreError, SwarmwatchError
from swarmwatch.page import access_routes, reading_routes, writing_routes
from swarmwatch.page.guard import Guard
from swarmwatch.page.house import House
from swarmwatch.page.writing_routes import NotThereError

_HTML: dict[str, Any] = {"content": {"text/html": {}}}
# what any page may answer, beside its own
_ANSWERS: dict[int | str, dict[str, Any]] = {
    400: {"description": "Not for this server"} | _HTML,
    413: {"description": "More than a form holds"},
    422: {"description": "The address or the form does not fit"} | _HTML,
    503: {"description": "The records can't be read or written"} | _HTML,
}
_HTTP = {
    404: "There is no such page.",
    405: "This page can't be asked for in that way.",
    400: "The form can't be read.",
}


def make_pages(house: House) -> FastAPI:
    """Return the pages without their guard."""
    app = FastAPI(
        title="swarmwatch, the page",
        version=__version__,
        # the description is for tests: a page that lists all routes has no place on a network
        openapi_url=None,
        responses=_ANSWERS,
        generate_unique_id_function=lambda route: route.name,
    )
    app.state.house = house
    for routes in (reading_routes.ROUTES, writing_routes.ROUTES, access_routes.ROUTES):
        app.include_router(routes)

    @app.exception_handler(SwarmwatchError)
    def _own(request: Request, error: SwarmwatchError) -> Response:
        status = 503 if isinstance(error, StoreError) else 422
        status = 404 if isinstance(error, NotThereError) else status
        return house.fault(request, str(error), status=status)

    @app.exception_handler(RequestValidationError)
    def _unfit(request: Request, error: RequestValidationError) -> Response:
        fields = ", ".join(str(e["loc"][-1]) for e in error.errors())
        return house.fault(request, f"This address or form does not fit: {fields}.", status=422)

    @app.exception_handler(HTTPException)
    def _http(request: Request, error: HTTPException) -> Response:
        what = _HTTP.get(error.status_code, str(error.detail))
        answer = house.fault(request, what, status=error.status_code)
        answer.headers.update(error.headers or {})
        return answer

    return app


def make_app(house: House) -> ASGIApp:
    """Return the pages behind their guard, as they are served."""
    return Guard(make_pages(house), hosts=house.hosts, pairing=house.pairing)
