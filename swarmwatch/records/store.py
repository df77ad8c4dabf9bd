"""Open the records, read them as frames, write frames into them."""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import pandas as pd
import sqlalchemy as sa

from swarmwatch.errors import StoreError, UsageError
from swarmwatch.records import schema
from swarmwatch.records.engine import address_of, make_engine, plain_words, reads_only, shown
from swarmwatch.records.migrating import bring_up_to_date
from swarmwatch.records.reading_back import frame_of
from swarmwatch.records.storing import Stored, store_tables

__all__ = ["Records", "Stored", "open_records", "records_exist"]


def open_records(location: str | Path, *, create: bool = False) -> "Records":
    """Open the keeper's records.

    Parameters
    ----------
    location
        The path of an SQLite file, or a SQLAlchemy address.
    create
        Make the file where there is none.

    Returns
    -------
    The records; use them in a ``with`` block, which closes them.

    Raises
    ------
    StoreError
        The records are absent, can't be opened, are of another program or of a newer version.
    """
    address = address_of(location)
    if address.get_backend_name() == "sqlite" and address.database:
        _look_at(Path(address.database), create=create)
    engine = make_engine(address)
    try:
        with plain_words(address):
            bring_up_to_date(engine)
    except BaseException:
        engine.dispose()
        raise
    return Records(engine)


def records_exist(location: str | Path) -> bool:
    """Say whether records are there: a file, or a database that holds some.

    Raises
    ------
    StoreError
        The place can't be looked at.
    """
    address = address_of(location)
    if address.get_backend_name() == "sqlite":
        # os.path: what can't be looked at is told when it is opened
        return bool(address.database) and os.path.lexists(str(address.database))
    engine = make_engine(address)
    try:
        with plain_words(address):
            return sa.inspect(engine).has_table("alembic_version")
    finally:
        engine.dispose()


def _look_at(path: Path, *, create: bool) -> None:
    try:
        folder, there = path.is_dir(), path.exists()
    except OSError as error:
        message = f"{path}: {error.strerror}. Check that you may read there."
        raise StoreError(message) from error
    if folder:
        message = f"{path}: this is a folder. Give the path of a file for the records."
        raise StoreError(message)
    if not there and not create:
        message = (
            f"{path}: there are no records here. Make them with `swarmwatch new` or "
            "`swarmwatch import FILE`, or give their path with --records."
        )
        raise StoreError(message)


class Records:
    """The keeper's records, open.

    `engine` is the SQLAlchemy engine; its transactions take the write lock at their start. The SQL
    tables are in `swarmwatch.records.schema`.
    """

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file or the database."""
        self.engine.dispose()

    @property
    def location(self) -> str:
        """The path or the address, its password masked."""
        return shown(self.engine.url)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Open one consistent view of the records; faults come as StoreError."""
        with plain_words(self.engine.url), self.engine.connect() as connection:
            yield reads_only(connection)

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Open one transaction that is kept whole or not at all; faults come as StoreError."""
        with plain_words(self.engine.url), self.engine.begin() as connection:
            if self.engine.dialect.name == "postgresql":
                # one writer at a time, as on SQLite; the number only has to be ours
                connection.exec_driver_sql("SELECT pg_advisory_xact_lock(1937207917)")
            yield connection

    def frames(self) -> dict[str, pd.DataFrame]:
        """Read every input table, conformed and in the order of its key, from one moment."""
        with self.reading() as connection:
            return {name: frame_of(connection, name) for name in schema.inputs}

    def frame(self, table: str) -> pd.DataFrame:
        """Read one input table, conformed and in the order of its key."""
        if table not in schema.inputs:
            message = f"{table}: no such table. There are {', '.join(schema.inputs)}."
            raise UsageError(message)
        with self.reading() as connection:
            return frame_of(connection, table)

    def store(
        self,
        frames: Mapping[str, pd.DataFrame],
        *,
        at: datetime,
        by: str,
        undoable: bool = True,
    ) -> dict[str, Stored]:
        """Write tables in one transaction, parents first whatever the order given.

        Same key and same values: nothing. Same key, other values: a correction, the earlier
        values kept. A column that a frame lacks keeps its stored values; a blank cell of a column
        that it has is a new value. Columns that the table does not name are kept as extra notes.

        Parameters
        ----------
        frames
            Tables by name, as text or typed.
        at
            The moment, with its zone.
        by
            Who or what brings them, such as the file's name.
        undoable
            Keep which rows were new, so that all of it can be taken back. Not worth its room for
            what can be fetched again.

        Returns
        -------
        What was done to each table.

        Raises
        ------
        RecordsError
            A cell can't be read, or one key stands twice with different values.
        StoreError
            The database refused; nothing was written.
        """
        with self.writing() as connection:
            return store_tables(connection, frames, at=at, by=by, undoable=undoable)

    def alerts(self) -> pd.DataFrame:
        """Read what was raised and who was told; the columns of table ``alerts``."""
        with self.reading() as connection:
            return frame_of(connection, "alerts")

    def count_extra_notes(self) -> int:
        """Count the notes kept from columns that no table names."""
        query = sa.select(sa.func.count()).select_from(schema.extra_notes)
        with self.reading() as connection:
            return connection.execute(query).scalar_one()

    def setting(self, name: str) -> str | None:
        """Return one setting, None where it was never set."""
        query = sa.select(schema.settings.c.value).where(schema.settings.c.name == name)
        with self.reading() as connection:
            return connection.execute(query).scalar()

    def set_setting(self, name: str, value: str) -> None:
        """Set one setting, over what it was."""
        table = schema.settings
        with self.writing() as connection:
            connection.execute(table.delete().where(table.c.name == name))
            connection.execute(table.insert().values(name=name, value=value))
