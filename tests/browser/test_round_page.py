"""The round's page on a phone: it fits, can be read in sun and dark, and works by keyboard."""

from datetime import date, timedelta

import pytest

from swarmwatch.sheets.round_facts import Apart, BoxVisit, Due, Round, Visit
from swarmwatch.sheets.round_page import round_page

pytestmark = pytest.mark.browser

ON = date(2026, 6, 5)
SOON = ON + timedelta(days=1)
ENDLESS = "Donaudampfschifffahrtsgesellschaftsbienenstand" * 3
# WCAG 2.1, success criterion 1.4.3 (AA): 4.5, or 3 for large text
CONTRASTS = """() => {
  const channels = text => text.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => [r, g, b].map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = element => {
    for (let e = element; e; e = e.parentElement) {
      const colour = channels(getComputedStyle(e).backgroundColor);
      if (colour.length < 4 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const text = walker.currentNode.textContent.trim();
    if (!text) continue;
    const element = walker.currentNode.parentElement, style = getComputedStyle(element);
    const size = parseFloat(style.fontSize), bold = Number(style.fontWeight) >= 700;
    const [a, b] = [light(channels(style.color)), light(ground(element))];
    found.push({
      text, needed: size >= 24 || (bold && size >= 18.66) ? 3 : 4.5,
      ratio: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05),
    });
  }
  return found;
}"""


def visit(rank, colony, level, **more):
    known = {
        "apiary": "Orchard",
        "p_7d": 0.4,
        "p_7d_low": 0.25,
        "p_7d_high": 0.5,
        "gone": 0.0,
        "chance": "40 % (25 % to 50 %) to swarm in 7 days",
        "later": "60 % (40 % to 70 %) to swarm in 14 days",
        "worth": "prime swarm within 7 days 40 %",
        "reasons": ("5 days before the usual peak", "capped queen cells seen"),
        "do": "split it; veil on, a second person and a phone within reach",
        "do_by": None if level == "quiet" else SOON,
        "look_by": ON + timedelta(days=9),
        "inspected_on": ON - timedelta(days=2),
    }
    return Visit(rank=rank, colony=colony, level=level, **(known | more))


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    visits = (
        visit(1, "Ash", "today"),
        visit(2, "<img src=x onerror=window.__ran=1>", "act"),
        visit(3, ENDLESS, "look-soon", apiary=ENDLESS, do=ENDLESS),
        visit(4, "Oak", "quiet"),
    )
    box = BoxVisit(
        box="B1",
        site=ENDLESS,
        state="empty on 2026-05-30",
        occupied=False,
        level="quiet",
        do="look from the ground",
        do_by=SOON,
    )
    apart = Apart(colony="Wren", caught_on=ON, do="look at its brood", do_by=SOON, stop=False)
    due = Due(by=SOON, act=visits[:3], look=visits[3:], boxes=(box,), apart=(apart,))
    facts = Round(
        on=ON,
        weather=("Orchard: observed to 2026-06-05",),
        visits=visits,
        boxes=(box,),
        apart=(apart,),
        due=(due,),
    )
    path = tmp_path_factory.mktemp("round") / "round.html"
    page = round_page(facts, files=[("round-sheets.pdf", "sheets to print")])
    path.write_text(page, encoding="utf-8")
    return path


@pytest.fixture
def opened(watched_page, file):
    watched_page.goto(file.as_uri())
    return watched_page


def test_it_asks_for_nothing_but_itself_and_runs_no_name(opened, file):
    assert opened.asked == [file.as_uri()]
    assert opened.complaints == []
    assert opened.evaluate("typeof window.__ran") == "undefined"


def test_nothing_sticks_out_sideways_on_a_phone(opened):
    opened.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    assert opened.evaluate("document.documentElement.scrollWidth") <= 360
    wide = opened.evaluate(
        "[...document.body.querySelectorAll('*')]"
        ".filter(e => e.getBoundingClientRect().right > 360.5).map(e => e.outerHTML.slice(0, 80))"
    )
    assert wide == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_text_has_contrast_enough(opened, scheme):
    opened.emulate_media(color_scheme=scheme)
    opened.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
    found = opened.evaluate(CONTRASTS)
    assert len(found) > 50
    assert [f for f in found if f["ratio"] < f["needed"]] == []


def test_the_two_schemes_differ(opened):
    colours = []
    for scheme in ("light", "dark"):
        opened.emulate_media(color_scheme=scheme)
        colours.append(opened.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert colours[0] != colours[1]


def test_all_that_can_be_pressed_is_reached_by_tab_and_shows_it(opened):
    wanted = opened.locator("a, summary").count()
    reached = []
    for _ in range(wanted):
        opened.keyboard.press("Tab")
        focus = opened.evaluate(
            "(() => { const e = document.activeElement, s = getComputedStyle(e);"
            "return [e.tagName, e.textContent, s.outlineStyle, parseFloat(s.outlineWidth)]; })()"
        )
        reached.append(focus)
    assert {tag for tag, *_ in reached} == {"A", "SUMMARY"}
    assert len(reached) == wanted
    assert all(style == "solid" and width >= 2 for *_, style, width in reached)


def test_the_reasons_open_and_close_by_keyboard(opened):
    reasons = opened.locator("details").first
    words = reasons.get_by_text("capped queen cells seen")
    assert not words.is_visible()
    reasons.locator("summary").focus()
    opened.keyboard.press("Enter")
    assert words.is_visible()
    opened.keyboard.press("Space")
    assert not words.is_visible()


def test_a_name_under_by_when_leads_to_its_colony(opened):
    opened.get_by_role("link", name="Ash").first.click()
    entry = opened.locator("#colony-1")
    assert entry.get_by_role("heading").inner_text() == "1. Ash, Orchard: today"
    assert entry.evaluate("e => Math.abs(e.getBoundingClientRect().top)") < 200


def test_a_summary_is_large_enough_for_a_glove(opened):
    # WCAG 2.2, success criterion 2.5.8 (AA): 24 by 24 CSS pixels
    sizes = [s.bounding_box() for s in opened.locator("summary").all()]
    assert sizes
    assert min(s["height"] for s in sizes) >= 24
