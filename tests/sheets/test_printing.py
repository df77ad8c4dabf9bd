from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.sheets.printing import Print, as_read

SHEET = Print(paper="a4", title="t", on=date(2026, 5, 14))


@settings(deadline=None, max_examples=60)
@given(st.text(max_size=120), st.floats(8, 80))
def test_no_line_is_wider_than_its_column(text, width_mm):
    lines = SHEET.wrapped(text, width_mm=width_mm, size=9)
    assert all(SHEET.wide(line, size=9) <= width_mm + 1e-9 for line in lines)


@settings(deadline=None, max_examples=60)
@given(st.text(alphabet="abc xyz-", max_size=120))
def test_wrapping_loses_no_letter(text):
    lines = SHEET.wrapped(text, width_mm=20, size=9)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


@settings(deadline=None, max_examples=60)
@given(st.text(max_size=80), st.floats(8, 60))
def test_what_is_cut_off_fits(text, width_mm):
    assert SHEET.wide(SHEET.fitted(text, width_mm=width_mm, size=8), size=8) <= width_mm + 1e-9


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("Mill barn (12)", "Mill barn (12)"),
        # Unicode Standard Annex 9: right to left, digits left to right, brackets mirrored
        ("\u05d0\u05d1\u05d2", "\u05d2\u05d1\u05d0"),
        ("a \u05d0\u05d1 b", "a \u05d1\u05d0 b"),
        ("\u05d0\u05d1 (\u05d2\u05d3) \u05d4", "\u05d4 (\u05d3\u05d2) \u05d1\u05d0"),
        ("\u05d0 12 \u05d1", "\u05d1 12 \u05d0"),
    ],
)
def test_right_to_left_text_is_put_in_the_order_of_the_page(typed, shown):
    assert as_read(typed) == shown
