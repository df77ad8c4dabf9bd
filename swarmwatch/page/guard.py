"""What stands before every page: whose host, how large, from where, and what a browser may do."""

import hmac
import ipaddress
import re
import secrets
from collections.abc import Collection
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from swarmwatch.page.pairing import Pairing

COOKIE = "swarmwatch_session"
BODY_MOST = 64 * 1024
_TOO_LARGE = f"That is more than a form holds ({BODY_MOST // 1024} KiB). Shorten the note."
_SESSION = re.compile(r"[A-Za-z0-9_-]{43}")
# no script at all: the map, which has some, brings its own policy
POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # no-referrer would blank the Origin of our own forms
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    # the back button may bring a form back with what was typed into it
    "Cache-Control": "private, no-cache",
}
_OPEN = ("/pair", "/page.css")


class Guard:
    """Refuses what no page of ours would ask for, and tells the browser what ours may do.

    Parameters
    ----------
    app
        The pages.
    hosts
        Host names with port that this server goes by, in lower case.
    pairing
        Who may come in from another machine; None serves this machine only.
    """

    def __init__(
        self, app: ASGIApp, *, hosts: Collection[str], pairing: Pairing | None = None
    ) -> None:
        self.app, self.hosts, self.pairing = app, frozenset(hosts), pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        session, fresh = _session_of(headers)
        scope.setdefault("state", {})["session"] = session
        refused = self._refusal(scope, headers, session)

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                told = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    told.setdefault(name, value)
                if fresh and "set-cookie" not in told:
                    told.append("Set-Cookie", cookie_of(session))
            await send(message)

        if refused is not None:
            await refused(scope, receive, sending)
            return
        await self.app(scope, _limited(receive), sending)

    def _refusal(self, scope: Scope, headers: Headers, session: str) -> Response | None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            text = "This server does not go by that name. Open the address that serve printed.\n"
            return PlainTextResponse(text, status_code=400)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > BODY_MOST:
            return _too_large()
        if _is_here(scope):
            return None
        if self.pairing is None:
            return PlainTextResponse("Only this machine is served.\n", status_code=403)
        if scope["path"] in _OPEN or self.pairing.knows(session):
            return None
        return RedirectResponse("/pair", status_code=303)


def _session_of(headers: Headers) -> tuple[str, bool]:
    """Return the browser's session, or a new one, and whether it is new."""
    try:
        jar: SimpleCookie = SimpleCookie("; ".join(headers.getlist("cookie")))
    except CookieError:
        jar = SimpleCookie()
    given = jar[COOKIE].value if COOKIE in jar else ""
    return (given, False) if _SESSION.fullmatch(given) else (secrets.token_urlsafe(32), True)


def cookie_of(session: str) -> str:
    """Return the header that hands a session to a browser, out of reach of script and strangers."""
    return f"{COOKIE}={session}; Path=/; HttpOnly; SameSite=Lax"


def _is_here(scope: Scope) -> bool:
    """Say whether the request comes from this machine."""
    try:
        return ipaddress.ip_address(str((scope.get("client") or ("",))[0])).is_loopback
    except ValueError:
        return False


def _limited(receive: Receive) -> Receive:
    taken = 0

    async def receiving() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > BODY_MOST:
            raise HTTPException(status_code=413, detail=_TOO_LARGE)
        return message

    return receiving


def _too_large() -> Response:
    return PlainTextResponse(f"{_TOO_LARGE}\n", status_code=413)


class Tokens:
    """Makes and knows the tokens that tell our forms from a stranger's."""

    def __init__(self) -> None:
        self._secret = secrets.token_bytes(32)

    def of(self, session: str) -> str:
        """Return the token of a session."""
        return hmac.new(self._secret, session.encode("ascii"), "sha256").hexdigest()

    def fits(self, session: str, token: str) -> bool:
        """Say whether a token is the session's."""
        return hmac.compare_digest(self.of(session), token) if token.isascii() else False


def same_origin(headers: Headers, hosts: Collection[str]) -> bool:
    """Say whether a form was sent from one of our own pages, as far as the browser tells."""
    origin = headers.get("origin")
    if origin is not None:
        return origin.lower().removeprefix("http://") in hosts
    return headers.get("sec-fetch-site", "same-origin") == "same-origin"
