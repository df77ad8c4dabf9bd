"""Keep a copy of the records, and put one back."""

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from swarmwatch.errors import StoreError, UsageError
from swarmwatch.records.copies import MOMENT
from swarmwatch.records.engine import APPLICATION_ID, address_of, plain_words

# SQLite writes these beside a file while it is open
_COMPANIONS = ("-wal", "-shm", "-journal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did; `aside` is where the records of before are now, None if none were."""

    records: Path
    aside: Path | None
    damaged: bool


def write_backup(records: str | Path, to: Path, *, force: bool = False) -> Path:
    """Copy the records as they are at one moment, checked before the copy gets its name.

    Parameters
    ----------
    records
        The path of the records' file; other programs may be reading and writing it meanwhile.
    to
        The copy's path.
    force
        Replace a file that is there.

    Returns
    -------
    The copy's path.

    Raises
    ------
    StoreError
        The records are absent, damaged or not a file of ours, or the copy can't be written.
    UsageError
        The records are on a database server, or a file is there and `force` is not set.
    """
    source = _file_of(records)
    if to.exists() and (not force or to.samefile(source)):
        message = f"{to}: this file is there already. Give another name, or --force to replace it."
        raise UsageError(message)
    _refuse_unsound(source)
    with _beside(to) as copy:
        _copy(source, copy)
        _refuse_unsound(copy)
        copy.replace(to)
    return to


def restore_backup(backup: Path, records: str | Path, *, at: datetime) -> Restored:
    """Put a copy back in the place of the records, which are kept beside under another name.

    Parameters
    ----------
    backup
        A copy that `write_backup` made.
    records
        The path of the records' file; it may be absent or damaged.
    at
        The moment, for the name of what is kept.

    Raises
    ------
    StoreError
        The copy is damaged or not ours, or the place can't be written; nothing was changed.
    UsageError
        The records are on a database server, or the copy is the records' own file.
    """
    _refuse_unsound(backup)
    target = _file_of(records, absent=True)
    there = target.exists()
    if there and target.samefile(backup):
        message = f"{backup}: this is the file of the records itself. Give a backup of it."
        raise UsageError(message)
    damaged = there and not _is_sound(target)
    aside = target.with_name(f"{target.name}.before-{at.strftime(MOMENT)}") if there else None
    if aside is not None and aside.exists():
        message = f"{aside}: this file is there already. Try again in a second."
        raise StoreError(message)
    if aside is not None and not damaged:
        with _beside(aside) as copy:
            _copy(target, copy)
            copy.replace(aside)
        _copy(backup, target, alone=False)  # one transaction: a crash leaves the records of before
    else:
        with _beside(target) as copy:
            _copy(backup, copy)
            if aside is not None:
                _move(target, aside)
            copy.replace(target)
    return Restored(records=target, aside=aside, damaged=damaged)


def _file_of(records: str | Path, *, absent: bool = False) -> Path:
    address = address_of(records)
    if address.get_backend_name() != "sqlite" or not address.database:
        message = (
            "The records are on a database server, which has backups of its own: ask whoever runs "
            "it, or use `swarmwatch export`."
        )
        raise UsageError(message)
    path = Path(address.database)
    if not absent and not path.is_file():
        message = f"{path}: there are no records here. Give their path with --records."
        raise StoreError(message)
    return path


def _move(target: Path, aside: Path) -> None:
    for part in ("", *_COMPANIONS):
        file = target.with_name(target.name + part)
        if file.exists():
            file.replace(aside.with_name(aside.name + part))


def _copy(source: Path, target: Path, *, alone: bool = True) -> None:
    """Copy all pages; `alone` makes a file that needs none beside it, also on a read-only disk."""
    with (
        plain_words(address_of(target)),
        closing(_opened(source)) as reader,
        closing(sqlite3.connect(target)) as writer,
    ):
        reader.backup(writer)
        if alone:
            writer.execute("PRAGMA journal_mode = DELETE")


def _opened(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)


def _is_sound(path: Path) -> bool:
    try:
        _refuse_unsound(path)
    except StoreError:
        return False
    return True


def _refuse_unsound(path: Path) -> None:
    if not path.is_file():
        message = f"{path}: there is no file of this name. Check the path."
        raise StoreError(message)
    with plain_words(address_of(path)), closing(_opened(path)) as connection:
        ours = connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
        faults = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
        loose = connection.execute("PRAGMA foreign_key_check").fetchone()
    if not ours:
        message = f"{path}: this is not a file of swarmwatch records. Check the path."
        raise StoreError(message)
    if faults != ["ok"] or loose is not None:
        message = f"{path}: the file is damaged. Take an older backup: `swarmwatch restore FILE`."
        raise StoreError(message)


@contextmanager
def _beside(place: Path) -> Iterator[Path]:
    """Give a new file in the folder of `place`, readable by its owner only; gone if not moved."""
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}-")
    except OSError as error:
        message = f"{place}: {error.strerror or error}. Check that you may write there."
        raise StoreError(message) from error
    os.close(handle)
    beside = Path(name)
    try:
        yield beside
    except OSError as error:
        message = f"{place}: {error.strerror or error}. Check that you may write there."
        raise StoreError(message) from error
    finally:
        beside.unlink(missing_ok=True)
