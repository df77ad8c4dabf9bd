"""Does the demo know its own files again, also after it was cut off half way?"""

import json
from pathlib import Path

import pytest

from swarmwatch.cli.demo_folder import MANIFEST, refuse_foreign, replace_files
from swarmwatch.errors import UsageError

NAMES = ("a.csv", "b.csv")


def fill(folder: Path, text: str) -> Path:
    folder.mkdir()
    for name in NAMES:
        (folder / name).write_text(f"{text} {name}", encoding="utf-8")
    return folder


@pytest.fixture
def placed(tmp_path) -> Path:
    """A folder with the files of a first run."""
    target = tmp_path / "demo"
    replace_files(fill(tmp_path / "first", "one"), target, NAMES, {})
    return target


def test_an_absent_folder_is_free(tmp_path):
    assert refuse_foreign(tmp_path / "absent", NAMES) == {}


def test_files_of_an_earlier_run_are_replaced(placed, tmp_path):
    ours = refuse_foreign(placed, NAMES)
    replace_files(fill(tmp_path / "second", "two"), placed, NAMES, ours)
    assert (placed / "a.csv").read_text(encoding="utf-8") == "two a.csv"


def test_a_run_that_was_cut_off_between_two_files_is_known_again(placed, tmp_path, monkeypatch):
    ours = refuse_foreign(placed, NAMES)
    second = fill(tmp_path / "second", "two")

    move = Path.replace

    def cut_off(self: Path, target: Path) -> Path:
        if self.name == "b.csv":
            raise InterruptedError
        return move(self, target)

    monkeypatch.setattr(Path, "replace", cut_off)
    with pytest.raises(InterruptedError):
        replace_files(second, placed, NAMES, ours)

    assert (placed / "a.csv").read_text(encoding="utf-8") == "two a.csv"
    assert (placed / "b.csv").read_text(encoding="utf-8") == "one b.csv"
    refuse_foreign(placed, NAMES)


def test_all_foreign_files_are_named_at_once(tmp_path):
    folder = fill(tmp_path / "mine", "mine")
    with pytest.raises(UsageError, match=r"a\.csv.*b\.csv"):
        refuse_foreign(folder, NAMES)


def test_a_changed_file_is_refused(placed):
    (placed / "b.csv").write_text("changed", encoding="utf-8")
    with pytest.raises(UsageError, match=r"b\.csv"):
        refuse_foreign(placed, NAMES)


def test_a_folder_in_place_of_a_file_is_refused(placed):
    (placed / "b.csv").unlink()
    (placed / "b.csv").mkdir()
    with pytest.raises(UsageError, match=r"b\.csv"):
        refuse_foreign(placed, NAMES)


def test_a_deleted_file_is_no_hindrance(placed):
    (placed / "b.csv").unlink()
    refuse_foreign(placed, NAMES)


def test_records_that_a_program_is_writing_to_are_refused(placed):
    (placed / "a.csv-wal").write_text("pages", encoding="utf-8")
    with pytest.raises(UsageError, match=r"a\.csv-wal"):
        refuse_foreign(placed, NAMES)


@pytest.mark.parametrize("text", ["", "[]", "{}", json.dumps({"schema": "other", "files": {}})])
def test_a_list_of_files_that_is_not_ours_is_refused(placed, text):
    (placed / MANIFEST).write_text(text, encoding="utf-8")
    with pytest.raises(UsageError, match=MANIFEST.replace(".", r"\.")):
        refuse_foreign(placed, NAMES)


def test_each_verb_knows_only_the_files_it_wrote_itself(placed, tmp_path):
    with pytest.raises(UsageError, match="not written by `swarmwatch round`"):
        refuse_foreign(placed, NAMES, verb="round")
    replace_files(fill(tmp_path / "other", "two"), placed, NAMES, {}, verb="round")
    refuse_foreign(placed, NAMES, verb="round")
    with pytest.raises(UsageError, match="not written by `swarmwatch demo`"):
        refuse_foreign(placed, NAMES)
