"""How is an open service asked, and what happens when it fails?

One session: answers are kept in a file, a service that fails is answered from what was kept,
however old, and the age is said. A bad answer never replaces a good one.
"""

import json
import logging
import os
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Self

import requests
import requests_cache
from requests.adapters import HTTPAdapter
from requests_cache.backends.sqlite import SQLiteCache
from urllib3.exceptions import MaxRetryError, ReadTimeoutError
from urllib3.util.retry import Retry

from data_sources.errors import SourceError, SourceMalformed, SourceUnavailable

USER_AGENT = "swarmwatch open-data client"
TIMEOUT_S = (5.0, 20.0)  # to connect, between two pieces of the answer
_KEEP_D = 400  # older answers are dropped; expired ones stay, they are what a failure falls back on
_PLENTY = 25_000_000  # bytes; no answer that is asked for here is near it


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A service's answer: its JSON, when it was given, and a line to show when it is old.

    `notice` is blank for an answer that is as new as it should be.
    """

    body: Any
    fetched_at: datetime
    notice: str = ""


def open_session(
    cache_file: Path | str | None,
    *,
    expire_after: timedelta = timedelta(hours=1),
    offline: bool = False,
    user_agent: str = USER_AGENT,
    timeout_s: tuple[float, float] = TIMEOUT_S,
    retries: int = 2,
    backoff_s: float = 0.5,
    retry_after_max_s: float = 60.0,
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
    retries
        How often a failed request is tried again.
    backoff_s
        Pause before the second retry, doubled for each more.
    retry_after_max_s
        A service that asks for a longer pause is not tried again.

    Raises
    ------
    SourceError
        The file can't be made.
    """
    # each fallback would log a traceback, each retry a line: `ask` says what matters, once
    for name in ("requests_cache.session", "urllib3.connectionpool"):
        logging.getLogger(name).setLevel(logging.ERROR)
    session = requests_cache.CachedSession(
        backend="memory" if cache_file is None else _cache(Path(cache_file)),
        expire_after=expire_after,
        stale_if_error=True,
        only_if_cached=offline,
        ignored_parameters=(*requests_cache.DEFAULT_IGNORED_PARAMS, "User-Agent"),
    )
    session.headers["User-Agent"] = user_agent
    adapter = _Adapter(
        timeout_s=timeout_s,
        max_retries=_Retry(
            total=retries,
            backoff_factor=backoff_s,
            status_forcelist=(500, 502, 503, 504),
            allowed_methods=("GET", "HEAD"),
            raise_on_status=False,
            retry_after_max=retry_after_max_s,  # type: ignore[arg-type] # any number will do
        ),
    )
    session.mount("https://", adapter)
    session.mount("http://", adapter)
    return session


def ask(
    session: requests_cache.CachedSession,
    url: str,
    params: Mapping[str, str],
    *,
    check: Callable[[Any], object],
    provider: str,
    expire_after: timedelta | None = None,
) -> Answer:
    """Ask a service for JSON, or take its last good answer.

    Parameters
    ----------
    session
        From `open_session`.
    url, params
        What to ask; write coordinates with a fixed number of decimals, so that the same place is
        the same question.
    check
        Called with the JSON; raises SourceMalformed when it isn't what was agreed. It also runs
        on kept answers, so it should be quick.
    provider
        Name of the service for messages.
    expire_after
        Age up to which a kept answer of this kind is used; the session's if None.

    Raises
    ------
    SourceUnavailable
        No answer, and nothing kept.
    SourceMalformed
        An answer that fails the check, and nothing kept.
    """

    def inspect(response: requests.Response, **_: object) -> None:
        if response.status_code == requests.codes.ok:
            check(_parse(response.content, provider))

    extra: dict[str, Any] = {} if expire_after is None else {"expire_after": expire_after}
    try:
        response = session.get(url, params=dict(params), hooks={"response": inspect}, **extra)
        response.raise_for_status()
    except SourceError:
        raise
    except (requests.RequestException, MaxRetryError, sqlite3.DatabaseError) as error:
        raise SourceUnavailable(_why(error, provider)) from error
    fetched_at: datetime = response.created_at.replace(tzinfo=response.created_at.tzinfo or UTC)
    notice = ""
    if response.from_cache and response.is_expired:
        age = age_words(datetime.now(UTC) - fetched_at)
        notice = f"{provider} could not be asked: using its answer of {age} ago."
    return Answer(body=_parse(response.content, provider), fetched_at=fetched_at, notice=notice)


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

    if len(content) > _PLENTY:
        message = f"{provider} sent an answer of {len(content)} bytes. Ask for fewer days."
        raise SourceMalformed(message)
    try:
        return json.loads(content, parse_constant=refuse)
    except (ValueError, RecursionError) as error:
        message = (
            f"{provider} sent something that is not JSON, perhaps a login page of the network. "
            "Open any web page to see, then try again."
        )
        raise SourceMalformed(message) from error


def _why(error: Exception, provider: str) -> str:
    """Say in one line why there is no answer."""
    response = getattr(error, "response", None)
    if response is None:
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


class _Adapter(HTTPAdapter):
    """An adapter that never waits for ever."""

    def __init__(self, *, timeout_s: tuple[float, float], max_retries: Retry) -> None:
        self._timeout_s = timeout_s
        super().__init__(max_retries=max_retries)

    def send(  # type: ignore[override] # the rest is passed through
        self,
        request: requests.PreparedRequest,
        **how: Any,  # noqa: ANN401
    ) -> requests.Response:
        how["timeout"] = how.get("timeout") or self._timeout_s
        return super().send(request, **how)


class _Retry(Retry):
    """Retries that give up at once when the service asks for a long pause."""

    def increment(self, *args: Any, **how: Any) -> Self:  # noqa: ANN401 - passed through
        response = how.get("response")
        pause = None if response is None else self.get_retry_after_asked(response)
        if pause is not None and pause > self.retry_after_max:
            raise MaxRetryError(how.get("_pool"), "", None)  # type: ignore[arg-type] # only caught
        return super().increment(*args, **how)

    @staticmethod
    def get_retry_after_asked(response: Any) -> float | None:  # noqa: ANN401 - urllib3's
        """Return the pause that was asked for in seconds, not capped; None for none."""
        uncapped = Retry(retry_after_max=int(timedelta(days=3650).total_seconds()))
        return uncapped.get_retry_after(response)


def _cache(path: Path) -> SQLiteCache:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _set_broken_aside(path)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
        path.chmod(0o600)
        cache = SQLiteCache(path, serializer="json", busy_timeout=5000)
        cache.delete(older_than=timedelta(days=_KEEP_D), vacuum=False)
    except (OSError, sqlite3.Error) as error:
        message = (
            f"the file for kept answers, {path.name}, can't be used: {error}. Check its folder."
        )
        raise SourceError(message) from error
    return cache


def _set_broken_aside(path: Path) -> None:
    """Rename a file that is no database, so that a new one can begin."""
    if not path.exists():
        return
    try:
        with closing(sqlite3.connect(path, timeout=5)) as connection:
            connection.execute("PRAGMA schema_version").fetchone()
            sound = connection.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok"
    except sqlite3.OperationalError:
        return  # locked by another process, not broken
    except sqlite3.DatabaseError:
        sound = False
    if not sound:
        path.replace(path.with_name(f"{path.name}.broken-{datetime.now(UTC):%Y%m%dT%H%M%S%f}"))
