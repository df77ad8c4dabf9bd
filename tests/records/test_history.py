"""What was done can be read, and taken back; the taking back, too."""

import shutil
from datetime import timedelta

import pandas as pd
import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swarmwatch.errors import UsageError
from swarmwatch.records import open_records, schema
from swarmwatch.records.history import actions, undo
from tests.records.conftest import AT, invented_tables


def note(colony="Birch", day="2026-05-09", **cells):
    return {"inspections": pd.DataFrame({"colony": [colony], "date": [day], **cells}, dtype="str")}


def same(now, before):
    assert now.keys() == before.keys()
    for name, frame in now.items():
        pd.testing.assert_frame_equal(frame, before[name])


def notes_of(records):
    with records.reading() as connection:
        query = sa.select(schema.extra_notes.c.column, schema.extra_notes.c.value)
        return dict(connection.execute(query).all())


@pytest.fixture(scope="module")
def first_import(empty_records, tmp_path_factory):
    """Records of one import, in a file; tests take copies."""
    path = shutil.copy(empty_records, tmp_path_factory.mktemp("first") / "bees.sqlite")
    with open_records(path) as records:
        records.store(invented_tables(), at=AT, by="first.csv")
    return path


@pytest.fixture
def filled(first_import, tmp_path):
    with open_records(shutil.copy(first_import, tmp_path / "swarmwatch.sqlite")) as records:
        yield records


@pytest.fixture
def later(at):
    """Moments one hour apart, from an hour after the first import."""
    return (at + timedelta(hours=hours) for hours in range(1, 1000))


def test_every_action_is_told_newest_first(filled, later):
    filled.store(note(combs_bees="8"), at=next(later), by="inspect")
    assert [(a.number, a.by, a.tables) for a in actions(filled)] == [
        (5, "inspect", (("inspections", 0, 1),)),
        (
            1,
            "first.csv",
            (
                ("apiaries", 1, 0),
                ("colonies", 1, 0),
                ("inspections", 2, 0),
                ("weather", 2, 0),
            ),
        ),
    ]


def test_the_last_import_goes_and_what_it_corrected_returns(filled, later):
    before = filled.frames()
    more = note(combs_bees="8", queen_cells_egg="")
    more["inspections"].loc[1] = ["Birch", "2026-05-16", "9", "0"]
    filled.store(more, at=next(later), by="second.csv")
    done = undo(filled, at=next(later))
    assert (done.action.by, done.removed, done.put_back) == ("second.csv", 1, 1)
    same(filled.frames(), before)


def test_a_first_import_leaves_empty_records(filled, later):
    done = undo(filled, at=next(later))
    assert done.removed == 6
    assert all(frame.empty for frame in filled.frames().values())


def test_an_undo_can_be_undone(filled, later):
    whole = filled.frames()
    undo(filled, at=next(later))
    undo(filled, at=next(later), number=actions(filled)[0].number)
    same(filled.frames(), whole)
    newest, taken, first = actions(filled)
    assert newest.undone_at is None
    assert taken.undone_at == newest.at
    assert first.undone_at is None  # it stands again


def test_a_second_undo_goes_a_step_further_back(filled, later):
    empty = {name: frame.iloc[:0] for name, frame in filled.frames().items()}
    filled.store(note(combs_bees="8"), at=next(later), by="inspect")
    undo(filled, at=next(later))
    undo(filled, at=next(later))
    same(filled.frames(), empty)
    with pytest.raises(UsageError, match="nothing to take back"):
        undo(filled, at=next(later))


def test_extra_notes_go_and_return_with_their_rows(filled, later):
    filled.store(note(combs_bees="7", mood="calm"), at=next(later), by="a.csv")
    filled.store(note(combs_bees="8", mood="cross", smoke="no"), at=next(later), by="b.csv")
    undo(filled, at=next(later))
    assert notes_of(filled) == {"mood": "calm"}
    undo(filled, at=next(later), number=actions(filled)[0].number)
    assert notes_of(filled) == {"mood": "cross", "smoke": "no"}


def test_what_a_row_held_when_it_went_is_kept(filled, later):
    filled.store(note(day="2026-05-16", note="left early"), at=next(later), by="inspect")
    undo(filled, at=next(later))
    with filled.reading() as connection:
        kept = connection.execute(sa.select(schema.corrections.c.earlier)).scalars().all()
    assert any("left early" in text for text in kept)


def test_fetched_weather_is_passed_over(filled, later):
    day = {"apiary": ["Home"], "date": ["2026-05-03"], "temp_max_c": [20], "temp_min_c": [9]}
    filled.store({"weather": pd.DataFrame(day)}, at=next(later), by="weather", undoable=False)
    newest = actions(filled)[0]
    assert (newest.by, newest.undoable) == ("weather", False)
    with pytest.raises(UsageError, match="which rows it added was not kept"):
        undo(filled, at=next(later), number=newest.number)


def test_rows_that_others_rest_on_stay(filled, later):
    colony = {"colony": ["Elm"], "apiary": ["Home"], "hive_type": ["top-bar"]}
    filled.store({"colonies": pd.DataFrame(colony)}, at=next(later), by="colonies.csv")
    number = actions(filled)[0].number
    filled.store(note("Elm"), at=next(later), by="inspect")
    before = filled.frames()
    with pytest.raises(UsageError, match=r"later ones rest on.*Take those back first"):
        undo(filled, at=next(later), number=number)
    same(filled.frames(), before)
    undo(filled, at=next(later))
    undo(filled, at=next(later), number=number)


def test_rows_changed_since_stay(filled, later):
    filled.store(note(combs_bees="8"), at=next(later), by="a.csv")
    number = actions(filled)[0].number
    filled.store(note(combs_bees="9"), at=next(later), by="b.csv")
    with pytest.raises(UsageError, match=r"b\.csv changed Birch, 2026-05-09, 1 in inspections"):
        undo(filled, at=next(later), number=number)


@pytest.mark.parametrize(("number", "says"), [(99, "no action 99"), (1, "taken back already")])
def test_a_number_that_names_nothing_to_take_back_is_refused(filled, later, number, says):
    undo(filled, at=next(later))
    with pytest.raises(UsageError, match=says):
        undo(filled, at=next(later), number=number)


CELLS = st.fixed_dictionaries(
    {
        "day": st.sampled_from(["2026-05-01", "2026-05-09", "2026-05-16"]),
        "combs_bees": st.sampled_from(["", "7", "8.5"]),
        "queen_cells_egg": st.sampled_from(["", "0", "3"]),
    }
)


@given(
    stores=st.lists(
        st.lists(CELLS, min_size=1, max_size=3, unique_by=lambda c: c["day"]),
        max_size=4,
    )
)
@settings(
    max_examples=10,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
def test_any_row_of_imports_is_walked_back_step_by_step(tmp_path_factory, first_import, stores):
    moments = (AT + timedelta(hours=hours) for hours in range(1, 1000))
    path = tmp_path_factory.mktemp("records") / "swarmwatch.sqlite"
    with open_records(shutil.copy(first_import, path)) as records:
        seen = [records.frames()]
        for rows in stores:
            frame = pd.DataFrame(rows).rename(columns={"day": "date"}).assign(colony="Birch")
            done = records.store({"inspections": frame}, at=next(moments), by="more.csv")
            if done["inspections"].new or done["inspections"].corrected:
                seen.append(records.frames())
        while len(seen) > 1:
            same(records.frames(), seen.pop())
            undo(records, at=next(moments))
        same(records.frames(), seen[0])
