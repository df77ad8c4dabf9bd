"""The page of the round: what it says, in which order, and that a keeper's text is only text."""

import re
from dataclasses import replace
from datetime import date, timedelta
from html.parser import HTMLParser

import pytest

from swarmwatch.sheets.round_facts import Apart, BoxVisit, Due, Round, Visit
from swarmwatch.sheets.round_page import in_short, round_page

ON = date(2026, 6, 5)
SOON = ON + timedelta(days=1)
HOSTILE = (
    "<script>window.__ran = 1</script>",
    "<img src=x onerror=alert(1)>",
    "</style><h1>big</h1>",
    "\" onmouseover='alert(1)",
    '&amp; O\'Neil & "sons"',
    "${1 + 1} ` \\",
    "right\u202eto left\x07",
)


def visit(rank, colony, level="quiet", **more):
    known = {
        "rank": rank,
        "colony": colony,
        "apiary": "Orchard",
        "level": level,
        "p_7d": 0.4,
        "p_7d_low": 0.25,
        "p_7d_high": 0.5,
        "gone": 0.0,
        "chance": "40 % (25 % to 50 %) to swarm in 7 days",
        "later": "60 % (40 % to 70 %) to swarm in 14 days",
        "worth": "prime swarm within 7 days 40 %",
        "reasons": ("5 days before the usual peak", "capped queen cells seen"),
        "do": "split it",
        "do_by": None if level == "quiet" else SOON,
        "look_by": ON + timedelta(days=9),
        "inspected_on": ON - timedelta(days=2),
    }
    return Visit(**(known | more))


BOX = BoxVisit(
    box="B1",
    site="Shed",
    state="empty on 2026-05-30",
    occupied=False,
    level="quiet",
    do="look from the ground",
    do_by=SOON,
)
APART = Apart(
    colony="Wren", caught_on=ON - timedelta(days=20), do="look at its brood", do_by=SOON, stop=False
)


def round_with(*visits, boxes=(), apart=(), due=None):
    """Make facts; by default everything falls due tomorrow."""
    if due is None:
        loud = tuple(v for v in visits if not v.waits)
        look = tuple(v for v in visits if v.waits)
        due = (Due(by=SOON, act=loud, look=look, boxes=boxes, apart=apart),)
    return Round(
        on=ON, weather=("Orchard: observed",), visits=visits, boxes=boxes, apart=apart, due=due
    )


class Reader(HTMLParser):
    """Keep the tags, attributes and text of a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.said = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.said.append(data)


def read(page):
    reader = Reader()
    reader.feed(page)
    return reader


def text_of(page):
    body = page[page.index("<body>") :]
    return " ".join(" ".join(read(body).said).replace("\xa0", " ").split())


FULL = round_with(
    visit(1, "Ash", "today"), visit(2, "Elm", "act"), visit(3, "Oak"), boxes=(BOX,), apart=(APART,)
)


@pytest.fixture(scope="module")
def page():
    return round_page(FULL, files=[("round-sheets.pdf", "sheets to print")])


@pytest.mark.parametrize(
    "words",
    [
        "Round of bees, evening of Fri 2026-06-05",
        "3 colonies: 1 today, 1 act, 1 quiet. 1 bait box.",
        "Weather of Orchard: observed.",
        "By Sat 2026-06-06",
        "1. Ash, Orchard: today",
        "40 % (25 % to 50 %) to swarm in 7 days",
        "Do by Sat 2026-06-06: split it",
        "Open next by Sun 2026-06-14.",
        "Last inspection: 2026-06-03.",
        "capped queen cells seen",
        "60 % (40 % to 70 %) to swarm in 14 days.",
        "B1 , Shed: empty on 2026-05-30. By Sat 2026-06-06: look from the ground.",
        "Wren (caught 2026-05-16): By Sat 2026-06-06: look at its brood.",
        "round-sheets.pdf : sheets to print",
        "Odds, not promises",
        "Never climb for a swarm alone, and keep away from power lines",
        "call the bee inspector or local authority",
    ],
)
def test_the_page_says(page, words):
    assert words in text_of(page)


def test_those_that_need_something_come_before_the_quiet_ones(page):
    text = text_of(page)
    assert (
        text.index("1. Ash")
        < text.index("2. Elm")
        < text.index("Quiet for now")
        < text.index("3. Oak")
    )


def test_a_level_is_never_a_colour_alone(page):
    for mark, heading in re.findall(r'<span class="mark">(.*?)</span><h3>(.*?)</h3>', page):
        assert "<svg" in mark
        assert heading.split(": ")[-1] in {"today", "act", "look soon", "quiet"}


def test_every_link_of_the_page_leads_somewhere(page):
    links = {value for name, value in read(page).attributes if name == "href"}
    places = {f"#{value}" for name, value in read(page).attributes if name == "id"}
    assert {link for link in links if link.startswith("#")} <= places
    assert {link for link in links if not link.startswith("#")} == {"round-sheets.pdf"}


def test_each_place_has_its_own_name(page):
    names = [value for name, value in read(page).attributes if name == "id"]
    assert sorted(set(names)) == sorted(names)


def test_the_page_fetches_and_runs_nothing(page):
    assert not {"script", "img", "iframe", "link", "object", "form"} & set(read(page).tags)
    assert not [n for n, _ in read(page).attributes if n.startswith("on") or n == "src"]
    assert "default-src 'none'" in page
    assert "http://" not in page
    assert "https://" not in page
    assert "url(" not in page


@pytest.mark.parametrize("name", HOSTILE)
def test_a_keepers_text_is_only_text(name):
    loud = visit(1, name, "act", apiary=name, do=name, chance=name, later=name, worth=name)
    calm = visit(2, name, apiary=name, reasons=(name,), chance=name)
    box = replace(BOX, box=name, site=name, state=name, do=name)
    apart = replace(APART, colony=name, do=name)
    facts = replace(round_with(loud, calm, boxes=(box,), apart=(apart,)), weather=(name,))
    plain = replace(
        round_with(
            replace(loud, colony="x", apiary="x", do="x", chance="x", later="x", worth="x"),
            replace(calm, colony="x", apiary="x", reasons=("x",), chance="x"),
            boxes=(replace(box, box="x", site="x", state="x", do="x"),),
            apart=(replace(apart, colony="x", do="x"),),
        ),
        weather=("x",),
    )
    hostile, harmless = read(round_page(facts)), read(round_page(plain))
    assert hostile.tags == harmless.tags
    assert hostile.attributes == harmless.attributes
    assert "\u202e" not in round_page(facts)
    shown = " ".join(name.replace("\u202e", "").replace("\x07", "").split())
    assert f"1. {shown}, {shown}: act" in text_of(round_page(facts))


def test_the_same_facts_give_the_same_page():
    assert round_page(FULL) == round_page(FULL)


def test_where_it_has_probably_left_no_chance_is_drawn():
    drawn = round_page(round_with(visit(1, "Ash", "act")))
    left = round_page(round_with(visit(1, "Ash", "act", chance="probably swarmed already (80 %)")))
    assert '<svg class="span"' in drawn
    assert '<svg class="span"' not in left


def test_the_drawn_range_holds_the_chance():
    found = re.search(
        r'class="range" x1="([\d.]+)".*?x2="([\d.]+)".*?cx="([\d.]+)"',
        round_page(round_with(visit(1, "Ash", "act", p_7d_low=0.0, p_7d=0.5, p_7d_high=1.0))),
    )
    assert [float(x) for x in found.groups()] == [10.0, 290.0, 150.0]


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        (round_with(due=()), "No colony and no bait box is on record."),
        (round_with(visit(1, "Ash")), "1 colony: 1 quiet."),
        (
            round_with(
                visit(1, "Ash", "look-soon"),
                visit(2, "Elm"),
                boxes=(BOX, replace(BOX, box="B2", occupied=True)),
            ),
            "2 colonies: 1 look soon, 1 quiet. 2 bait boxes, 1 with bees.",
        ),
    ],
)
def test_it_says_in_short_how_many_need_what(facts, said):
    assert in_short(facts) == said


def test_an_empty_round_is_a_page_too():
    text = text_of(round_page(round_with(due=())))
    assert "Nothing falls due." in text
    assert "No living colony is on record." in text
