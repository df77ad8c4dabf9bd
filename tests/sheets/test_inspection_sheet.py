"""The sheet to fill in at the hive: fields in the order one meets them, last values beside."""

from datetime import date, timedelta
from io import BytesIO

import pandas as pd
import pytest
from pypdf import PdfReader

from swarmwatch.errors import UsageError
from swarmwatch.records.inspecting import questions
from swarmwatch.sheets.inspection_fields import last_words, rows_of
from swarmwatch.sheets.inspection_sheet import inspection_sheets
from swarmwatch.sheets.round_facts import BoxVisit, Round, Visit
from swarmwatch.tables import TABLES, conform

ON = date(2026, 6, 5)
FRAMES, BARS = "langstroth-deep-10", "top-bar"


def table(name, rows):
    names = list(TABLES[name].names)
    return conform(pd.DataFrame(rows, columns=names, dtype=object), TABLES[name])


def visit(rank, colony, apiary="Orchard", **more):
    known = {
        "level": "quiet",
        "p_7d": 0.04,
        "p_7d_low": 0.01,
        "p_7d_high": 0.08,
        "gone": 0.0,
        "chance": "4 % (1 % to 8 %) to swarm in 7 days",
        "later": "",
        "worth": "little",
        "reasons": (),
        "do": "give room",
        "do_by": ON + timedelta(days=7),
        "look_by": ON + timedelta(days=9),
        "inspected_on": None,
    }
    return Visit(rank=rank, colony=colony, apiary=apiary, **(known | more))


def round_with(*visits, boxes=()):
    return Round(on=ON, weather=(), visits=visits, boxes=boxes, apart=(), due=())


def frames_of(visits, *looks, hive=FRAMES):
    colonies = [{"colony": v.colony, "apiary": v.apiary, "hive_type": hive} for v in visits]
    return {
        "colonies": table("colonies", colonies),
        "inspections": table("inspections", looks),
        "hives": table("hives", []),
    }


def drawn(*visits, looks=(), boxes=(), hive=FRAMES, paper="a4"):
    facts = round_with(*visits, boxes=boxes)
    return inspection_sheets(facts, frames_of(visits, *looks, hive=hive), paper=paper)


LOOK = {
    "colony": "Ash",
    "date": "2026-06-03",
    "oldest_queen_cell": "capped",
    "queen_cells_capped": 3,
    "queen_cells_egg": 0,
    "combs_bees": 7.25,
    "drones": "many",
}


@pytest.fixture(scope="module")
def of_frames(pages_of):
    (page,) = pages_of(drawn(visit(1, "Ash"), looks=(LOOK,)))
    return page


@pytest.fixture(scope="module")
def of_bars(pages_of):
    (page,) = pages_of(drawn(visit(1, "Ash"), looks=(LOOK,), hive=BARS))
    return page


def columns(*, bars):
    return [field.column for row in rows_of(bars=bars) for field in row.fields]


@pytest.mark.parametrize(
    "words",
    [
        "Orchard: inspection sheet, 1 colony",
        "Leave blank what you did not look at; 0 and none mean looked and found none",
        "1. Ash",
        "quiet, 4 % (1 % to 8 %) to swarm in 7 days",
        "Do by Fri 2026-06-12: give room",
        "Last inspection 2026-06-03, 2 days before.",
        "was capped",
        "was 3",
        "was 0",
        "was 7.25",
        "was many",
        "egg small-larva large-larva capped ripe emerged",
        "Done now: room added",
        "Note:",
        "Veil on, a second person and a phone within reach, two people for a heavy box",
        "move no bees, comb, boxes or tools",
        "odds, not promises",
    ],
)
def test_the_sheet_says(of_frames, words):
    assert words in of_frames


def test_fields_come_in_the_order_in_which_a_hive_is_opened(of_frames):
    # common practice, no source: the entrance, from above, then comb by comb
    met = [
        "Bees hang outside",
        "Honey boxes on",
        "Queen cells",
        "Eggs seen",
        "Brood looks",
        "Note:",
    ]
    places = [of_frames.index(words) for words in met]
    assert places == sorted(places)


def test_the_oldest_stage_is_the_first_thing_asked_of_queen_cells():
    asked = [c for c in columns(bars=False) if "queen_c" in c]
    assert asked[0] == "oldest_queen_cell"
    assert [f.heavy for r in rows_of(bars=False) for f in r.fields].count(True) == 1


@pytest.mark.parametrize("bars", [False, True])
def test_all_that_an_inspection_can_note_is_asked_once(bars):
    asked = columns(bars=bars)
    wanted = set(questions(bars=bars)) - {"note"} - (set() if bars else {"comb_straight"})
    assert sorted(asked) == sorted(wanted)


@pytest.mark.parametrize("bars", [False, True])
def test_the_fields_of_a_row_fill_its_width(bars):
    for row in rows_of(bars=bars):
        assert sum(f.share for f in row.fields) == pytest.approx(1, rel=1e-12, abs=0)


def test_a_hive_of_bars_is_asked_for_bars_and_not_for_boxes(of_bars):
    assert "Drawn bars in use" in of_bars
    assert "Bars with brood" in of_bars
    assert "Combs with brood" not in of_bars
    assert "Combs straight" in of_bars
    assert "Honey boxes on" not in of_bars
    assert "Foundation" not in of_bars


def test_a_hive_of_frames_is_not_asked_for_bars(of_frames):
    assert "Drawn combs below" in of_frames
    assert "bars" not in of_frames
    assert "Combs straight" not in of_frames


def test_what_was_not_looked_at_has_no_last_value(of_frames):
    # combs_bees, drones, three of queen cells: nothing else was noted
    assert of_frames.count("was ") == 1 + len(set(LOOK) - {"colony", "date"})  # "what was noted"


def test_a_colony_that_nobody_inspected_has_empty_fields_only(pages_of):
    (page,) = pages_of(drawn(visit(1, "Ash")))
    assert "Not inspected yet: no last values." in page
    assert page.count("was ") == 1  # "Grey is what was noted last"


def test_inspections_after_the_evening_are_not_shown(pages_of):
    later = LOOK | {"date": "2026-06-06", "oldest_queen_cell": "ripe"}
    assert pages_of(drawn(visit(1, "Ash"), looks=(LOOK, later))) == pages_of(
        drawn(visit(1, "Ash"), looks=(LOOK,))
    )


@pytest.mark.parametrize(("value", "said"), [(0, "was 0"), (7.25, "was 7.25"), (None, "")])
def test_numbers_are_shown_as_they_were_written(value, said):
    field = next(f for r in rows_of(bars=False) for f in r.fields if f.column == "combs_bees")
    assert last_words(field, {"combs_bees": value}) == said


def test_each_yard_has_sheets_of_its_own_in_the_order_of_the_round(pages_of):
    pages = pages_of(drawn(visit(1, "Elm", "Mill"), visit(2, "Ash"), visit(3, "Oak", "Mill")))
    assert [page.split(":")[0] for page in pages] == ["Mill", "Orchard"]
    assert pages[0].index("1. Elm") < pages[0].index("3. Oak")
    assert "Ash" not in pages[0]


def test_a_colonys_form_stays_on_one_page(pages_of):
    names = [f"Colony{i:02}" for i in range(1, 12)]
    wordy = {"do": "go through every brood comb again " * 6}
    pages = pages_of(drawn(*(visit(i, n, **wordy) for i, n in enumerate(names, start=1))))
    assert len(pages) > 1
    for page in pages:
        assert page.count("Note:") == sum(f". {name} " in page for name in names)
    assert sum(page.count("Note:") for page in pages) == len(names)


def test_bait_boxes_have_a_page_of_their_own(pages_of):
    box = BoxVisit(
        box="B1",
        site="Shed",
        state="empty on 2026-05-30",
        occupied=False,
        level="quiet",
        do="look from the ground",
        do_by=ON,
    )
    pages = pages_of(drawn(visit(1, "Ash"), boxes=(box,)))
    assert len(pages) == 2
    assert "B1, Shed empty on 2026-05-30; look from the ground, by Fri 2026-06-05" in pages[1]
    assert "never climb for a swarm alone, keep away from power lines" in pages[1]


def test_without_colonies_there_is_one_page_that_says_so(pages_of):
    (page,) = pages_of(drawn())
    assert "No colony is on record" in page


def test_a_keepers_text_is_printed_as_text(pages_of):
    name = "<b>Ash</b> {nb} \\n $1"
    (page,) = pages_of(drawn(visit(1, name, name, do=name)))
    assert f"1. {name}" in page
    assert f"{name}: inspection sheet" in page
    assert f"Do by Fri 2026-06-12: {name}" in page


def test_a_name_that_is_too_long_leaves_the_chance_legible(pages_of):
    (page,) = pages_of(drawn(visit(1, "Ash " * 40)))
    assert "…" in page
    assert "quiet, 4 % (1 % to 8 %) to swarm in 7 days" in page


@pytest.mark.parametrize(
    ("paper", "size_mm"),
    # ISO 216 A4; ANSI/ASME Y14.1 size A, known as letter
    [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))],
)
def test_the_paper_is_the_one_asked_for(paper, size_mm):
    page = PdfReader(BytesIO(drawn(visit(1, "Ash"), paper=paper))).pages[0]
    size = [float(x) * 25.4 / 72 for x in page.mediabox[2:]]
    assert size == pytest.approx(size_mm, rel=0, abs=0.1)


def test_another_paper_is_refused():
    with pytest.raises(UsageError, match="'a5' is not known"):
        drawn(visit(1, "Ash"), paper="a5")


def test_the_same_facts_give_the_same_bytes():
    assert drawn(visit(1, "Ash"), looks=(LOOK,)) == drawn(visit(1, "Ash"), looks=(LOOK,))
