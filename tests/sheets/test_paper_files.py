from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from swarmwatch.errors import RecordsError, UsageError

FILES = ["box-sheets.pdf", "letters.pdf", "labels.pdf"]
NASTY = (
    "<script>alert(1)</script> =cmd|'/c calc'!A1 {nb} ${x} \U0001f41d **bold** "
    "\u05e9\u05dc\u05d5\u05dd (12)"
)
LONG = "unterbeamtengesellschaftsgarten" * 9


def test_the_files_are_these(village_paper):
    assert list(village_paper) == FILES


def test_the_same_tables_give_the_same_bytes(village_paper, paper):
    assert paper() == village_paper


@pytest.fixture(
    scope="module", params=[("a4", (210, 297)), ("letter", (215.9, 279.4))], ids=["a4", "letter"]
)
def sized(paper, request):
    """The files on one size of paper, and that size [mm]."""
    size, mm = request.param
    return paper(paper=size), mm


@pytest.mark.parametrize("name", FILES)
def test_pages_have_the_size_of_the_paper(sized, name):
    files, mm = sized
    for page in PdfReader(BytesIO(files[name])).pages:
        found = (float(page.mediabox.width), float(page.mediabox.height))
        assert found == pytest.approx((mm[0] / 25.4 * 72, mm[1] / 25.4 * 72), abs=0.1)


def test_another_paper_is_refused(paper):
    with pytest.raises(UsageError, match="a4, letter"):
        paper(paper="a3")


def test_a_table_that_breaks_its_contract_is_refused(paper, map_tables):
    with pytest.raises(RecordsError, match="latitude"):
        paper(plan=map_tables["plan"].assign(latitude=151.5))


@pytest.mark.parametrize("name", FILES)
def test_every_page_says_which_of_how_many(village_paper, name, pages_of):
    pages = pages_of(village_paper[name])
    assert [f"Page {k} of {len(pages)}" in page for k, page in enumerate(pages, 1)] == [True] * len(
        pages
    )


@pytest.mark.parametrize("name", FILES)
def test_letters_stay_letters_in_fonts_that_the_file_brings(village_paper, name):
    fonts = PdfReader(BytesIO(village_paper[name])).pages[0]["/Resources"]["/Font"].values()
    assert all("DejaVu" in f.get_object()["/BaseFont"] for f in fonts)


@pytest.fixture(scope="module")
def nasty_paper(paper, map_tables):
    return paper(plan=map_tables["plan"].assign(box=NASTY, warnings=NASTY))


@pytest.mark.parametrize("name", FILES)
def test_nothing_in_a_file_runs_or_points_outside(nasty_paper, name):
    raw = nasty_paper[name]
    assert not [w for w in (b"/JavaScript", b"/JS", b"/URI", b"/Launch") if w in raw]


def test_a_hostile_name_is_printed_as_it_is(paper, map_tables, pages_of):
    sites = map_tables["sites"]
    names = sites["site"].replace({"Old orchard shed": NASTY})
    plan = map_tables["plan"]
    files = paper(
        plan=plan.assign(site=plan["site"].replace({"Old orchard shed": NASTY})),
        frames={"sites": sites.assign(site=names, owner=NASTY)},
    )
    first = pages_of(files["box-sheets.pdf"])[0]
    for words in ("<script>alert(1)</script>", "=cmd|'/c calc'!A1", "{nb}", "${x}", "[honeybee]"):
        assert words in first
    assert "**bold**" in first


def test_a_very_long_name_makes_more_lines_not_a_wider_page(paper, map_tables):
    plan = map_tables["plan"].assign(site=[f"{LONG} {k}" for k in range(5)], box=LONG)
    sites = map_tables["sites"].assign(
        site=[f"{LONG} {k}" for k in range(7)], owner=LONG, note=LONG
    )
    for pdf in paper(plan=plan, frames={"sites": sites}, paper="letter").values():
        for page in PdfReader(BytesIO(pdf)).pages:
            starts = []
            page.extract_text(
                visitor_text=lambda t, _cm, tm, *_, at=starts: at.append(tm[4:6]) if t else None
            )
            wide, high = float(page.mediabox.width), float(page.mediabox.height)
            assert all(0 <= x < wide and 0 <= y <= high for x, y in starts)


def test_an_empty_plan_is_paper_that_says_so(paper, map_tables, pages_of):
    files = paper(plan=map_tables["plan"].head(0))
    assert "No spot was chosen" in pages_of(files["box-sheets.pdf"])[0]
    assert "May I hang an empty bait box" in pages_of(files["letters.pdf"])[0]
    assert "BAIT BOX" in pages_of(files["labels.pdf"])[0]


def test_without_any_table_but_the_plan_there_is_paper(map_tables, pages_of):
    from swarmwatch.evidence import load_evidence
    from swarmwatch.sheets import paper_files

    files = paper_files(map_tables["plan"], {}, load_evidence(), on=date(2026, 5, 14))
    assert "ask first: no yes noted" in pages_of(files["box-sheets.pdf"])[0]
