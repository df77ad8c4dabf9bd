"""Find out of which version the store is, and bring an older one up to date."""

import sqlite3
from contextlib import closing
from pathlib import Path

import sqlalchemy as sa

from swarmwatch.errors import StoreError
from swarmwatch.records.engine import APPLICATION_ID, reads_only, shown
from swarmwatch.records.schema import VERSION

FOLDER = Path(__file__).parent / "migrations"


def bring_up_to_date(engine: sa.Engine, *, folder: Path = FOLDER, version: str = VERSION) -> None:
    """Make the tables in an empty store, or migrate an older one; all in one transaction.

    Parameters
    ----------
    engine
        The store.
    folder
        Where the migrations are.
    version
        The migration that the code of today expects.

    Raises
    ------
    StoreError
        The store is of a newer version, holds other tables, or a migration failed.
    """
    found = _version(engine)
    if found == version:
        return
    from alembic.script import ScriptDirectory  # late: only a new or old store needs it

    script = ScriptDirectory(str(folder))
    known = {revision.revision for revision in script.walk_revisions()}
    if found is not None and found not in known:
        message = (
            f"{shown(engine.url)}: these records were written by a newer swarmwatch "
            f"(schema {found}; this one knows up to {version}). Update swarmwatch."
        )
        raise StoreError(message)
    if found is not None:
        _copy_aside(engine, found)
    _migrate(engine, script, version)


def _version(engine: sa.Engine) -> str | None:
    with engine.connect() as connection:
        names = set(sa.inspect(reads_only(connection)).get_table_names())
        if "alembic_version" in names and "apiaries" in names:
            found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
            return None if found is None else str(found)
        ours = {"alembic_version"}
        if engine.dialect.name == "sqlite" and names - ours:
            message = (
                f"{shown(engine.url)}: this is a database of another program. "
                "Give another path for the records."
            )
            raise StoreError(message)
    return None


def _migrate(engine: sa.Engine, script: object, version: str) -> None:
    from alembic.migration import MigrationContext
    from alembic.operations import Operations
    from alembic.script import ScriptDirectory

    assert isinstance(script, ScriptDirectory)  # noqa: S101 - narrows the late import's type

    with engine.begin() as connection:
        context = MigrationContext.configure(
            connection,
            opts={"fn": lambda found, _: script._upgrade_revs(version, found)},
        )
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        try:
            with Operations.context(context):
                context.run_migrations()
        except sa.exc.DBAPIError as error:
            message = (
                f"{shown(engine.url)}: the records could not be brought to schema {version} "
                f"({error.orig}). They are as they were."
            )
            raise StoreError(message) from error


def _copy_aside(engine: sa.Engine, found: str) -> None:
    """Copy an SQLite file before it is migrated; a server has backups of its own."""
    if engine.dialect.name != "sqlite" or not engine.url.database:
        return
    path = Path(engine.url.database)
    aside = path.with_name(f"{path.name}.schema-{found}")
    with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(aside)) as target:
        source.backup(target)
