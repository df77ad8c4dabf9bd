"""Where are answers kept, and what if that place fails?

A cache must never cost the keeper an answer: what can't be read is asked for again, what can't be
written is handed on unkept, and a write happens whole or leaves the good entry as it was.
"""

import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import requests
from requests_cache.backends.base import BaseCache, BaseStorage, DictStorage
from requests_cache.models.response import CachedResponse

from data_sources.errors import SourceError

_KEEP_D = 400  # older answers are dropped; expired ones stay, they are what a failure falls back on
_BUSY_S = 5.0  # another process may write meanwhile
_LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)
# an answer from further in the future than this was kept under a clock that was wrong
CLOCK_SLACK = timedelta(minutes=5)


class KeptAnswers(BaseCache):
    """Answers in an SQLite file, or in memory, that survive their own faults.

    `unkept` is why the last answer could not be written, blank when it was.
    """

    def __init__(self, file: Path | None) -> None:
        super().__init__(cache_name="answers")
        self.unkept = ""
        self.texts: BaseStorage[str, Any] = DictStorage()  # type: ignore[no-untyped-call]
        if file is None:
            return
        lock = threading.RLock()
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            _set_broken_aside(file)
            _make_private(file)
            connection = sqlite3.connect(
                file, timeout=_BUSY_S, isolation_level=None, check_same_thread=False
            )
            self.responses = _Rows(connection, lock, "responses", serializer="json")
            self.redirects = _Rows(connection, lock, "redirects", serializer=None)
            self.texts = _Rows(connection, lock, "texts", serializer=None)
            self.responses.drop_old()
        except (OSError, sqlite3.Error) as error:
            message = (
                f"the file for kept answers, {file.name}, can't be used: {error}. Check its folder."
            )
            raise SourceError(message) from error

    def get_response(
        self, key: str, default: CachedResponse | None = None
    ) -> CachedResponse | None:
        """Return a kept answer; None where there is none, or the file can't be read."""
        try:
            response = super().get_response(key, default)
        except sqlite3.Error:
            return default
        if response is not None and from_the_future(response.created_at):
            # its age can't be known: ask anew, and keep it to fall back on
            response.expires = _LONG_AGO
        return response

    def save_response(
        self,
        response: requests.Response,
        cache_key: str | None = None,
        expires: datetime | None = None,
    ) -> None:
        """Keep an answer; where that fails, `unkept` says why and nothing is lost."""
        try:
            super().save_response(response, cache_key, expires)
        except (sqlite3.Error, OSError) as error:
            self.unkept = str(error)
        else:
            self.unkept = ""

    def kept_text(self, key: str) -> str | None:
        """Return a text kept beside the answers; None where there is none or it can't be read."""
        try:
            return str(self.texts[key])
        except (KeyError, sqlite3.Error):
            return None

    def keep_text(self, key: str, text: str) -> None:
        """Keep a text beside the answers, if that can be."""
        with suppress(sqlite3.Error):
            self.texts[key] = text


def from_the_future(given_at: datetime) -> bool:
    """Say whether an answer bears a time to come: the clock was changed since, or before."""
    aware = given_at if given_at.tzinfo else given_at.replace(tzinfo=UTC)
    return aware > datetime.now(UTC) + CLOCK_SLACK


class _Rows(BaseStorage[str, Any]):
    """One table of keys and values; each write is one statement, so it happens whole or not."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        lock: threading.RLock,
        table: str,
        *,
        serializer: str | None,
    ) -> None:
        super().__init__(serializer=serializer)
        self._connection, self._lock, self._table = connection, lock, table
        self._run(
            f"CREATE TABLE IF NOT EXISTS {table}(key TEXT PRIMARY KEY, value BLOB, expires INTEGER)"
        )

    def _run(self, statement: str, cells: tuple[object, ...] = ()) -> sqlite3.Cursor:
        with self._lock:
            return self._connection.execute(statement, cells)

    def __getitem__(self, key: str) -> Any:  # noqa: ANN401 - what was kept
        found = self._run(f"SELECT value FROM {self._table} WHERE key = ?", (key,)).fetchone()  # noqa: S608
        if found is None:
            raise KeyError(key)
        return self.deserialize(key, found[0])

    def __setitem__(self, key: str, value: object) -> None:
        expires = getattr(value, "expires_unix", None)
        self._run(
            f"INSERT OR REPLACE INTO {self._table}(key, value, expires) VALUES (?, ?, ?)",  # noqa: S608
            (key, self.serialize(value), expires),
        )

    def __delitem__(self, key: str) -> None:
        if not self._run(f"DELETE FROM {self._table} WHERE key = ?", (key,)).rowcount:  # noqa: S608
            raise KeyError(key)

    def __iter__(self) -> Iterator[str]:
        rows = self._run(f"SELECT key FROM {self._table}").fetchall()  # noqa: S608
        return iter([key for (key,) in rows])

    def __len__(self) -> int:
        return int(self._run(f"SELECT COUNT(*) FROM {self._table}").fetchone()[0])  # noqa: S608

    def drop_old(self) -> None:
        """Drop answers much older than the newest one: a clock that is wrong drops none."""
        newest = f"(SELECT MAX(expires) FROM {self._table})"  # noqa: S608
        with suppress(sqlite3.OperationalError):  # locked, full or read only: another time
            self._run(
                f"DELETE FROM {self._table} WHERE expires < {newest} - ?",  # noqa: S608
                (_KEEP_D * 86_400,),
            )

    def close(self) -> None:
        self._connection.close()


def _make_private(path: Path) -> None:
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    path.chmod(0o600)


def _set_broken_aside(path: Path) -> None:
    """Rename a file that is no database, so that a new one can begin."""
    if not path.exists():
        return
    try:
        with closing(sqlite3.connect(path, timeout=_BUSY_S)) as connection:
            connection.execute("PRAGMA schema_version").fetchone()
            sound = connection.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok"
    except sqlite3.OperationalError:
        return  # locked by another process, not broken
    except sqlite3.DatabaseError:
        sound = False
    if not sound:
        with suppress(FileNotFoundError):  # another process was first
            path.replace(path.with_name(f"{path.name}.broken-{datetime.now(UTC):%Y%m%dT%H%M%S%f}"))
