"""One row at a time: what is noted reads back as it would be exported."""

import pandas as pd

from swarmwatch.records.importing import check_reads, store_checked
from swarmwatch.records.noting import noted_cells, one_note, state_of
from swarmwatch.tables import TABLES
from swarmwatch.tables.keys import as_text

KEY = {"colony": "Birch", "date": "2026-05-01", "visit": "1"}


def noted(records, table="inspections", key=KEY):
    with records.reading() as connection:
        return noted_cells(connection, table, key)


def test_every_row_reads_as_the_store_writes_it_out(opened, tables, at):
    opened.store(tables, at=at, by="test")
    for name in ("inspections", "colonies"):
        frame = opened.frame(name)
        text = pd.DataFrame({n: as_text(frame[n]) for n in frame.columns})
        for row in text.to_dict("records"):
            key = {n: row[n] for n in TABLES[name].key}
            assert noted(opened, name, key) == {n: v for n, v in row.items() if v}


def test_nothing_is_noted_under_another_key(opened, tables, at):
    opened.store(tables, at=at, by="test")
    for other in ({"colony": "birch"}, {"date": "2026-05-02"}, {"visit": "2"}):
        assert noted(opened, key=KEY | other) == {}


def test_a_blank_is_written_over_and_a_column_that_is_not_named_is_kept(opened, tables, at):
    opened.store(tables | {"inspections": looks(combs="8", combs_bees="7")}, at=at, by="test")
    read = one_note("inspections", KEY, {"combs_bees": " ", "eggs_seen": "Yes"})
    checked = check_reads([read], opened.frames(), today=at.date())
    assert checked.faults == ()
    store_checked(opened, checked, at=at, by="test")
    assert noted(opened) == KEY | {"combs": "8", "eggs_seen": "yes"}


def looks(**cells):
    return pd.DataFrame({n: [v] for n, v in (KEY | cells).items()}, dtype="str")


def test_a_fingerprint_tells_rows_apart_and_knows_the_same_in_any_order():
    one = {"combs": "8", "note": "a"}
    assert state_of(one) == state_of(dict(reversed(one.items())))
    others = [{"combs": "8"}, {"combs": "8", "note": "b"}, {"combs": "8a", "note": ""}, {}]
    assert len({state_of(cells) for cells in [one, *others]}) == 5
    assert state_of({}) == ""
