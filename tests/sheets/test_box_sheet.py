from datetime import date

import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.mapping.spots import spots
from swarmwatch.sheets.box_facts import box_facts


@pytest.fixture(scope="module")
def first(village_paper, pages_of):
    """What the sheet of the best spot says."""
    return pages_of(village_paper["box-sheets.pdf"])[0]


def facts_of(tables, *, boxes, **changes):
    plan = tables["plan"].assign(**changes) if changes else tables["plan"]
    return box_facts(spots(plan, tables["sites"])[0], boxes, load_evidence())


def test_there_is_one_page_a_spot_best_first(village_paper, map_tables, pages_of):
    pages = pages_of(village_paper["box-sheets.pdf"])
    assert len(pages) == len(map_tables["plan"])
    assert all(name in page for name, page in zip(map_tables["plan"]["site"], pages, strict=True))


@pytest.mark.parametrize(
    "words",
    [
        "Bait box (UK: bait hive, US: swarm trap)",
        "Bait box B1",
        "36 l",
        "2.5 m above the ground",
        "15 cm² at the bottom",
        "south-east (150°)",
        "no old comb",
        "the owner said yes",
        "Owner ourselves",
        "0.9 (likely 0.4 to 1.7)",
        "of 5, from Mill yard",
        "key under the pot",
        "Hung on",
        "Taken down on",
        "Scouts at once",
        "10 scouts or more at once",
        "Ladders",
        "1 out for 4 up",
        "Power lines",
        "Stings",
        "Weight",
        "above 3 m only when asked for, with rope or platform",
        "odds, not promises",
    ],
)
def test_the_sheet_says(first, words):
    assert words in first


def test_a_spot_without_a_yes_says_ask_first(village_paper, pages_of):
    assert "ask first: asked, no yes yet" in pages_of(village_paper["box-sheets.pdf"])[1]


def test_what_to_mind_stands_on_the_spots_own_sheet(village_paper, pages_of):
    pages = pages_of(village_paper["box-sheets.pdf"])
    assert ["Above a path" in p for p in pages] == [False, True, False, False, False]


def test_dates_are_printed_where_they_are_known(paper, pages_of):
    files = paper(put_out_on=date(2026, 4, 20), take_down_on=date(2026, 8, 1))
    page = pages_of(files["box-sheets.pdf"])[0]
    assert "Put out from 2026-04-20 Take down by 2026-08-01" in page


def test_dates_that_nobody_knows_are_left_to_the_pencil(first):
    assert "Put out from Take down by Swarms to expect" in first


def test_an_unknown_box_is_the_usual_one(map_tables):
    facts = facts_of(map_tables, boxes=None)
    assert facts.volume == "about 40 l; 30 to 45 l do as well"
    assert facts.entrance == "about 12.5 cm², one hole of 40 mm, at the bottom"


def test_old_comb_is_named_where_the_plan_did_not_refuse_it(map_tables):
    boxes = pd.DataFrame([{"box": "B1", "old_combs": 2, "comb_source_inspected": "yes"}])
    assert "2 old combs, its source noted" in facts_of(map_tables, boxes=boxes).inside


def test_old_comb_that_the_plan_refused_is_refused(map_tables):
    boxes = pd.DataFrame([{"box": "B1", "old_combs": 2}])
    told = "no old comb: its source is not noted as inspected and healthy; take it out"
    inside = facts_of(map_tables, boxes=boxes, warnings=told).inside
    assert "no old comb: its source" in inside
    assert "2 old combs" not in inside


def test_the_lure_is_the_one_that_the_plan_reckoned_with(map_tables):
    facts = facts_of(map_tables, boxes=None, because="near; reckoned with lemongrass oil")
    assert facts.lure == "lemongrass oil"


def test_with_many_words_the_table_of_checks_goes_to_a_page_of_its_own(paper, map_tables, pages_of):
    plan = map_tables["plan"].assign(warnings="; ".join(["mind the steps below the tree"] * 90))
    pages = pages_of(paper(plan=plan)["box-sheets.pdf"])
    assert len(pages) > len(plan)
    assert sum("Scouts at once" in p for p in pages) == len(plan)
