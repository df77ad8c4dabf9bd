"""What `conform` lets through satisfies the schema, whatever came in."""

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.tables import TABLES, check, schema

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
