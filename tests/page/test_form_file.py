"""The form file holds every colony and box, asks what the table holds, and fetches nothing."""

import datetime as dt
import re

import pandas as pd
import pytest

from swarmwatch.page.form_file import form_file
from swarmwatch.page.house import page_templates
from swarmwatch.tables import TABLES, empty

FRAMES = {
    "colonies": pd.DataFrame(
        {
            "colony": ["Birch", "Alder", "</option><script>x"],
            "apiary": ["Home", "Away", "Home"],
            "hive_type": ["zander-10", "top-bar", "zander-10"],
        }
    ),
    "hives": empty(TABLES["hives"]),
    "boxes": pd.DataFrame({"box": ["B1"]}),
}


@pytest.fixture(scope="module")
def made():
    return form_file(page_templates(), FRAMES, made_on=dt.date(2026, 6, 5))


def test_every_colony_and_box_can_be_chosen_under_its_yard(made):
    groups = re.findall(r'<optgroup label="(\w+ ?\w*)">(.*?)</optgroup>', made, re.DOTALL)
    names = {yard: re.findall(r'<option value="([^"]*)"', part) for yard, part in groups}
    assert names == {
        "Away": ["Alder"],
        "Home": ["Birch", "&lt;/option&gt;&lt;script&gt;x"],
        "Bait boxes": ["B1"],
    }
    assert '<option value="Alder" data-form="bars">' in made


@pytest.mark.parametrize(
    ("form", "table", "but"),
    [
        ("combs", "inspections", set()),
        ("bars", "inspections", {"combs_foundation", "supers"}),
        ("check", "checks", set()),
    ],
)
def test_each_form_asks_for_every_column_of_its_table(made, form, table, but):
    part = re.search(rf'<form id="form-{form}".*?</form>', made, re.DOTALL)[0]
    asked = set(re.findall(r'name="(\w+)"', part))
    assert asked == set(TABLES[table].names) - set(TABLES[table].key) - but


def test_it_names_no_address_and_one_script_and_style_of_its_own(made):
    assert re.search(r"https?://|//[a-z]|src=|@import|url\(", made) is None
    assert (made.count("<script>"), made.count("<style>")) == (1, 1)
    assert made.startswith("<!doctype html>")


def test_every_field_explains_itself_in_a_line(made):
    told = re.findall(r'aria-describedby="([\w-]+)"', made)
    lines = dict(re.findall(r'<p class="line" id="([\w-]+)">([^<]+)</p>', made))
    assert len(told) > 60
    assert all(lines[name].strip().endswith((".", "?")) for name in told)


def test_ids_are_not_given_twice(made):
    ids = re.findall(r'\bid="([^"]+)"', made)
    assert len(ids) == len(set(ids))
