import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.mapping.escaping import printable, safe, script_text
from swarmwatch.wording import one_line

LATIN = range(0x20, 0x250)


@pytest.mark.parametrize("sign", ["<", ">", '"', "'", "`", "$", "\\"])
def test_no_sign_that_html_or_a_script_template_reads_is_left(sign):
    assert sign not in safe(f"a{sign}b")


def test_an_ampersand_stands_as_an_entity():
    assert safe("Smith & sons") == "Smith &amp; sons"


@given(st.text(max_size=60))
@settings(max_examples=50, deadline=None)
def test_escaped_text_reads_back_as_what_is_one_line(text):
    from html import unescape

    assert unescape(safe(text)) == one_line(text)


def test_a_line_break_becomes_a_space():
    assert one_line("by the\nold mill") == "by the old mill"


@pytest.mark.parametrize("hidden", ["\x00", "\u200b", "\u202e", "\x1b"])
def test_characters_that_show_nothing_are_left_out(hidden):
    assert one_line(f"ab{hidden}cd") == "abcd"


def test_an_emoji_that_the_font_lacks_is_named():
    assert printable("hive \U0001f41d one", LATIN) == "hive [honeybee] one"


def test_a_variation_selector_and_a_skin_tone_leave_no_trace():
    assert printable("a\ufe0f\U0001f3fd", LATIN) == "a"


def test_a_letter_that_the_font_lacks_becomes_a_question_mark():
    assert printable("\u6797 wood", LATIN) == "? wood"


def test_polish_letters_stay():
    assert printable("Zażółć gęślą jaźń", LATIN) == "Zażółć gęślą jaźń"


@pytest.mark.parametrize("text", ["{{ 7 * 7 }}{% raw %}{#", "</script>", "it's a `name` & more"])
def test_a_text_in_a_script_is_neither_markup_nor_template_and_reads_the_same(text):
    written = script_text(text)
    assert not set("<>&'{}") & set(written)
    assert json.loads(written) == text
