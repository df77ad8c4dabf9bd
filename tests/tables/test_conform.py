"""What `conform` lets through satisfies the schema, whatever came in."""

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.tables import TABLES, check, schema
from swarmwatch.tables.model import Column, Table, count, day, number, text, word, yes_no
from swarmwatch.tables.schemas import dtype_of

CELLS = st.one_of(
    st.none(),
    st.just(np.nan),
    st.integers(-3, 400),
    st.floats(-3, 400, allow_nan=False),
    st.sampled_from(["yes", "N", "none", "Some", "2026-05-01", "05/06", "", "x", "7.5", "-1"]),
)


@given(data=st.data(), name=st.sampled_from(["inspections", "sites", "weather", "scores"]))
@settings(max_examples=120, deadline=None)
def test_a_frame_that_passes_satisfies_the_schema(data, name):
    table = TABLES[name]
    size = data.draw(st.integers(0, 3))
    columns = data.draw(st.lists(st.sampled_from(table.names), unique=True, max_size=6))
    frame = pd.DataFrame(
        {
            c: pd.Series(data.draw(st.lists(CELLS, min_size=size, max_size=size)), dtype=object)
            for c in [*columns, *(c.name for c in table.columns if c.required)]
        }
    )
    conformed, problems = check(frame, table)
    if not problems:
        schema(table).validate(conformed)
    assert all(str(p) for p in problems)


# one column of each kind, so that a drawn frame reaches every way of reading
KINDS = Table(
    name="kinds",
    meaning="for this test",
    key=("name",),
    columns=(
        text("name", "a name", required=True),
        word("seen", ("none", "some"), "a word"),
        yes_no("clipped", "yes or no"),
        number("combs", "combs", high=9),
        count("frames", "frames"),
        day("on", "a day"),
        Column(name="at", kind="instant", meaning="a moment"),
        Column(name="turn", kind="month-day", meaning="a day of the year"),
    ),
)
# cells of the column's own dtype, some of them such as no frame of ours holds
TYPED = {
    "text": ["Birch", " Birch", "Birch ", ""],
    "word": ["none", "some", "yes", "no", "None", "y"],
    "number": [0.0, 7.5, 9.5, -1.0, np.inf],
    "count": [0, 7, -1, 2**53 + 2],
    "date": ["2026-05-01", "2026-05-02 07:30", "1969-12-31 23:00"],
    "instant": ["2026-05-02 07:30"],
    "month-day": ["02-29", "05-25", "2-3", "13-01"],
}


@given(data=st.data(), size=st.integers(1, 2))
@settings(max_examples=100, deadline=None)
def test_a_typed_frame_is_read_as_if_cell_by_cell(data, size):
    odd = data.draw(st.sampled_from(KINDS.names))
    plain = {"name": ["Birch"] * size}
    cells = data.draw(
        st.lists(
            st.one_of(st.none(), st.sampled_from(TYPED[KINDS.column(odd).kind])),
            min_size=size,
            max_size=size,
        )
    )
    frame = pd.DataFrame(
        {
            c.name: pd.Series(
                (plain | {odd: cells}).get(c.name, [None] * size), dtype=object
            ).astype(dtype_of(c))
            for c in KINDS.columns
        }
    )
    read, problems = check(frame, KINDS)
    # in another order of columns no frame is taken as it stands
    one_by_one, same_problems = check(frame[list(reversed(KINDS.names))], KINDS)
    assert problems == same_problems
    pd.testing.assert_frame_equal(read, one_by_one)


def test_two_columns_of_one_name_are_a_fault_of_that_column():
    frame = pd.DataFrame([["Ash", "Birch", "Home"]], columns=["colony", "colony", "apiary"])
    _, problems = check(frame, TABLES["colonies"])
    (problem,) = [p for p in problems if p.column == "colony"]
    assert problem.what == "two columns have this name"
    assert "Keep one" in problem.mend
