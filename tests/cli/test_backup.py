"""What `backup` and `restore` tell the keeper."""

import pytest

from swarmwatch.cli.main import main
from swarmwatch.records import open_records


def run(*words):
    try:
        main(list(map(str, words)))
    except SystemExit as done:
        return done.code or 0
    return 0


@pytest.fixture
def path(tmp_path):
    """Empty records."""
    place = tmp_path / "swarmwatch.sqlite"
    open_records(place, create=True).close()
    return place


def test_a_copy_into_a_folder_is_put_back_from_it(path, tmp_path, capsys):
    folder = tmp_path / "copies"
    assert run("backup", "--to", folder, "--records", path) == 0
    assert "keep one elsewhere" in capsys.readouterr().err
    assert run("restore", folder, "--records", path) == 0
    said = capsys.readouterr()
    assert f"{path} is now as in {folder}" in said.out
    assert "The records of before are kept" in said.err


def test_a_copy_goes_to_the_file_named(path, tmp_path):
    assert run("backup", "--to", tmp_path / "mine.sqlite", "--records", path) == 0
    assert (tmp_path / "mine.sqlite").is_file()


def test_a_damaged_copy_is_refused_in_plain_words(path, tmp_path, capsys):
    (tmp_path / "copy.sqlite").write_bytes(b"SQLite format 3\x00" + bytes(range(256)) * 40)
    assert run("restore", tmp_path / "copy.sqlite", "--records", path) == 2
    assert "copy.sqlite" in capsys.readouterr().err


def test_absent_records_are_told(tmp_path, capsys):
    assert run("backup", "--to", tmp_path / "x", "--records", tmp_path / "none.sqlite") == 2
    assert "there are no records here" in capsys.readouterr().err
