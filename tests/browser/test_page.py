"""The pages in a real browser of a phone's size: seen, tapped, typed and read by anybody."""

import datetime as dt
import re
import shutil
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "page"))
from served import NOW, noted, serving, small_records

from swarmwatch.page.pairing import Pairing

pytestmark = pytest.mark.browser

# axe-core 4.12.1, MPL 2.0: beside it with its licence
AXE = (Path(__file__).parent / "axe" / "axe.min.js").read_text(encoding="utf-8")
VIOLATIONS = """async (options) => (await axe.run(options)).violations.map(
  v => `${v.id}: ${v.nodes.map(n => n.html.slice(0, 120)).join(" | ")}`)"""
# what a thumb must hit; WCAG 2.2 (2023), 2.5.5, asks for 44 by 44 px
TARGETS = """() => [...document.querySelectorAll(
    ".bar a, .yards a, .button, summary, input:not([type=hidden]), textarea, select, h3 a")]
  .filter(e => e.offsetParent)
  .map(e => [e, (/radio|checkbox/.test(e.type) ? e.parentElement : e).getBoundingClientRect()])
  .filter(([, box]) => box.width < 44 || box.height < 44).map(([e]) => e.outerHTML)"""
PAGES = {
    "today": "/",
    "a colony": "/colony?name=Birch",
    "a colony with sick brood": "/colony?name=Sorrel",
    "a colony that died": "/colony?name=Larch",
    "what if": "/what-if?name=Birch&change=split",
    "boxes": "/boxes",
    "inspection": "/inspect?colony=Birch",
    "inspection of bars": "/inspect?colony=Alder",
    "choice of events": "/event?colony=Birch",
    "event": "/event?colony=Birch&event=split",
    "event found later": "/event?colony=Birch&event=swarmed",
    "box check": "/check?box=B1",
    "settings": "/settings",
    "map": "/map",
    "fault": "/nothing",
}


# what makes the pages show all that they can show: two yards, cells, sick brood, a dead colony
MORE = {
    "apiaries": {"apiary": ["Away"], "latitude": [57.95], "longitude": [25.6]},
    "colonies": {
        "colony": ["Sorrel", "Larch"],
        "apiary": ["Away", "Home"],
        "hive_type": ["zander-10", "zander-10"],
        "note": ["by the ditch", None],
    },
    "inspections": {
        "colony": ["Birch", "Sorrel"],
        "date": ["2026-06-03", "2026-06-04"],
        "queen_cells_larva": [4, None],
        "brood_health": ["normal", "suspect"],
        "note": [None, "smells"],
    },
    "events": {
        "colony": ["Birch", "Larch"],
        "date": ["2026-06-03", "2026-02-01"],
        "event": ["room-added", "died"],
    },
    "checks": {"box": ["B1"], "date": ["2026-06-04"], "scouts": [20]},
}


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    path = small_records(tmp_path_factory.mktemp("small") / "bees.sqlite")
    with serving(path) as running:
        running.records.store({n: pd.DataFrame(f) for n, f in MORE.items()}, at=NOW, by="test")
        standing, _ = running.house.desk.standing()
        for day in (2, 3, 5):
            running.house.desk.histories._evening(standing, dt.date(2026, 6, day), ("Birch",))
        yield running


@pytest.fixture(scope="module")
def small_template(tmp_path_factory):
    return small_records(tmp_path_factory.mktemp("small") / "bees.sqlite", hung=False)


@pytest.fixture
def small(small_template, tmp_path):
    with serving(shutil.copy(small_template, tmp_path / "bees.sqlite")) as running:
        yield running


@pytest.fixture
def watched(watched_page):
    """A blank page that remembers what the browser complained of."""
    return watched_page


@pytest.fixture
def without_script(chromium_browser):
    context = chromium_browser.new_context(
        viewport={"width": 360, "height": 740}, java_script_enabled=False
    )
    yield context.new_page()
    context.close()


def go(page, served, path):
    """Open a page and stay till it is no more one that waits for sums."""
    page.goto(f"http://{served.host}{path}")
    page.locator("text=the page comes by itself").wait_for(state="detached", timeout=30_000)


def violations(page):
    """Return what axe finds at fault, in light and in dark."""
    if not page.evaluate("typeof axe !== 'undefined'"):
        page.evaluate(AXE)
    found = page.evaluate(VIOLATIONS, {})
    page.emulate_media(color_scheme="dark")
    # of all that axe looks at only the contrast hangs on the colours
    return found + page.evaluate(VIOLATIONS, {"runOnly": ["color-contrast"]})


@pytest.mark.parametrize("path", PAGES.values(), ids=PAGES)
def test_a_page_can_be_used_by_anybody(watched, served, path):
    go(watched, served, path)
    if path != "/map":
        watched.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert violations(watched) == []
    assert watched.evaluate("document.documentElement.scrollWidth") == 360
    assert watched.evaluate(TARGETS) == []
    # the browser itself says so of a page that is not there
    assert [c for c in watched.complaints if "404" not in c] == []


def test_axe_sees_a_fault_that_is_there(watched, served):
    go(watched, served, "/settings")
    watched.evaluate("document.querySelector('h1').style.color = '#bbb'")
    watched.evaluate("document.querySelector('[name=units]').parentElement.lastChild.remove()")
    found = {fault.partition(":")[0] for fault in violations(watched)}
    assert {"color-contrast", "label"} <= found


def test_a_refused_form_can_be_used_by_anybody(watched, small):
    go(watched, small, "/inspect?colony=Birch")
    watched.get_by_label("Combs covered with bees").fill("seven")
    watched.get_by_role("button", name="Note this inspection").click()
    watched.get_by_role("alert").wait_for()
    assert violations(watched) == []
    field = watched.get_by_label("Combs covered with bees")
    assert field.input_value() == "seven"
    watched.get_by_role("link", name="Combs covered with bees").click()
    assert watched.url.endswith("#f-combs_bees")


def test_a_form_that_two_phones_filled_in_can_be_used_by_anybody(watched, small, new_context):
    go(watched, small, "/inspect?colony=Birch")
    watched.get_by_label("Combs covered with bees").fill("7")
    other_context = new_context()
    other = other_context.new_page()
    go(other, small, "/inspect?colony=Birch")
    other.get_by_label("Combs covered with bees").fill("9")
    other.get_by_role("group", name="Worker eggs").get_by_role("radio", name="yes").check()
    other.get_by_role("button", name="Note this inspection").click()
    other.get_by_text("Noted.").wait_for()
    other_context.close()

    watched.get_by_role("button", name="Note this inspection").click()
    watched.get_by_role("alert").wait_for()
    assert violations(watched) == []
    assert watched.evaluate("document.documentElement.scrollWidth") == 360
    assert watched.evaluate(TARGETS) == []
    field = watched.get_by_label("Combs covered with bees")
    assert field.input_value() == "7"
    # who cannot see it hears it with the field
    told = field.evaluate(
        "e => e.getAttribute('aria-describedby').split(' ')"
        ".map(id => document.getElementById(id).innerText).join(' ')"
    )
    assert "Noted meanwhile: 9" in told
    watched.get_by_role("button", name="Note this inspection").click()
    watched.get_by_text("Noted.").wait_for()
    row = noted(small, date="2026-06-05").iloc[0]
    assert (row["combs_bees"], row["eggs_seen"]) == (7, "yes")


def test_a_phone_that_asks_to_come_in_can_be_used_by_anybody(watched, tmp_path):
    codes = []
    pairing = Pairing(clock=time.monotonic, show=codes.append)
    path = small_records(tmp_path / "bees.sqlite", hung=False)
    with serving(path, pairing=pairing) as running:
        go(watched, running, "/pair")
        assert violations(watched) == []
        assert watched.evaluate(TARGETS) == []
        watched.get_by_label("Code").fill("AAAAAAAA")
        watched.get_by_role("button", name="Let this phone in").click()
        watched.get_by_role("alert").wait_for()
        assert violations(watched) == []
        assert watched.evaluate("document.documentElement.scrollWidth") == 360
        watched.get_by_label("Code").fill(codes[0])
        watched.keyboard.press("Enter")
        watched.get_by_role("heading", name="Today").wait_for()


def test_a_split_is_noted_from_the_colonys_page_without_script(without_script, small):
    page = without_script
    go(page, small, "/colony?name=Birch")
    page.get_by_role("link", name="Note what was done").click()
    page.get_by_role("link", name="Split").click()
    page.get_by_label("Share of the bees that left").fill("0.5")
    old = page.get_by_role("group", name="The old queen")
    old.get_by_role("radio", name="went with the part").check()
    page.get_by_label("The other colony").fill("Birch 2")
    page.get_by_role("button", name="Note this").click()
    page.get_by_text("Noted.").wait_for()
    # the page comes again by itself till the note is in it
    diary = page.locator(".diary li", has_text="Split")
    diary.wait_for(timeout=30_000)
    assert "went with the part" in diary.inner_text()
    row = noted(small, "events").iloc[0]
    assert (row["event"], row["amount"], row["queen_went"]) == ("split", 0.5, "moved")
    diary.get_by_role("link", name="Correct").click()
    assert page.get_by_label("The other colony").input_value() == "Birch 2"


def test_a_whole_visit_works_without_script(without_script, small):
    page = without_script
    go(page, small, "/")
    page.get_by_role("link", name="Inspect Birch").click()
    page.get_by_role("radio", name="large larva").check()
    page.get_by_label("Cells with a larva").fill("4")
    page.get_by_role("group", name="Worker eggs").get_by_role("radio", name="yes").check()
    page.get_by_role("button", name="Note this inspection").click()
    page.get_by_text("Noted.").wait_for()
    row = noted(small, date="2026-06-05").iloc[0]
    assert (row["oldest_queen_cell"], row["queen_cells_larva"]) == ("large-larva", 4)
    assert row["eggs_seen"] == "yes"
    # the page comes again by itself till the new score is there
    page.locator(".level", has_text=re.compile("act|today")).wait_for(timeout=30_000)
    page.get_by_text("How sure, and the source").click()
    assert page.get_by_text("Numbers that every score rests on").is_visible()


def test_the_back_button_brings_back_what_was_typed(watched, small):
    go(watched, small, "/inspect?colony=Birch")
    watched.get_by_label("Combs covered with bees").fill("7")
    watched.get_by_role("button", name="Note this inspection").click()
    watched.get_by_text("Noted.").wait_for()
    watched.go_back()
    field = watched.get_by_label("Combs covered with bees")
    assert field.input_value() == "7"
    field.fill("8")
    watched.get_by_role("button", name="Note this inspection").click()
    watched.get_by_text("Noted.").wait_for()
    assert noted(small, date="2026-06-05")["combs_bees"].tolist() == [8]


def test_two_taps_on_the_button_note_once(watched, small):
    go(watched, small, "/inspect?colony=Birch")
    watched.get_by_label("Combs covered with bees").fill("7")
    watched.get_by_role("button", name="Note this inspection").dblclick(no_wait_after=True)
    watched.get_by_role("heading", name="Birch", exact=True).wait_for()
    assert len(noted(small, date="2026-06-05")) == 1


def test_the_form_works_by_keyboard_in_the_order_it_is_read(watched, small):
    go(watched, small, "/inspect?colony=Birch")
    watched.keyboard.press("Tab")
    assert focused(watched) == "To the content"
    watched.keyboard.press("Enter")
    order = []
    while (name := focused(watched)) != "Note this inspection":
        order.append(name)
        watched.keyboard.press("Tab")
    places = [order.index(name) for name in ("bees_outside", "supers", "combs_bees", "note")]
    assert places == sorted(places)
    watched.get_by_label("Honey boxes on").focus()
    watched.keyboard.press("Shift+Tab")
    assert focused(watched) == "piping"
    watched.keyboard.press("ArrowRight")
    watched.keyboard.press("Tab")
    watched.keyboard.type("2")
    watched.keyboard.press("Enter")
    watched.get_by_text("Noted.").wait_for()
    row = noted(small, date="2026-06-05").iloc[0]
    assert (row["piping"], row["supers"]) == ("yes", 2)


def focused(page):
    return page.evaluate(
        "(e => e.name && e.tagName !== 'BUTTON' ? e.name : e.innerText.trim())"
        "(document.activeElement)"
    )


def test_focus_is_seen(watched, served):
    go(watched, served, "/")
    watched.keyboard.press("Tab")
    watched.keyboard.press("Tab")
    style = watched.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert style == "solid"


def test_the_map_is_drawn_under_its_policy(watched, served):
    go(watched, served, "/map")
    watched.locator("#map .spot").first.wait_for()
    assert watched.locator("#map .spot").count() == 1
    watched.get_by_role("link", name="Back to today").click()
    watched.get_by_role("heading", name="Today").wait_for()
    assert watched.complaints == []


def test_a_bait_box_is_checked(watched, small):
    go(watched, small, "/check?box=B1")
    watched.get_by_label("Scouts at once").fill("12")
    tenant = watched.get_by_role("group", name="Somebody else inside")
    tenant.get_by_role("radio", name="none").check()
    watched.get_by_role("button", name="Note this look").click()
    watched.get_by_role("heading", name="Bait boxes").wait_for()
    row = noted(small, "checks").iloc[0]
    assert (row["scouts"], row["tenant"]) == (12, "none")
