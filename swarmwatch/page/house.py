"""What every page shares: the desk, the forms, who may come in, and how a page is drawn."""

import datetime as dt
import hashlib
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Annotated
from urllib.parse import urlencode

import jinja2
import pandas as pd
from fastapi import Depends
from starlette.requests import Request
from starlette.responses import HTMLResponse

from swarmwatch.page.desk import Desk, Standing
from swarmwatch.page.guard import Tokens
from swarmwatch.page.pairing import Pairing
from swarmwatch.page.units import MEASURE, in_units
from swarmwatch.page.writing import Forms
from swarmwatch.wording import one_line

# how long a page waits for sums before it shows what there is [s]
PATIENCE_S = 0.05
# a page that waits for sums comes again by itself after so long [s]
_AGAIN_S = 1
STYLE = (resources.files("swarmwatch.page") / "page.css").read_bytes()
STYLE_AT = f"/page.css?v={hashlib.sha256(STYLE).hexdigest()[:12]}"
# the keeper's own names and notes: their measures stay as written
_OWN_TEXT = {
    "apiaries": ("apiary", "note"),
    "colonies": ("colony", "note"),
    "sources": ("source",),
    "sites": ("site", "owner", "note"),
    "boxes": ("box", "note"),
}
_TOLD = {
    "": "",
    "noted": "Noted.",
    "same": "That was noted already; nothing changed.",
    "sick": (
        "Noted. The brood may be sick. Stop and close up; move no bees, comb, boxes or tools; "
        "clean tools and gloves; call your bee inspector."
    ),
    "units": "Kept: these pages now speak in those units.",
}


@cache
def page_templates() -> jinja2.Environment:
    """Return the templates; whatever they show is escaped."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("swarmwatch.page"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.filters |= {"line": one_line, "measures": _measures, "figures": _figures}
    made.globals |= {"link": link}
    return made


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """What the routes stand on.

    `hosts` are the names with port that the server goes by. `pairing` is None where only this
    machine is served.
    """

    desk: Desk
    hosts: frozenset[str]
    pairing: Pairing | None = None
    forms: Forms = field(default_factory=Forms)
    tokens: Tokens = field(default_factory=Tokens)
    templates: jinja2.Environment = field(default_factory=page_templates)

    def page(
        self,
        request: Request,
        template: str,
        *,
        title: str,
        standing: Standing | None = None,
        status: int = 200,
        fresh: bool = True,
        **shown: object,
    ) -> HTMLResponse:
        """Draw one page; one that is not `fresh` asks the browser to come again."""
        context = {
            "title": one_line(title),
            "here": request.url.path,
            "css": STYLE_AT,
            "bare": False,
            "network": self.pairing is not None,
            "token": self.tokens.of(request.state.session),
            "clock": "" if standing is None else _clock_fault(standing, self.desk.today),
            "fresh": fresh,
            "turn": (lambda text: text) if standing is None else turning(standing),
        } | shown
        text = self.templates.get_template(template).render(context)
        headers = {} if fresh else {"Refresh": str(_AGAIN_S)}
        return HTMLResponse(text, status_code=status, headers=headers)

    def waiting(self, request: Request, *, title: str, what: str) -> HTMLResponse:
        """Draw the page that stands in for one whose sums are not done yet."""
        again = str(request.url.path) + (f"?{request.url.query}" if request.url.query else "")
        return self.page(request, "waiting.html", title=title, what=what, again=again, fresh=False)

    def fault(self, request: Request, what: str, *, status: int) -> HTMLResponse:
        """Draw a page that says what went wrong."""
        return self.page(
            request, "fault.html", title="That did not work", what=one_line(what), status=status
        )


async def _house_of(request: Request) -> AsyncIterator[House]:
    house: House = request.app.state.house
    with house.desk.page():
        yield house


HouseOf = Annotated[House, Depends(_house_of)]


def told_words(word: str) -> str:
    """Return what a page says of the form that was sent before it, "" for a word unknown."""
    return _TOLD.get(word, "")


def link(path: str, **query: object) -> str:
    """Return an address of ours; a part of the query that is blank is left out."""
    parts = urlencode({n: v for n, v in query.items() if v not in {"", None}})
    return f"{path}?{parts}" if parts else path


def turning(standing: Standing) -> Callable[[str], str]:
    """Return what turns a text's measures into the keeper's units, the keeper's own texts kept."""
    own = [
        one_line(text)
        for table, columns in _OWN_TEXT.items()
        for column in columns
        for text in standing.frames[table][column].dropna()
        if MEASURE.search(str(text))
    ]
    return lambda text: in_units(text, standing.units, names=own)


@jinja2.pass_context
def _measures(context: jinja2.runtime.Context, text: object) -> str:
    turn: Callable[[str], str] = context["turn"]
    return _figures(turn(str(text)))


def _figures(text: str) -> str:
    """Keep a number and its sign on one line."""
    return text.replace(" %", "\u00a0%")


def _clock_fault(standing: Standing, today: dt.date) -> str:
    """Say that the clock must be wrong, if a note is dated after its day."""
    newest = _newest(standing.frames)
    if newest is None or newest <= today:
        return ""
    return (
        f"this machine takes today for {today.isoformat()}, but something was noted for "
        f"{newest.isoformat()}. Set its date right: scores speak of the wrong evening till then, "
        "and new notes get the wrong day."
    )


def _newest(frames: Mapping[str, pd.DataFrame]) -> dt.date | None:
    days = [frames[name]["date"].max() for name in ("inspections", "events", "checks")]
    known = [day for day in days if not pd.isna(day)]
    return max(known).date() if known else None
