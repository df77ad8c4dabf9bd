"""A keeper's evening with the phone, in a real browser of a phone's size, on a served page."""

import json
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.page.field_words import inspection_groups
from swarmwatch.records import open_records

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "page"))
from served import serving, small_records
from test_broken_cells import BROKEN
from test_phone import DAY, served

pytestmark = pytest.mark.browser
NARROW = 360


@pytest.fixture
def records(tmp_path):
    return small_records(tmp_path / "bees.sqlite")


def fits(page):
    """Hold that a page can be read on the phone without moving it sideways."""
    assert page.viewport_size["width"] == NARROW
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW


def opens(link, path):
    """Tap what leads to another page, and wait until that one stands there whole."""
    link.click()
    link.page.wait_for_url(f"**{path}*")


def noted(page):
    """Wait till a note is told of, and the page has left off renewing itself."""
    page.get_by_text("Noted.").wait_for()
    page.get_by_text("worked out anew").wait_for(state="detached")


def test_a_round_through_the_yard_is_noted_as_it_goes(records, watched_page):
    page = watched_page
    with serving(records) as running:
        page.goto(f"http://{running.host}/")
        fits(page)
        opens(page.get_by_role("link", name="Inspect Birch"), "/inspect?")
        fits(page)
        page.get_by_role("radio", name="large larva").check()
        page.get_by_label("Cells with a larva").fill("many")
        page.get_by_role("button", name="Note this inspection").click()
        # a word where a number belongs costs nothing else that was typed
        page.get_by_text("many").first.wait_for()
        assert page.get_by_role("radio", name="large larva").is_checked()
        page.get_by_label("Cells with a larva").fill("5")
        page.get_by_role("button", name="Note this inspection").click()
        noted(page)
        opens(page.get_by_role("link", name="Note what was done"), "/event?")
        fits(page)
        page.get_by_role("link", name="Room added").click()
        page.get_by_label("How many boxes").fill("1")
        page.get_by_role("button", name="Note this").click()
        noted(page)
        # the page comes again by itself till what was noted is reckoned with
        page.locator(".diary", has_text="Room added").wait_for()
        opens(page.get_by_role("link", name="Split it"), "/what-if?")
        fits(page)
        opens(page.get_by_role("link", name="Boxes"), "/boxes")
        page.get_by_role("link", name="Check").first.click()
        page.get_by_label("Scouts at once").fill("12")
        page.get_by_role("button", name="Note this look").click()
        noted(page)
        fits(page)
        page.get_by_role("link", name="Map").click()
        page.get_by_text("Where to hang bait boxes").first.wait_for(timeout=60_000)
        fits(page)
    # a browser says so where an answer is no plain success: the form with the word in it
    assert [c for c in page.complaints if "422" not in c] == []
    with open_records(records) as store:
        frames = store.frames()
    look = frames["inspections"].sort_values("date").iloc[-1]
    assert (look["oldest_queen_cell"], look["queen_cells_larva"]) == ("large-larva", 5)
    assert frames["events"]["event"].tolist() == ["room-added"]
    assert frames["checks"]["scouts"].tolist() == [12]


def test_a_broken_cell_is_named_in_its_field_and_nothing_is_noted(records, watched_page):
    labels = {f.name: f.label for g in inspection_groups(bars=False) for f in g.fields}
    broken = [b for b in BROKEN if b.table == "inspections" and b.column in labels]
    assert len(broken) >= 3
    with serving(records) as running:
        for cell in broken:
            watched_page.goto(f"http://{running.host}/inspect?colony=Birch")
            watched_page.get_by_label(labels["combs"], exact=True).fill("12")
            watched_page.get_by_label(labels[cell.column], exact=True).fill(cell.value)
            watched_page.get_by_role("button", name="Note this inspection").click()
            # what is no number is named; what is hardly right waits for the keeper's second look
            named = f"[name={cell.column}][aria-invalid=true], input[name=accept]"
            watched_page.locator(named).first.wait_for()
            assert watched_page.locator(f"[name={cell.column}]").input_value() == cell.value
            fits(watched_page)
    with open_records(records) as store:
        assert len(store.frame("inspections")) == 1


def test_what_was_noted_before_the_power_went_stands_there_once(records, watched_page):
    with served(records) as (running, phone):
        watched_page.goto(f"{phone.base_url}/inspect?colony=Birch")
        watched_page.get_by_label("Combs covered with bees").fill("7")
        watched_page.get_by_role("button", name="Note this inspection").click()
        watched_page.get_by_text("Noted.").wait_for()
        running.kill()
        running.wait(30)
    # the page of before still asks the dead server for the new score, and would get in the way
    again = watched_page.context.new_page()
    with serving(records) as running:
        again.goto(f"http://{running.host}/colony?name=Birch")
        # one of 28 May stood there before
        assert again.locator(".diary > li", has_text="Inspection").count() == 2
        fits(again)


def test_a_yard_without_network_comes_home_as_a_table(records, watched_page, tmp_path):
    form = tmp_path / "form.html"
    words = ["serve", "--form-file", str(form), "--records", str(records), "--on", DAY]
    assert CliRunner().invoke(app, words).exit_code == 0
    watched_page.goto(form.as_uri())
    fits(watched_page)
    watched_page.get_by_label("Colony or bait box").select_option(value="Birch")
    watched_page.get_by_label("Day", exact=True).fill(DAY)
    shown = watched_page.locator("form:visible")
    shown.get_by_label("Combs covered with bees").fill("7")
    with watched_page.expect_download() as coming:
        watched_page.get_by_role("button", name="inspections.csv").click()
    coming.value.save_as(tmp_path / "inspections.csv")
    brought = CliRunner().invoke(
        app, ["import", str(tmp_path / "inspections.csv"), "--records", str(records)]
    )
    assert brought.exit_code == 0, brought.output
    scored = CliRunner().invoke(app, ["score", "--records", str(records), "--on", DAY, "--json"])
    row = next(r for r in json.loads(scored.stdout)["rows"] if r["colony"] == "Birch")
    assert row["inspected_on"].startswith(DAY)
    assert watched_page.complaints == []


def test_the_sheets_of_the_round_are_read_on_the_phone(records, watched_page, tmp_path):
    to = tmp_path / "round"
    words = ["round", "--offline", "--on", DAY, "--to", str(to), "--records", str(records)]
    assert CliRunner().invoke(app, words).exit_code in {0, 1}
    watched_page.goto((to / "round.html").as_uri())
    fits(watched_page)
    watched_page.get_by_role("link", name="Birch").first.click()
    assert watched_page.get_by_role("heading", name="Birch").first.is_visible()
    assert watched_page.complaints == []
