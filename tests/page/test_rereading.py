"""What is read again is what all tables hold now, and no more is read than was written."""

import shutil

import pandas as pd
import pytest
import sqlalchemy as sa
from served import NOW

from swarmwatch.page.rereading import read_frames
from swarmwatch.page.state import Prints
from swarmwatch.records import open_records
from swarmwatch.records.history import undo


@pytest.fixture
def records(small_template, tmp_path):
    path = tmp_path / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    with open_records(path) as opened:
        yield opened


def store(records, table, *, undoable=True, **cells):
    at = NOW.replace(minute=1)
    records.store({table: pd.DataFrame(cells)}, at=at, by="test", undoable=undoable)


def note(records):
    store(records, "inspections", colony=["Alder"], date=["2026-05-01"], combs_bees=["3"])


def correct(records):
    store(records, "inspections", colony=["Birch"], date=["2026-05-28"], combs_bees=["5"])


def split(records):
    store(records, "events", colony=["Birch"], date=["2026-05-29"], event=["split"])


def fetch(records):
    day = {"date": ["2026-06-05"], "temp_max_c": ["21"], "temp_min_c": ["9"]}
    store(records, "weather", **day, undoable=False)


def note_without_a_trace(records):
    many = {"colony": ["Alder"], "date": ["2026-04-30"], "combs_bees": ["4"]}
    store(records, "inspections", **many, undoable=False)


def add_a_note_of_a_column_of_ones_own(records):
    store(records, "inspections", colony=["Birch"], date=["2026-05-28"], mood=["calm"])


def take_back(records):
    note(records)
    undo(records, at=NOW.replace(minute=2))


def many_colonies(records):
    names = [f"C{n}" for n in range(60)]
    store(records, "colonies", colony=names, apiary="Home", hive_type="zander-10")
    store(records, "inspections", colony=names, date="2026-05-20", combs_bees="3")


def nothing(records):
    records.set_setting("units", "us")


DEEDS = [
    *(note, correct, split, fetch, note_without_a_trace, take_back, many_colonies, nothing),
    add_a_note_of_a_column_of_ones_own,
]


def same(ours, theirs):
    assert ours.keys() == theirs.keys()
    for name, frame in theirs.items():
        pd.testing.assert_frame_equal(ours[name], frame)


@pytest.mark.parametrize("deed", DEEDS)
def test_what_is_read_again_is_what_the_tables_hold(records, deed):
    before = read_frames(records)
    deed(records)
    after = read_frames(records, before)
    same(after.frames, records.frames())
    again = read_frames(records, after)
    same(again.frames, records.frames())


@pytest.mark.parametrize("deed", DEEDS)
def test_fingerprints_of_what_was_written_are_those_of_all(records, deed):
    reading = read_frames(records)
    before = Prints.read(reading.frames)
    deed(records)
    after = read_frames(records, reading)
    taken = Prints.read(after.frames, before=before, written=after.written)
    anew = Prints.read(records.frames())
    assert taken.together == anew.together
    evenings = [NOW.date(), NOW.date().replace(month=4)]
    for colony in (*after.frames["colonies"]["colony"], "Nobody"):
        assert taken.own(colony) == anew.own(colony)
        assert taken.by_evening(colony, evenings) == anew.by_evening(colony, evenings)


@pytest.mark.parametrize(
    ("deed", "written"),
    [
        (note, {"inspections": {"Alder"}}),
        (correct, {"inspections": {"Birch"}}),
        (split, {"events": {"Birch"}}),
        (fetch, {"weather": None}),
        (note_without_a_trace, {"inspections": None}),
        (take_back, {"inspections": {"Alder"}}),
        (nothing, None),
    ],
)
def test_no_more_is_read_than_was_written(records, deed, written):
    before = read_frames(records)
    deed(records)
    assert read_frames(records, before).written == written


def test_what_was_taken_out_past_the_log_is_gone(records):
    before = read_frames(records)
    with records.writing() as connection:
        connection.execute(sa.text("DELETE FROM inspections"))
    split(records)
    after = read_frames(records, before)
    assert after.written is None
    same(after.frames, records.frames())


def test_a_copy_that_was_put_back_is_read_whole(records, tmp_path):
    path = tmp_path / "bees.sqlite"
    records.close()
    copy = shutil.copy(path, tmp_path / "copy.sqlite")
    with open_records(path) as opened:
        note(opened)
        before = read_frames(opened)
    shutil.copy(copy, path)
    with open_records(path) as opened:
        correct(opened)
        split(opened)
        after = read_frames(opened, before)
        assert after.written is None
        same(after.frames, opened.frames())
