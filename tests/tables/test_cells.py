"""Each kind of cell is read as the contract says, and a bad one is named with its mend."""

import datetime as dt

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.errors import RecordsError
from swarmwatch.tables import INPUTS, TABLES, check, conform, empty

INSPECTIONS = TABLES["inspections"]


def told(column, value, table=INSPECTIONS):
    """Return what is said of one cell, and the cell that was read."""
    row = {"colony": "Birch", "date": "2026-05-01", column: value}
    frame, problems = check(pd.DataFrame({k: [v] for k, v in row.items()}, dtype="str"), table)
    return [f"{p.column}: {p.what}. {p.mend}" for p in problems], frame[column].iloc[0]


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        (
            "queen_cells_egg",
            "-2",
            "'-2' is below 0. Write the number you saw, 0 for none, or leave it blank.",
        ),
        ("queen_cells_egg", "1.5", "'1.5' is not a whole number. Write a whole number or leave it"),
        ("queen_cells_egg", "two", "'two' is not a whole number."),
        ("combs", "1,5", "'1,5' is not a number. Write a number with a decimal point, such as 7.5"),
        ("combs", "nan", "'nan' is not a number."),
        ("combs", "inf", "'inf' is not a number."),
        ("eggs_seen", "maybe", "'maybe' is not a word of this column. Write yes or no, or leave"),
        (
            "oldest_queen_cell",
            "caped",
            "'caped' is not a word of this column. Did you mean capped? Write egg, small-larva,",
        ),
        ("queen_cups", "-1234567", "'-1234567' is below 0."),
        ("date", "05/04/2026", "'05/04/2026' may be read two ways, day first or month first."),
        ("date", "14.05.2026", "'14.05.2026' is not written year-month-day. Write year-month-day,"),
        ("date", "2026-02-30", "'2026-02-30' is not a date. Write year-month-day, such as"),
        ("colony", "", "this cell is required and blank."),
    ],
)
def test_a_bad_cell_is_named_with_its_value_and_its_mend(column, value, said):
    lines, _ = told(column, value)
    assert len(lines) == 1
    assert lines[0].startswith(f"{column}: {said}")


@pytest.mark.parametrize(
    ("column", "value", "read"),
    [
        ("queen_cells_egg", "14.0", 14),
        ("combs_bees", "7.25", 7.25),
        ("eggs_seen", "Y", "yes"),
        ("eggs_seen", "FALSE", "no"),
        ("oldest_queen_cell", "Small larva", "small-larva"),
        ("drones", "None", "none"),
        ("colony", "NA", "NA"),
        ("date", "2026-05-14 00:00:00", pd.Timestamp("2026-05-14")),
    ],
)
def test_a_good_cell_is_read_as_meant(column, value, read):
    lines, cell = told(column, value)
    assert lines == []
    assert cell == read


def test_a_moment_among_texts_is_read_as_its_day():
    dates = [dt.datetime(2026, 5, 14, 7, 30), "2026-05-15", dt.date(2026, 5, 16)]  # noqa: DTZ001
    frame = pd.DataFrame({"colony": "Birch", "date": pd.Series(dates, dtype=object)})
    read = conform(frame, INSPECTIONS)["date"]
    assert read.dt.strftime("%Y-%m-%d").tolist() == ["2026-05-14", "2026-05-15", "2026-05-16"]


@pytest.mark.parametrize("value", ["-1", "7", "14.05.2026 18:00", "2026-05-14T25:00:00"])
def test_what_is_no_moment_is_told(value):
    row = {"date": "2026-05-14", "temp_max_c": "20", "temp_min_c": "9", "fetched_at": value}
    (problem,) = check(pd.DataFrame({k: [v] for k, v in row.items()}), TABLES["weather"])[1]
    assert problem.what == f"{value!r} is not a time"


def test_a_day_is_no_number():
    frame = pd.DataFrame({"colony": "Birch", "date": "2026-05-14"}, index=[0])
    frame["combs"] = pd.Timestamp("2026-05-14")
    (problem,) = check(frame, INSPECTIONS)[1]
    assert problem.column == "combs"
    assert problem.what.endswith("is not a number")


@pytest.mark.parametrize("value", ["", "  "])
def test_a_blank_cell_stays_blank(value):
    lines, cell = told("queen_cells_egg", value)
    assert lines == []
    assert pd.isna(cell)


def test_a_limit_above_is_named_with_the_value():
    frame = pd.DataFrame({"apiary": ["Home"], "latitude": ["95.2"], "longitude": ["25"]})
    with pytest.raises(RecordsError, match=r"row 2, latitude: '95.2' is above 90\. Check the unit"):
        conform(frame, TABLES["apiaries"])


def test_a_required_column_that_is_misspelled_is_offered():
    frame = pd.DataFrame({"colony": ["Birch"], "dat": ["2026-05-01"]})
    with pytest.raises(
        RecordsError, match=r"date: this column is required\. Rename the column 'dat'"
    ):
        conform(frame, INSPECTIONS)


def test_every_fault_is_told_at_once_in_file_order():
    frame = pd.DataFrame(
        {"colony": ["", "a"], "date": ["x", "2026-05-01"], "combs": ["1", "-1"]}, dtype="str"
    )
    _, problems = check(frame, INSPECTIONS, name="inspections.csv")
    assert [(p.table, p.row, p.column) for p in problems] == [
        ("inspections.csv", 2, "colony"),
        ("inspections.csv", 2, "date"),
        ("inspections.csv", 3, "combs"),
    ]


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_an_empty_table_conforms_to_itself(table):
    pd.testing.assert_frame_equal(conform(empty(table), table), empty(table))


ODD = ("99999999999999999999", "1e30", "-0", "0000-01-01", "9999-12-31", "NaT", "1_000", "0x10")


@given(table=st.sampled_from(INPUTS), data=st.data())
@settings(max_examples=30, deadline=None)
def test_whatever_stands_in_a_cell_is_read_or_told(table, data):
    cell = st.sampled_from(ODD) | st.text(max_size=5)
    written = pd.DataFrame({c.name: [data.draw(cell)] for c in table.columns}, dtype="str")
    read, problems = check(written, table)
    told = {p.column for p in problems}
    for name in table.names:
        text = written[name].iloc[0]
        assert bool(pd.isna(read[name].iloc[0])) <= (name in told or not text.strip())
