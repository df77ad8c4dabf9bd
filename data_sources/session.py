"""How is an open service asked, and what happens when it fails?

One session: answers are kept in a file, a service that fails is answered from what was kept,
however old, and the age is said. A bad answer never replaces a good one.
"""

import json
import logging
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import requests
import requests_cache
from urllib3.exceptions import MaxRetryError, ReadTimeoutError

from data_sources.errors import SourceError, SourceMalformed, SourceUnavailable
from data_sources.kept_answers import KeptAnswers, from_the_future
from data_sources.transport import Manners, PatientRetry, TooLarge, TooOften, Transport

USER_AGENT = "swarmwatch open-data client"
TIMEOUT_S = (5.0, 20.0)  # to connect, between two pieces of the answer
WHOLE_S = 60.0
BYTES_MOST = 25_000_000  # no answer that is asked for here is near it
# the strictest published limits are 600 a minute and 5,000 an hour to one service
PAUSE_S = 0.12
CALLS_MOST = 4_000
REST_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A service's answer: its JSON or text, when it was given, and a line to show when it is old.

    `notice` is blank for an answer that is as new as it should be.
    """

    body: Any
    fetched_at: datetime
    notice: str = ""


class _Elsewhere(requests.RequestException):
    """The service sends on to another host."""


_PLAIN: dict[type[requests.RequestException], str] = {
    TooLarge: "sent far more than was asked for, so it was cut off. Try again later.",
    TooOften: "was asked often enough for one run. Ask for the other yards in an hour.",
    _Elsewhere: (
        "sent us on to another address, perhaps a login page of the network; it was not "
        "followed. Open any web page to see, then try again."
    ),
}


class _Session(requests_cache.CachedSession):
    """A session that follows no redirect to another host: the place asked for is private."""

    def get_redirect_target(self, resp: requests.Response) -> str | None:
        target: str | None = super().get_redirect_target(resp)
        if target is None:
            return None
        here, there = urlsplit(str(resp.url)), urlsplit(target)
        # a path alone stays where it is
        other_host = bool(there.netloc) and there.hostname != here.hostname
        if other_host or (here.scheme == "https" and there.scheme == "http"):
            raise _Elsewhere(response=resp)
        return target


def open_session(
    cache_file: Path | str | None,
    *,
    expire_after: timedelta = timedelta(hours=1),
    offline: bool = False,
    user_agent: str = USER_AGENT,
    timeout_s: tuple[float, float] = TIMEOUT_S,
    whole_s: float = WHOLE_S,
    bytes_most: int = BYTES_MOST,
    retries: int = 2,
    backoff_s: float = 0.5,
    retry_after_max_s: float = 60.0,
    pause_s: float = PAUSE_S,
    calls_most: int = CALLS_MOST,
    rest_s: float = REST_S,
    keys: Mapping[str, tuple[str, str]] | None = None,
) -> requests_cache.CachedSession:
    """Open a session that keeps answers and falls back on them.

    Parameters
    ----------
    cache_file
        Where answers are kept, readable by its owner only; the folder is made. None keeps them
        in memory. A file that is no cache is renamed aside and a new one begun.
    expire_after
        Age up to which a kept answer is used without asking again.
    offline
        Ask nobody: kept answers only, of any age.
    user_agent
        What the services see. It is not kept. Some services want a contact in it.
    timeout_s
        Seconds to connect, and between two pieces of an answer.
    whole_s
        Seconds for the whole body of an answer, however it drips.
    bytes_most
        Size of an answer [bytes]; a larger one is refused while it comes.
    retries
        How often a failed request is tried again.
    backoff_s
        Pause before the second retry, doubled for each more.
    retry_after_max_s
        A service that asks for a longer pause is not tried again.
    pause_s
        Pause between two requests to one host.
    calls_most
        Requests to one host in this session; after them kept answers only.
    rest_s
        A host that failed is left alone for so long, or for as long as it asked for, and what is
        kept is used: many yards don't each wait for a service that is down. 0 tries at once.
    keys
        Host: (parameter, key) for services that want one. A key is sent, and neither kept nor
        shown.

    Raises
    ------
    SourceError
        The file can't be made.
    """
    # each fallback would log a traceback, each retry a line with what was asked for: `ask` says
    # what matters, once. A cache entry that can't be read is asked for again.
    for name in ("requests_cache", "requests_cache.session", "urllib3.connectionpool"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    session = _Session(
        backend=KeptAnswers(None if cache_file is None else Path(cache_file)),
        expire_after=expire_after,
        stale_if_error=True,
        only_if_cached=offline,
        ignored_parameters=(*requests_cache.DEFAULT_IGNORED_PARAMS, "User-Agent"),
    )
    session.headers["User-Agent"] = user_agent
    transport = Transport(
        Manners(
            connect_s=timeout_s[0],
            piece_s=timeout_s[1],
            whole_s=whole_s,
            bytes_most=bytes_most,
            pause_s=pause_s,
            calls_most=calls_most,
            rest_s=rest_s,
            keys=keys or {},
        ),
        max_retries=PatientRetry(
            total=retries,
            backoff_factor=backoff_s,
            status_forcelist=(500, 502, 503, 504),
            allowed_methods=("GET", "HEAD"),
            raise_on_status=False,
            retry_after_max=retry_after_max_s,  # type: ignore[arg-type] # any number will do
        ),
    )
    session.mount("https://", transport)
    session.mount("http://", transport)
    return session


def tells_who_asks(session: requests_cache.CachedSession) -> bool:
    """Say whether the User-Agent is the keeper's own: some services answer no other."""
    return session.headers.get("User-Agent") != USER_AGENT


def ask(
    session: requests_cache.CachedSession,
    url: str,
    params: Mapping[str, str],
    *,
    check: Callable[[Any], object],
    provider: str,
    expire_after: timedelta | None = None,
    as_text: bool = False,
) -> Answer:
    """Ask a service for JSON or text, or take its last good answer.

    Parameters
    ----------
    session
        From `open_session`.
    url, params
        What to ask; write coordinates with a fixed number of decimals, so that the same place is
        the same question.
    check
        Called with the JSON (or the text) of a new answer, before it is kept; raises
        SourceMalformed when it isn't what was agreed.
    provider
        Name of the service for messages.
    expire_after
        Age up to which a kept answer of this kind is used; the session's if None.
    as_text
        The answer is UTF-8 text, not JSON.

    Raises
    ------
    SourceUnavailable
        No answer, and nothing kept.
    SourceMalformed
        An answer that fails the check, and nothing kept.
    """

    def parse(content: bytes) -> Any:  # noqa: ANN401 - JSON is anything
        return _text(content, provider) if as_text else _parse(content, provider)

    def inspect(response: requests.Response, **_: object) -> None:
        # what is kept passed when it came
        if response.status_code == requests.codes.ok and not getattr(response, "from_cache", False):
            check(parse(response.content))

    extra: dict[str, Any] = {} if expire_after is None else {"expire_after": expire_after}
    try:
        response = session.get(url, params=dict(params), hooks={"response": inspect}, **extra)
        response.raise_for_status()
    except SourceError:
        raise
    except (requests.RequestException, MaxRetryError, sqlite3.DatabaseError) as error:
        raise SourceUnavailable(_why(error, provider)) from error
    fetched_at: datetime = response.created_at.replace(tzinfo=response.created_at.tzinfo or UTC)
    return Answer(
        body=parse(response.content),
        fetched_at=fetched_at,
        notice=_notice(session, response, fetched_at, provider),
    )


def _notice(
    session: requests_cache.CachedSession,
    response: requests.Response,
    fetched_at: datetime,
    provider: str,
) -> str:
    """Say in a line that an answer is old, or could not be kept; blank when all is well."""
    if getattr(response, "from_cache", False):
        if from_the_future(fetched_at):
            return (
                f"{provider} could not be asked: using its answer of {fetched_at:%Y-%m-%d}, which "
                "is still to come by this computer's clock. Check the clock."
            )
        if response.is_expired:  # type: ignore[attr-defined] # a kept answer
            age = age_words(datetime.now(UTC) - fetched_at)
            return f"{provider} could not be asked: using its answer of {age} ago."
        return ""
    unkept = getattr(session.cache, "unkept", "")
    if unkept:
        return (
            f"{provider}'s answer is used but could not be kept for later ({unkept}). "
            "Make room on the disk."
        )
    return ""


def age_words(age: timedelta) -> str:
    """Say an age in whole minutes, hours or days.

    Examples
    --------
    >>> age_words(timedelta(hours=26))
    '26 hours'
    """
    minutes = max(int(age.total_seconds() // 60), 0)
    for size, word, least in ((1440, "day", 2880), (60, "hour", 120), (1, "minute", 0)):
        if minutes >= least:
            count = minutes // size
            return f"{count} {word}" if count == 1 else f"{count} {word}s"
    raise AssertionError  # least reaches 0


def _parse(content: bytes, provider: str) -> Any:  # noqa: ANN401 - JSON is anything
    def refuse(word: str) -> None:
        message = f"{provider} sent {word} where a number should be. Try again later."
        raise SourceMalformed(message)

    try:
        return json.loads(content, parse_constant=refuse)
    except (ValueError, RecursionError) as error:
        message = (
            f"{provider} sent something that is not JSON, perhaps a login page of the network. "
            "Open any web page to see, then try again."
        )
        raise SourceMalformed(message) from error


def _text(content: bytes, provider: str) -> str:
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        message = f"{provider} sent something that is not text. Try again later."
        raise SourceMalformed(message) from error


def _why(error: Exception, provider: str) -> str:
    """Say in one line why there is no answer."""
    for kind, words in _PLAIN.items():
        if isinstance(error, kind):
            return f"{provider} {words}"
    response = getattr(error, "response", None)
    if response is None or isinstance(error, requests.Timeout):
        # after retries a time-out comes wrapped as a failed connection
        cause = getattr(error.args[0] if error.args else None, "reason", None)
        if isinstance(error, requests.Timeout) or isinstance(cause, ReadTimeoutError):
            return f"{provider} did not answer in time, and no older answer is kept. Try later."
        return (
            f"{provider} can't be reached, and no older answer is kept. "
            "Check the connection and try again."
        )
    if getattr(response, "from_cache", False):
        return f"{provider} was not asked (offline), and no older answer is kept. Go online once."
    said = _reason(response)
    mend = (
        "The service's limit is used up: wait, then try again."
        if response.status_code == requests.codes.too_many_requests
        else "Try again later."
    )
    return f"{provider} answered {response.status_code}{said}. {mend}"


def _reason(response: requests.Response) -> str:
    """Return the service's own words, one short printable line."""
    try:
        reason = response.json()["reason"]
    except (ValueError, KeyError, TypeError):
        return ""
    line = "".join(c if c.isprintable() else " " for c in str(reason)).strip(" .")
    return f" ({line[:200]})" if line else ""
