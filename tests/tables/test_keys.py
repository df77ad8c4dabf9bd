"""Rows are named by their key, and two rows of one name must agree."""

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.tables import TABLES, conform
from swarmwatch.tables.keys import as_text, fill_visits, repeated_keys

INSPECTIONS = TABLES["inspections"]


def inspections(*visits, date="2026-05-01"):
    frame = pd.DataFrame({"colony": "Birch", "date": date, "visit": list(visits)})
    return conform(frame.assign(combs=range(len(visits))), INSPECTIONS)


def test_blank_visits_are_numbered_in_row_order():
    assert fill_visits(inspections(None, None, None), INSPECTIONS)["visit"].tolist() == [1, 2, 3]


def test_a_number_that_a_row_has_is_left_to_it():
    assert fill_visits(inspections(None, 1, None), INSPECTIONS)["visit"].tolist() == [2, 1, 3]


@given(st.lists(st.one_of(st.none(), st.integers(1, 4)), max_size=8))
@settings(max_examples=50, deadline=None)
def test_filled_visits_keep_what_was_written_and_repeat_nothing_new(visits):
    filled = fill_visits(inspections(*visits), INSPECTIONS)["visit"].tolist()
    assert all(a == b for a, b in zip(filled, visits, strict=True) if b is not None)
    new = [a for a, b in zip(filled, visits, strict=True) if b is None]
    assert len(set(new)) == len(new)
    assert not set(new) & {v for v in visits if v is not None}


def test_a_contradiction_names_each_of_its_rows():
    problems = repeated_keys(inspections(1, 1), INSPECTIONS, rows=[7, 9])
    assert [str(p) for p in problems] == [
        f"inspections row {row}, colony: 'Birch, 2026-05-01, 1' stands in row {other}, too, "
        "with other values. Keep one of them, or put them into one."
        for row, other in ((2, 9), (3, 7))
    ]


def test_rows_that_agree_are_no_contradiction():
    twice = pd.concat([inspections(1)] * 2, ignore_index=True)
    assert repeated_keys(twice, INSPECTIONS) == []


def test_cells_are_written_as_a_file_would():
    frame = conform(
        pd.DataFrame(
            {
                "date": ["2026-05-01"],
                "temp_max_c": [14.0],
                "temp_min_c": [0.1],
                "fetched_at": ["2026-05-01T06:00:00Z"],
            }
        ),
        TABLES["weather"],
    )
    assert [as_text(frame[n]).iloc[0] for n in frame.columns] == [
        "",
        "2026-05-01",
        "14",
        "0.1",
        "",
        "",
        "",
        "",
        "",
        "2026-05-01T06:00:00+00:00",
    ]
