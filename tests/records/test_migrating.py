"""A store is of this version, or becomes so, or is refused in plain words."""

import re
import shutil
import sqlite3

import pytest
import sqlalchemy as sa

from swarmwatch.errors import StoreError
from swarmwatch.records import open_records, schema
from swarmwatch.records.engine import APPLICATION_ID, address_of, make_engine
from swarmwatch.records.migrating import FOLDER, bring_up_to_date


@pytest.fixture
def path(tmp_path):
    """Where the records are."""
    return tmp_path / "swarmwatch.sqlite"


def made_of(path):
    """Return what an SQLite file is made of: each table's name and its sorted parts."""
    with sqlite3.connect(path) as connection:
        rows = connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE sql > '' AND name != 'alembic_version'"
        ).fetchall()
    connection.close()
    return {name: sorted(re.split(r",\s*\n|\n\)", sql.replace('"', ""))) for name, sql in rows}


def second_version(folder, body):
    """Copy the migrations and add a second one with `body`."""
    copy = folder / "migrations"
    shutil.copytree(FOLDER, copy, ignore=shutil.ignore_patterns("__pycache__"))
    text = 'import sqlalchemy as sa\nfrom alembic import op\n\nrevision = "0002"\n'
    text += f'down_revision = "0001"\n\n\ndef upgrade():\n    {body}\n'
    (copy / "versions" / "v0002_more.py").write_text(text, encoding="utf-8")
    return copy


def migrate(path, folder):
    engine = make_engine(address_of(path))
    try:
        bring_up_to_date(engine, folder=folder, version="0002")
    finally:
        engine.dispose()


def test_the_migrations_make_the_tables_that_the_code_expects(path, tmp_path):
    open_records(path, create=True).close()
    other = tmp_path / "metadata.sqlite"
    engine = sa.create_engine(f"sqlite:///{other}")
    schema.metadata.create_all(engine)
    engine.dispose()
    assert made_of(path) == made_of(other)


def test_an_empty_file_becomes_records(path):
    path.touch()
    with open_records(path) as records:
        assert records.frame("colonies").empty


def test_a_new_file_is_marked_as_ours(path):
    open_records(path, create=True).close()
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    connection.close()


def test_records_of_a_newer_version_are_refused_and_left_alone(path):
    open_records(path, create=True).close()
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    with pytest.raises(StoreError, match=r"newer swarmwatch \(schema 9999.*Update swarmwatch"):
        open_records(path)


def test_an_older_store_is_migrated_and_keeps_its_rows_and_a_copy(path, tmp_path, tables, at):
    with open_records(path, create=True) as records:
        records.store(tables, at=at, by="test")
    folder = second_version(tmp_path, "op.add_column('boxes', sa.Column('colour', sa.Text()))")
    migrate(path, folder)
    assert any("colour" in part for part in made_of(path)["boxes"])
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM inspections").fetchone() == (2,)
    connection.close()
    copy = tmp_path / "swarmwatch.sqlite.schema-0001"
    assert not any("colour" in part for part in made_of(copy)["boxes"])


def test_a_migration_that_fails_is_undone_whole(path, tmp_path):
    open_records(path, create=True).close()
    before = made_of(path)
    body = "op.add_column('boxes', sa.Column('colour', sa.Text())); op.execute('SELECT nonsense')"
    with pytest.raises(StoreError, match=r"could not be brought to schema 0002.*as they were"):
        migrate(path, second_version(tmp_path, body))
    assert made_of(path) == before
    with open_records(path) as records:
        assert records.frame("boxes").empty
