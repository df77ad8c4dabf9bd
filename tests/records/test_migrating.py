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

NEXT = f"{int(schema.VERSION) + 1:04d}"


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


def next_version(folder, body):
    """Copy the migrations and add one more with `body`."""
    copy = folder / "migrations"
    shutil.copytree(FOLDER, copy, ignore=shutil.ignore_patterns("__pycache__"))
    text = f'import sqlalchemy as sa\nfrom alembic import op\n\nrevision = "{NEXT}"\n'
    text += f'down_revision = "{schema.VERSION}"\n\n\ndef upgrade():\n    {body}\n'
    (copy / "versions" / f"v{NEXT}_more.py").write_text(text, encoding="utf-8")
    return copy


def migrate(path, folder):
    engine = make_engine(address_of(path))
    try:
        bring_up_to_date(engine, folder=folder, version=NEXT)
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
    folder = next_version(tmp_path, "op.add_column('boxes', sa.Column('colour', sa.Text()))")
    migrate(path, folder)
    assert any("colour" in part for part in made_of(path)["boxes"])
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM inspections").fetchone() == (2,)
    connection.close()
    copy = tmp_path / f"swarmwatch.sqlite.schema-{schema.VERSION}"
    assert not any("colour" in part for part in made_of(copy)["boxes"])


def test_a_migration_that_fails_is_undone_whole(path, tmp_path):
    open_records(path, create=True).close()
    before = made_of(path)
    body = "op.add_column('boxes', sa.Column('colour', sa.Text())); op.execute('SELECT nonsense')"
    with pytest.raises(StoreError, match=rf"could not be brought to schema {NEXT}.*as they were"):
        migrate(path, next_version(tmp_path, body))
    assert made_of(path) == before
    with open_records(path) as records:
        assert records.frame("boxes").empty


def test_records_of_the_first_version_are_brought_up_to_date(path, tables, at):
    engine = make_engine(address_of(path))
    bring_up_to_date(engine, version="0001")
    engine.dispose()
    assert "additions" not in made_of(path)
    with open_records(path) as records:
        records.store(tables, at=at, by="test")
        assert len(records.frame("inspections")) == 2
    assert "additions" in made_of(path)
