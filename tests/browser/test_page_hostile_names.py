"""Whatever a keeper types, or was sent, the pages and the form file show it and run nothing."""

import sys
from pathlib import Path

import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "page"))
from served import NOW, serving
from test_hostile_names import NAMES

from swarmwatch.page.house import link
from swarmwatch.records import open_records
from swarmwatch.records.importing import check_reads
from swarmwatch.records.reading import read_files
from swarmwatch.wording import one_line

pytestmark = pytest.mark.browser

MORE = {
    "attribute": '" autofocus onfocus="window.__ran=1',
    "closing": "</option></select></textarea></title><svg onload=window.__ran=1>",
    "path": "../../etc/passwd?x=1&y=2#z%2f",
    "formula": '=HYPERLINK("http://evil.example","x")',
    "turned round": "Al\u202eder\u0007 \u200bx",
    "style": "x;background:url(//evil.example)",
}
HOSTILE = list((NAMES | MORE).values())


def hostile_records(path):
    """Every hostile name as a colony, and a yard, a site, a box, an owner and notes of them all."""
    count = len(HOSTILE)
    tables = {
        "apiaries": pd.DataFrame(
            {"apiary": HOSTILE[:2], "latitude": [57.9, 57.91], "longitude": [25.6, 25.61]}
        ),
        "colonies": pd.DataFrame(
            {
                "colony": HOSTILE,
                "apiary": [HOSTILE[k % 2] for k in range(count)],
                "hive_type": "zander-10",
                "note": HOSTILE,
            }
        ),
        "inspections": pd.DataFrame(
            {
                "colony": HOSTILE,
                "date": "2026-06-01",
                "queen_cells_capped": "3",
                "brood_health": "normal",
                "note": HOSTILE,
            }
        ),
        "events": pd.DataFrame(
            {
                "colony": HOSTILE,
                "date": "2026-05-20",
                "event": "split",
                "other_colony": HOSTILE,
                "note": HOSTILE,
            }
        ),
        "sources": pd.DataFrame(
            {
                "source": HOSTILE,
                "latitude": [57.9 + k / 1000 for k in range(count)],
                "longitude": 25.605,
                "swarms_expected": 1.0,
            }
        ),
        "sites": pd.DataFrame(
            {
                "site": HOSTILE,
                "latitude": [57.9 + k / 1000 for k in range(count)],
                "longitude": 25.602,
                "height_m": 2.0,
                "permission": "yes",
                "owner": HOSTILE,
                "note": HOSTILE,
            }
        ),
        "boxes": pd.DataFrame({"box": HOSTILE, "note": HOSTILE}),
        "hangings": pd.DataFrame(
            {"box": HOSTILE[:4], "site": HOSTILE[:4], "hung_on": "2026-05-10"}
        ),
        "checks": pd.DataFrame(
            {"box": HOSTILE[:4], "date": "2026-06-01", "scouts": "9", "note": HOSTILE[:4]}
        ),
    }
    with open_records(path, create=True) as records:
        records.store(tables, at=NOW, by="test")
    return path


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    path = hostile_records(tmp_path_factory.mktemp("hostile") / "bees.sqlite")
    with serving(path) as running:
        yield running


@pytest.fixture(scope="module")
def watched(new_context):
    """One page for all: it complains of what runs, is refused, asked elsewhere or pops up."""
    context = new_context()
    page = context.new_page()
    page.complaints, page.asked = [], []
    page.on("console", lambda m: page.complaints.append(m.text))
    page.on("pageerror", lambda e: page.complaints.append(str(e)))
    page.on("dialog", lambda d: page.complaints.append(d.message))
    page.on("request", lambda r: page.asked.append(r.url))
    yield page
    context.close()


def harmless(page, served):
    """Say what a page did that it should not have."""
    strange = [a for a in page.asked if not a.startswith((f"http://{served.host}/", "data:"))]
    ran = page.evaluate("typeof window.__ran") != "undefined"
    found = [*page.complaints, *strange, *(["ran"] if ran else [])]
    page.complaints.clear()
    page.asked.clear()
    return found


def go(page, served, path):
    page.goto(f"http://{served.host}{path}")
    page.locator("text=the page comes by itself").wait_for(state="detached", timeout=60_000)


def shown(name):
    """Return a name as it is shown: on one line, without signs that steer or hide."""
    return one_line(name)


@pytest.mark.parametrize(
    "path",
    ["/", "/boxes", "/map", "/settings", *(link("/", yard=yard) for yard in HOSTILE[:2])],
)
def test_the_pages_of_all_run_nothing(watched, served, path):
    go(watched, served, path)
    assert harmless(watched, served) == []


def test_every_name_is_shown_as_it_was_typed(watched, served):
    go(watched, served, "/")
    said = watched.locator("main").inner_text()
    for name in HOSTILE:
        assert shown(name) in said
    assert harmless(watched, served) == []
    addresses = watched.locator("h3 a").evaluate_all(
        "links => links.map(l => l.pathname + l.search)"
    )
    assert sorted(addresses) == sorted(link("/colony", name=name) for name in HOSTILE)


@pytest.mark.parametrize("name", HOSTILE, ids=[*NAMES, *MORE])
def test_the_pages_of_a_hostile_name_run_nothing(watched, served, name):
    go(watched, served, link("/colony", name=name))
    assert watched.locator("h1").inner_text() == shown(name)
    assert watched.title() == f"{shown(name)} - swarmwatch"
    watched.get_by_role("link", name="Inspect", exact=True).click()
    watched.wait_for_url("**/inspect?*")
    assert watched.locator("h1").inner_text() == f"Inspect {shown(name)}"
    assert harmless(watched, served) == []


@pytest.mark.parametrize("name", [NAMES["template"], *MORE.values()])
def test_what_was_typed_comes_back_as_it_was_typed(watched, served, name):
    go(watched, served, link("/inspect", colony=HOSTILE[0]))
    watched.get_by_label("Note", exact=True).fill(name)
    watched.get_by_label("Drawn combs").fill(name[:20])
    watched.get_by_role("button", name="Note this inspection").click()
    watched.get_by_role("alert").wait_for()
    assert watched.get_by_label("Note", exact=True).input_value() == name
    assert watched.get_by_label("Drawn combs").input_value() == name[:20]
    # the browser itself says of the refused form that it was refused
    assert [c for c in harmless(watched, served) if "422" not in c] == []


@pytest.mark.parametrize("name", HOSTILE[:2])
def test_what_if_event_and_check_of_a_hostile_name_run_nothing(watched, served, name):
    for path in (
        link("/what-if", name=name, change="split"),
        link("/event", colony=name),
        link("/event", colony=name, event="united"),
        link("/check", box=name),
    ):
        go(watched, served, path)
        assert shown(name) in watched.locator("h1").inner_text()
        assert harmless(watched, served) == []


def test_an_address_with_hostile_parts_runs_nothing(watched, served):
    for number, name in enumerate(HOSTILE):
        paths = (
            link("/colony", name=f"{name}!"),
            link("/boxes", told=name),
            link("/what-if", name=name, change=f"{name}!"),
            link("/inspect", colony=name, date=f"{name}!"),
            link("/event", colony=name, event=f"{name}!"),
            link("/check", box=f"{name}!"),
        )
        watched.goto(f"http://{served.host}{paths[number % len(paths)]}")
    found = harmless(watched, served)
    assert [c for c in found if "404" not in c and "422" not in c] == []


def test_the_form_file_runs_nothing_of_a_name_and_gives_it_back_whole(watched, served, tmp_path):
    file = tmp_path / "form.html"
    file.write_text(served.phone().get("/form-file").text, encoding="utf-8")
    watched.goto(file.as_uri())
    for name in HOSTILE:
        watched.locator("#whose").select_option(value=name)
        watched.locator("#day").fill("2026-06-04")
        watched.locator("#form-combs").get_by_label("Note").fill(name)
    with watched.expect_download() as coming:
        watched.get_by_role("button", name="inspections.csv").click()
    coming.value.save_as(tmp_path / "inspections.csv")
    assert watched.evaluate("typeof window.__ran") == "undefined"
    assert watched.complaints == []

    reads = read_files([tmp_path / "inspections.csv"])
    checked = check_reads(reads, served.records.frames(), today=NOW.date())
    assert checked.faults == ()
    (frame,) = checked.frames
    assert sorted(frame["colony"]) == sorted(HOSTILE)
    assert (frame["note"] == frame["colony"]).all()
