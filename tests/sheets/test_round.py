"""The facts of a round, its page and its sheets, on the demo's tables."""

import re
from datetime import date

import pytest
from typer.testing import CliRunner

import demo_data
from swarmwatch.cli.main import app
from swarmwatch.evidence import load_evidence
from swarmwatch.records import open_records
from swarmwatch.records.scoring import score_tables
from swarmwatch.sheets.inspection_fields import rows_of
from swarmwatch.sheets.inspection_sheet import inspection_sheets
from swarmwatch.sheets.round_facts import day_words, round_of
from swarmwatch.sheets.round_page import round_page

ON = date(2026, 6, 5)
HOSTILE = "<img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def frames(tmp_path_factory):
    records = tmp_path_factory.mktemp("demo") / "bees.sqlite"
    files = [str(demo_data.folder() / name) for name in demo_data.TABLE_FILES]
    done = CliRunner().invoke(app, ["import", *files, "--records", str(records)])
    assert done.exit_code == 0, done.output
    with open_records(records) as store:
        return store.frames()


@pytest.fixture(scope="module")
def scores(frames):
    return score_tables(frames, ON, load_evidence())


@pytest.fixture(scope="module")
def facts(frames, scores):
    return round_of(scores, frames, on=ON, evidence=load_evidence())


@pytest.fixture(scope="module")
def sheets(facts, frames, pages_of):
    return pages_of(inspection_sheets(facts, frames))


def test_each_colony_is_visited_once_in_the_order_of_worth(facts, scores):
    assert sorted(v.colony for v in facts.visits) == sorted(scores["colony"])
    assert [v.rank for v in facts.visits] == list(range(1, len(scores) + 1))


def test_whatever_has_a_day_stands_under_that_day_once(facts):
    days = [d.by for d in facts.due]
    assert days == sorted(set(days))
    dated = [v.colony for d in facts.due for v in (*d.act, *d.look)]
    assert sorted(dated) == sorted(v.colony for v in facts.visits if v.due_on)
    for due in facts.due:
        assert all(v.due_on == due.by for v in (*due.act, *due.look))


def test_a_gone_colony_is_not_said_to_be_about_to_swarm(facts):
    (flint,) = [v for v in facts.visits if v.colony == "Flint"]
    assert flint.chance == "has swarmed"
    assert "to swarm in" not in flint.chance + flint.later


def test_the_page_is_the_same_twice_and_names_every_colony(facts):
    page = round_page(facts)
    assert page == round_page(facts)
    assert all(v.colony in page for v in facts.visits)


def test_a_hostile_name_is_text(scores, frames):
    named = scores.assign(colony=scores["colony"].replace("Garnet", HOSTILE))
    page = round_page(round_of(named, frames, on=ON, evidence=load_evidence()))
    assert "<img" not in page
    assert "&lt;img src=x" in page


def test_each_yard_starts_a_page_of_its_own(facts, sheets):
    heads = [re.match(r"(.+): inspection sheet", page) for page in sheets]
    assert [m.group(1) for m in heads if m] == list(dict.fromkeys(v.apiary for v in facts.visits))


def test_what_was_noted_last_stands_beside_the_empty_field(frames, sheets):
    mine = frames["inspections"][frames["inspections"]["colony"] == "Anvil"]
    newest = mine.sort_values("date").iloc[-1]
    page = next(s for s in sheets if "Anvil" in s)
    assert f"Last inspection {newest['date'].date()}" in page
    assert f"was {newest['combs_bees']:g}" in page


@pytest.mark.parametrize("bars", [True, False])
def test_the_oldest_stage_is_asked_first_of_the_queen_cells(bars):
    # common practice, no source: of all cells the oldest one sets the date
    names = [field.column for row in rows_of(bars=bars) for field in row.fields]
    cells = [n for n in names if n.startswith("queen_cells") or n == "oldest_queen_cell"]
    assert cells[0] == "oldest_queen_cell"


def test_a_top_bar_hive_is_asked_for_bars_and_not_for_boxes():
    names = {field.column for row in rows_of(bars=True) for field in row.fields}
    assert "supers" not in names
    assert "comb_straight" in names


def test_weekdays_are_those_of_the_calendar():
    assert day_words(date(2026, 6, 6)) == f"{date(2026, 6, 6):%a} 2026-06-06"
