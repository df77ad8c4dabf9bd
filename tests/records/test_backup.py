"""A copy is whole and checked; putting one back loses nothing that was there."""

import shutil
import sqlite3
import threading
from contextlib import closing
from datetime import timedelta

import pandas as pd
import pytest

from swarmwatch.errors import StoreError, UsageError
from swarmwatch.records import open_records
from swarmwatch.records.backup import restore_backup, write_backup
from swarmwatch.records.copies import backup_name, newest_backup


def boxes(*names):
    return {"boxes": pd.DataFrame({"box": list(names), "volume_l": 40})}


def names_in(path):
    with open_records(path) as records:
        return records.frame("boxes")["box"].tolist()


@pytest.fixture
def path(tmp_path, at):
    """Records with one box."""
    place = tmp_path / "swarmwatch.sqlite"
    with open_records(place, create=True) as records:
        records.store(boxes("B1"), at=at, by="test")
    return place


@pytest.fixture
def copy(path, tmp_path):
    """A copy of them."""
    return write_backup(path, tmp_path / "copies" / "one.sqlite")


def damage(path, at_byte=6000):
    content = bytearray(path.read_bytes())
    content[at_byte : at_byte + 9000] = b"\xff" * 9000
    path.write_bytes(content)


def test_a_copy_holds_what_the_records_hold(copy):
    assert names_in(copy) == ["B1"]


def test_a_copy_is_one_file(copy):
    assert [f.name for f in copy.parent.iterdir()] == ["one.sqlite"]


def test_a_copy_holds_what_stands_in_the_log_of_open_records(path, tmp_path, at):
    with open_records(path) as records:
        records.store(boxes("B2"), at=at, by="test")
        assert path.with_name(path.name + "-wal").stat().st_size > 0
        copy = write_backup(path, tmp_path / "two.sqlite")
    assert names_in(copy) == ["B1", "B2"]


def test_a_copy_taken_while_another_writes_is_whole(path, tmp_path, at):
    stop = threading.Event()

    def write():
        with open_records(path) as records:
            for i in range(10_000):
                if stop.is_set():
                    return
                records.store(boxes(f"C{i}a", f"C{i}b"), at=at, by="test")

    writer = threading.Thread(target=write)
    writer.start()
    try:
        copies = [write_backup(path, tmp_path / f"{i}.sqlite") for i in range(5)]
    finally:
        stop.set()
        writer.join()
    for copy in copies:
        found = set(names_in(copy)) - {"B1"}
        assert {n[:-1] + "a" for n in found} == {n for n in found if n.endswith("a")}
        assert len(found) % 2 == 0


def test_putting_back_brings_what_was_and_keeps_what_is(path, copy, at):
    with open_records(path) as records:
        records.store(boxes("B2"), at=at, by="test")
    done = restore_backup(copy, path, at=at)
    assert names_in(path) == ["B1"]
    assert not done.damaged
    assert names_in(done.aside) == ["B1", "B2"]


def test_what_was_put_back_can_be_taken_back(path, copy, at):
    with open_records(path) as records:
        records.store(boxes("B2"), at=at, by="test")
    done = restore_backup(copy, path, at=at)
    restore_backup(done.aside, path, at=at + timedelta(seconds=1))
    assert names_in(path) == ["B1", "B2"]


def test_an_open_program_sees_what_was_put_back(path, copy, at):
    with open_records(path) as records:
        records.store(boxes("B2"), at=at, by="test")
        restore_backup(copy, path, at=at)
        assert records.frame("boxes")["box"].tolist() == ["B1"]


def test_records_that_are_gone_come_back(path, copy, at):
    path.unlink()
    assert restore_backup(copy, path, at=at).aside is None
    assert names_in(path) == ["B1"]


def test_damaged_records_are_kept_beside_the_ones_put_back(path, copy, at):
    damage(path)
    before = path.read_bytes()
    done = restore_backup(copy, path, at=at)
    assert done.damaged
    assert done.aside.read_bytes() == before
    assert names_in(path) == ["B1"]


def test_damaged_records_are_not_copied(path, tmp_path):
    damage(path)
    with pytest.raises(StoreError, match="damaged"):
        write_backup(path, tmp_path / "copy.sqlite")
    assert not (tmp_path / "copy.sqlite").exists()


@pytest.mark.parametrize("harm", ["damaged", "foreign", "text", "absent"])
def test_a_copy_that_is_no_good_changes_nothing(path, copy, at, harm):
    if harm == "damaged":
        damage(copy)
    elif harm == "foreign":
        copy.unlink()
        with closing(sqlite3.connect(copy)) as other:
            other.execute("CREATE TABLE t (a)")
            other.commit()
    elif harm == "text":
        copy.write_text("box\nB1\n", encoding="utf-8")
    else:
        copy.unlink()
    with pytest.raises(StoreError, match=r"one\.sqlite"):
        restore_backup(copy, path, at=at)
    assert names_in(path) == ["B1"]
    kept = {f.name.removesuffix("-wal").removesuffix("-shm") for f in path.parent.iterdir()}
    assert kept == {"copies", path.name}


def test_a_copy_replaces_no_file_unless_forced(path, copy):
    with pytest.raises(UsageError, match="there already"):
        write_backup(path, copy)
    write_backup(path, copy, force=True)
    with pytest.raises(UsageError, match="there already"):
        write_backup(path, path, force=True)


def test_records_on_a_server_are_left_to_the_server(tmp_path):
    with pytest.raises(UsageError, match="backups of its own"):
        write_backup("postgresql://keeper@localhost/bees", tmp_path / "x.sqlite")


def test_the_records_own_file_is_no_copy(path, at):
    with pytest.raises(UsageError, match="itself"):
        restore_backup(path, path, at=at)


def test_the_newest_copy_of_a_folder_is_found(path, tmp_path, at):
    folder = tmp_path / "copies"
    for hours in (2, 0, 1):
        write_backup(path, folder / backup_name(at + timedelta(hours=hours)))
    shutil.copy(path, folder / "zzz.sqlite")
    assert newest_backup(folder).name == backup_name(at + timedelta(hours=2))


def test_an_empty_folder_is_named(tmp_path):
    with pytest.raises(StoreError, match="no copy in this folder"):
        newest_backup(tmp_path)
