import json
from datetime import date

import pytest
from playwright.sync_api import expect

from swarmwatch.mapping.land import read_land
from swarmwatch.mapping.page import interactive_map

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def file(map_tables, tmp_path_factory):
    """The map of the invented village."""
    path = tmp_path_factory.mktemp("village") / "map.html"
    page = interactive_map(
        map_tables["plan"],
        sources=map_tables["sources"],
        apiaries=map_tables["apiaries"],
        sites=map_tables["sites"],
        scores=map_tables["scores"],
        keep_out=map_tables["keep_out"],
        hangings=map_tables["hangings"],
        land=read_land(map_tables["land"]),
        made_on=date(2026, 5, 14),
    )
    path.write_text(page, encoding="utf-8")
    return path


def watched(page, file):
    """Open the file; keep what the page asks for and complains of."""
    page.asked, page.complaints = [], []
    page.on("request", lambda r: page.asked.append(r.url))
    page.on("console", lambda m: page.complaints.append(m.text))
    page.on("pageerror", lambda e: page.complaints.append(str(e)))
    page.goto(file.as_uri())
    return page


@pytest.fixture
def opened(watched_page, file):
    """The map opened on a phone, for a test that touches it."""
    watched_page.goto(file.as_uri())
    return watched_page


@pytest.fixture(scope="module")
def seen(new_context, file):
    """The map opened on a phone, for all tests that only look at it."""
    context = new_context()
    yield watched(context.new_page(), file)
    context.close()


def test_it_opens_without_a_word_on_the_console(seen):
    assert seen.complaints == []


def test_it_asks_for_nothing_but_itself(opened, file):
    opened.get_by_title("Spot 1: Old orchard shed").click()
    opened.wait_for_timeout(300)
    assert opened.asked == [file.as_uri()]


def test_the_spots_stand_on_the_map_by_rank(seen):
    ranks = seen.locator("#map .spot").all_inner_texts()
    assert sorted(ranks) == ["1", "2", "3", "4", "5"]


def test_every_spot_is_in_view_when_it_opens(seen):
    area = seen.locator("#map").bounding_box()
    for spot in seen.locator("#map .spot").all():
        box = spot.bounding_box()
        assert area["x"] <= box["x"] <= area["x"] + area["width"] - box["width"]
        assert area["y"] <= box["y"] <= area["y"] + area["height"] - box["height"]


def test_a_tap_on_a_spot_shows_what_the_list_says(opened):
    opened.get_by_title("Spot 2: Churchyard lime tree, ask first").tap()
    shown = opened.locator(".leaflet-popup-content")
    assert shown.inner_text() == opened.locator("#spot-2").inner_text()


def test_a_spot_opens_by_keyboard(opened):
    opened.get_by_title("Spot 1: Old orchard shed").focus()
    opened.keyboard.press("Enter")
    assert "Old orchard shed" in opened.locator(".leaflet-popup-content").inner_text()


def test_a_yard_shows_its_colonies(opened):
    opened.get_by_title("Yard Home yard").tap()
    shown = opened.locator(".leaflet-popup-content").inner_text()
    assert "Amber: today, 46 % in 7 days (likely 28 % to 64 %)" in shown


@pytest.mark.parametrize(
    ("layer", "mark"),
    [
        ("Chosen spots", ".spot"),
        ("Yards", ".yard"),
        ("Bait boxes that hang", ".hanging"),
        ("Places not chosen", ".place"),
        ("Keep out", "path.keep-out"),
        ("Catch share", ".share"),
        ("Where swarms come from", "path[role=button]"),
    ],
)
def test_a_layer_goes_and_comes_back(opened, layer, mark):
    marks = opened.locator(f"#map {mark}")
    before = marks.count()
    opened.locator(".leaflet-control-layers-toggle").tap()
    box = opened.get_by_label(layer, exact=True)
    assert before > 0
    box.uncheck()
    expect(marks).to_have_count(0)
    box.check()
    expect(marks).to_have_count(before)


def test_layers_are_switched_by_keyboard_alone(opened):
    opened.locator(".leaflet-control-layers-toggle").focus()
    opened.keyboard.press("Enter")
    box = opened.get_by_label("Catch share", exact=True)
    box.focus()
    box.press("Space")
    # the page hears of the key after the browser has taken it
    expect(opened.locator("#map .share")).to_have_count(0)


def test_a_place_that_swarms_leave_from_opens_by_keyboard(opened):
    opened.get_by_role("button", name="Neighbour's hives").focus()
    opened.keyboard.press("Enter")
    shown = opened.locator(".leaflet-popup-content").inner_text()
    assert shown == opened.locator("#origin-1").inner_text()


def test_no_name_of_a_band_covers_a_mark_or_another_name(seen):
    covered = seen.evaluate(
        """() => {
          const shown = s => [...document.querySelectorAll(s)]
            .filter(e => getComputedStyle(e).visibility === "visible")
            .map(e => e.getBoundingClientRect());
          const apart = (a, b) => a.right <= b.left || b.right <= a.left
            || a.bottom <= b.top || b.bottom <= a.top;
          const names = shown("#map .share"), marks = shown("#map .spot, #map .yard, #map .tag");
          return [names.length, names.flatMap((n, i) =>
            [...marks, ...names.slice(i + 1)].filter(m => !apart(n, m))).length];
        }"""
    )
    assert covered[0] > 0
    assert covered[1] == 0


@pytest.mark.parametrize("look", [".share", ".tag", ".spot"])
def test_words_on_the_map_stand_out_from_what_is_below(seen, look):
    # WCAG 2.2, 1.4.3: at least 4.5 to 1; the map's darkest fill is taken for what shines through
    ratio = seen.locator(f"#map {look}").first.evaluate(
        """e => {
          const parts = c => c.match(/[\\d.]+/g).map(Number);
          const style = getComputedStyle(e), below = [111, 169, 207];
          const [r, g, b, a = 1] = parts(style.backgroundColor);
          const back = [r, g, b].map((v, i) => v * a + below[i] * (1 - a));
          const light = c => c.map(v => v / 255)
            .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
            .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
          const two = [light(back), light(parts(style.color).slice(0, 3))].sort((x, y) => y - x);
          return (two[0] + 0.05) / (two[1] + 0.05);
        }"""
    )
    assert ratio >= 4.5


def test_land_stays_below_when_it_comes_back(opened):
    opened.locator(".leaflet-control-layers-toggle").tap()
    box = opened.get_by_label("Land", exact=True)
    box.uncheck()
    box.check()
    order = opened.evaluate(
        """() => ["land", "overlay", "marker"].map(
          p => +getComputedStyle(document.querySelector(`.leaflet-${p}-pane`)).zIndex)"""
    )
    assert opened.locator(".leaflet-land-pane path").count() > 0
    assert order == sorted(set(order))


def test_a_tree_that_is_mapped_as_a_point_is_a_dot_below_all_else(
    browser_page, map_tables, tmp_path
):
    place = map_tables["apiaries"].iloc[0]
    point = {"type": "Point", "coordinates": [place["longitude"], place["latitude"]]}
    tree = {"type": "Feature", "properties": {"kind": "tree"}, "geometry": point}
    text = json.dumps({"type": "FeatureCollection", "features": [tree]})
    page = interactive_map(
        map_tables["plan"],
        sources=map_tables["sources"],
        apiaries=map_tables["apiaries"],
        land=read_land(text),
        made_on=date(2026, 5, 14),
    )
    (tmp_path / "map.html").write_text(page, encoding="utf-8")
    shown = watched(browser_page, tmp_path / "map.html")
    assert shown.locator("#map .leaflet-land-pane path").count() == 1
    assert shown.locator("#map img").count() == 0
    assert shown.complaints == []


def test_every_layer_can_be_switched(opened):
    opened.locator(".leaflet-control-layers-toggle").tap()
    names = [n.strip() for n in opened.locator(".leaflet-control-layers label").all_inner_texts()]
    assert names == [
        "Land",
        "Catch share",
        "Keep out",
        "Where swarms come from",
        "Walking order",
        "Places not chosen",
        "Bait boxes that hang",
        "Yards",
        "Chosen spots",
    ]


def test_no_name_of_a_yard_lies_over_a_spot(seen):
    overlaps = seen.evaluate(
        """() => {
          const boxes = s => [...document.querySelectorAll(s)].map(e => e.getBoundingClientRect());
          const apart = (a, b) => a.right <= b.left || b.right <= a.left
            || a.bottom <= b.top || b.bottom <= a.top;
          return boxes("#map .yard ~ .tag").flatMap(t =>
            boxes("#map .spot").filter(s => !apart(t, s))).length;
        }"""
    )
    assert overlaps == 0


def test_keep_out_ground_is_hatched(seen):
    style = seen.locator("#map path.keep-out").first.evaluate("e => getComputedStyle(e).fill")
    assert "hatch" in style


def test_nothing_runs_over_the_side_of_a_phone(seen):
    assert seen.evaluate("document.documentElement.scrollWidth") <= 360


def test_the_text_is_large_enough_to_read_on_a_phone(seen):
    size = seen.locator("#spot-1 dd").first.evaluate("e => getComputedStyle(e).fontSize")
    assert float(size.removesuffix("px")) >= 16


def test_marks_are_large_enough_for_a_thumb(seen):
    box = seen.get_by_title("Spot 1: Old orchard shed").bounding_box()
    assert min(box["width"], box["height"]) >= 32


def test_the_list_is_there_without_script(chromium_browser, file):
    context = chromium_browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(file.as_uri())
    said = page.locator("main").inner_text()
    context.close()
    assert "Old orchard shed" in said
    assert "1 out for 4 up" in said


def test_a_zoom_lets_the_map_stand(opened):
    opened.get_by_role("button", name="Zoom in").tap()
    opened.wait_for_timeout(400)
    assert opened.complaints == []
    assert opened.locator("#map .spot").count() == 5
