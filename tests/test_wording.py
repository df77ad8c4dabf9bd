"""Any text becomes one line that hides nothing; numbers are never rounded to what is certain."""

import unicodedata

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swarmwatch.wording import amount, one_line, per_cent

# a letter beyond ASCII has a text read character by character; alone in front, it changes no other
SIGN = "é"
PLAIN = st.one_of(st.text("ab "), st.text(st.characters(max_codepoint=127)))


@given(text=st.one_of(PLAIN, st.text()))
def test_a_text_is_one_line_of_characters_that_show(text):
    line = one_line(text)
    assert line.split() == line.split(" ") or not line
    hidden = {unicodedata.category(c) for c in line if c not in "\u200c\u200d"}
    assert not hidden & {"Cc", "Cf", "Cs", "Co", "Cn"}
    assert one_line(line) == line


@given(text=PLAIN)
def test_a_plain_text_reads_as_it_does_beside_letters_of_other_scripts(text):
    assert one_line(f"{SIGN} {text}") == f"{SIGN} {one_line(text)}".strip()


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0, "0 %"), (0.004, "under 1 %"), (0.5, "50 %"), (0.996, "over 99 %"), (1, "100 %")],
)
def test_a_chance_in_per_cent(chance, words):
    assert per_cent(chance) == words


@pytest.mark.parametrize(
    ("swarms", "words"), [(0, "0.0"), (0.04, "under 0.1"), (0.14, "0.1"), (np.nan, "")]
)
def test_an_amount_of_swarms(swarms, words):
    assert amount(swarms) == words
