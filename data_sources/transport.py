"""How is one request sent, so that no service can hold the keeper up or be pressed by us?

Below the cache: what is done here, such as adding a key, the kept answers never see.
"""

import copy
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any, NoReturn, Self
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import (
    DecodeError,
    HTTPError,
    MaxRetryError,
    ProtocolError,
    ReadTimeoutError,
)
from urllib3.util.retry import Retry

_PIECE = 65_536
_TOO_MANY = int(requests.codes.too_many_requests)
_FAULTY = (_TOO_MANY, 500, 502, 503, 504)


class TooLarge(requests.RequestException):
    """The answer is larger than any that is asked for."""


class TooOften(requests.RequestException):
    """The service was asked as often as one run may."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Manners:
    """How a service is to be treated.

    `connect_s`, `piece_s`, `whole_s`: seconds to connect, between two pieces of an answer, and
    for the whole of it. `bytes_most`: size of an answer. `pause_s`: seconds between two requests
    to one host. `calls_most`: requests to one host in one run. `rest_s`: a host that failed is
    left alone for so long, or for as long as it asked; 0 tries it again at once. `keys`: host to
    (parameter, key).
    """

    connect_s: float
    piece_s: float
    whole_s: float
    bytes_most: int
    pause_s: float
    calls_most: int
    rest_s: float
    keys: Mapping[str, tuple[str, str]] = field(default_factory=dict, repr=False)


class Transport(HTTPAdapter):
    """Sends a request and reads its whole answer within the `Manners`."""

    def __init__(self, manners: Manners, *, max_retries: Retry) -> None:
        self._manners = manners
        self._next: dict[str, float] = {}
        self._calls: dict[str, int] = {}
        self._failed: dict[str, tuple[float, requests.Response | requests.RequestException]] = {}
        super().__init__(max_retries=max_retries)

    def send(  # type: ignore[override] # the rest is passed through
        self,
        request: requests.PreparedRequest,
        **how: Any,  # noqa: ANN401
    ) -> requests.Response:
        """Send a request, unless its host failed a moment ago: then the same failure again."""
        host = urlsplit(str(request.url)).netloc
        until, failure = self._failed.get(host, (0.0, None))
        if failure is not None and time.monotonic() < until:
            return _again(failure, request)
        self._wait_turn(host)
        how["timeout"] = how.get("timeout") or (self._manners.connect_s, self._manners.piece_s)
        try:
            response = self._fetch(request, host, how)
        except TooLarge:
            raise
        except requests.RequestException as error:
            self._rest(host, error, None)
            raise
        if response.status_code in _FAULTY:
            self._rest(host, response, pause_asked_s(response.raw))
        return response

    def _fetch(
        self, request: requests.PreparedRequest, host: str, how: dict[str, Any]
    ) -> requests.Response:
        began = time.monotonic()
        sent = self._with_key(request, host)
        try:
            response = super().send(sent, **{**how, "stream": True})
            if sent is not request:
                response.url, response.request = str(request.url), request
            self._read(response, began)
        except requests.RequestException as error:
            if sent is request:
                raise
            _without_key(error)
        return response

    def _with_key(self, request: requests.PreparedRequest, host: str) -> requests.PreparedRequest:
        if host not in self._manners.keys:
            return request
        name, key = self._manners.keys[host]
        sent = request.copy()
        sent.prepare_url(str(request.url), {name: key})
        return sent

    def _read(self, response: requests.Response, began: float) -> None:
        """Read the answer piece by piece: a drip is cut off, a flood too."""
        most = self._manners.bytes_most
        said = response.headers.get("Content-Length", "")
        if said.isdecimal() and int(said) > most:
            _cut(response, TooLarge(f"{said} bytes", response=response))
        body = bytearray()
        try:
            while piece := response.raw.read1(_PIECE, decode_content=True):
                body += piece
                if len(body) > most:
                    _cut(response, TooLarge(f"over {most} bytes", response=response))
                if time.monotonic() - began > self._manners.whole_s:
                    _cut(response, requests.ReadTimeout("the answer drips", response=response))
        except ReadTimeoutError as error:
            raise requests.ReadTimeout(error) from error
        except ProtocolError as error:
            raise requests.exceptions.ChunkedEncodingError(error) from error
        except DecodeError as error:
            raise requests.exceptions.ContentDecodingError(error) from error
        except HTTPError as error:
            raise requests.ConnectionError(error) from error
        response._content = bytes(body)
        response._content_consumed = True  # type: ignore[attr-defined]

    def _wait_turn(self, host: str) -> None:
        calls = self._calls.get(host, 0)
        if calls >= self._manners.calls_most:
            message = f"{calls} requests in one run"
            raise TooOften(message)
        now = time.monotonic()
        turn = max(self._next.get(host, now), now)
        self._next[host] = turn + self._manners.pause_s
        self._calls[host] = calls + 1
        if turn > now:
            time.sleep(turn - now)

    def _rest(
        self,
        host: str,
        failure: requests.Response | requests.RequestException,
        asked_s: float | None,
    ) -> None:
        if self._manners.rest_s:
            rest_s = max(self._manners.rest_s, asked_s or 0.0)
            self._failed[host] = (time.monotonic() + rest_s, failure)


class PatientRetry(Retry):
    """Retries that give up at once when the service asks for a long pause."""

    def increment(self, *args: Any, **how: Any) -> Self:  # noqa: ANN401 - passed through
        """Count a failed try, or give up."""
        response = how.get("response")
        pause = None if response is None else pause_asked_s(response)
        if pause is not None and pause > self.retry_after_max:
            raise MaxRetryError(how.get("_pool"), "", None)  # type: ignore[arg-type] # only caught
        return super().increment(*args, **how)


def pause_asked_s(response: Any) -> float | None:  # noqa: ANN401 - urllib3's
    """Return the pause that was asked for in seconds, not capped; None for none or nonsense."""
    uncapped = Retry(retry_after_max=int(timedelta(days=3650).total_seconds()))
    try:
        return uncapped.get_retry_after(response)
    except HTTPError:
        return None


def _again(
    failure: requests.Response | requests.RequestException, request: requests.PreparedRequest
) -> requests.Response:
    if isinstance(failure, requests.RequestException):
        raise failure
    response = copy.copy(failure)
    response.request, response.url = request, str(request.url)
    return response


def _cut(response: requests.Response, error: requests.RequestException) -> NoReturn:
    response.raw.close()
    raise error


def _without_key(error: requests.RequestException) -> NoReturn:
    """Raise the like of an error whose words may hold the key."""
    cause = getattr(error.args[0] if error.args else None, "reason", None)
    timed_out = isinstance(error, requests.Timeout) or isinstance(cause, ReadTimeoutError)
    if isinstance(error, TooLarge):
        raise TooLarge from None
    raise (requests.ReadTimeout if timed_out else requests.ConnectionError) from None
