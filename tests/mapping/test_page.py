import re
from datetime import date
from html.parser import HTMLParser
from importlib import resources

import pandas as pd
import pytest

from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.mapping.elements import leaflet_script, leaflet_style
from swarmwatch.mapping.land import read_land
from swarmwatch.mapping.page import interactive_map

ON = date(2026, 5, 14)
VOID = {"meta", "link", "br", "img", "input", "rect", "line", "circle", "polygon", "use"}


def page_of(tables, **more):
    return interactive_map(
        tables["plan"],
        sources=tables["sources"],
        apiaries=tables["apiaries"],
        made_on=ON,
        **{
            "sites": tables["sites"],
            "scores": tables["scores"],
            "keep_out": tables["keep_out"],
            "hangings": tables["hangings"],
            "land": read_land(tables["land"]),
        }
        | more,
    )


class Balance(HTMLParser):
    """Open elements, and a note of each that is closed out of turn."""

    def __init__(self):
        super().__init__()
        self.open, self.faults = [], []

    def handle_starttag(self, tag, attrs):  # noqa: ARG002
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in VOID and (not self.open or self.open.pop() != tag):
            self.faults.append(tag)


def test_two_builds_are_equal_to_the_byte(map_tables):
    assert page_of(map_tables) == page_of(map_tables)


def test_the_security_policy_is_the_first_thing_in_the_head(map_tables):
    policy = (
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:\">"
    )
    assert page_of(map_tables).split("<head>")[1].lstrip().startswith(policy)


def test_no_address_stands_in_the_page_but_those_inside_leaflets_script(map_tables):
    page = page_of(map_tables).replace(leaflet_script(), "")
    assert re.findall(r"(?:https?:)?//[\w.-]+\.\w+[^\s'\"<]*", page) == []


def test_nothing_in_the_page_names_a_file_to_fetch(map_tables):
    page = page_of(map_tables).replace(leaflet_script(), "")
    assert re.findall(r"<(?:script|link|img|iframe)[^>]+(?:src|href)=", page) == []


def test_the_style_fetches_no_picture():
    fetched = re.findall(r"url\((?!data:|#)[^)]*\)", leaflet_style())
    assert fetched == []


def test_leaflets_script_cannot_end_its_element_early():
    assert "</script" not in leaflet_script().lower()


def test_leaflets_script_asks_for_no_source_map():
    assert "sourceMappingURL" not in leaflet_script()


def test_leaflets_licence_is_in_the_package():
    text = (resources.files("swarmwatch.mapping") / "leaflet" / "LICENSE.txt").read_text("utf-8")
    assert "BSD 2-Clause" in text


def test_the_page_thanks_leaflets_makers(map_tables):
    assert "Volodymyr Agafonkin" in page_of(map_tables).split("<footer>")[1].split("</footer>")[0]


def test_every_element_is_closed_in_turn(map_tables):
    balance = Balance()
    balance.feed(page_of(map_tables))
    assert (balance.faults, balance.open) == ([], [])


@pytest.mark.parametrize(
    "part",
    [
        '<html lang="en">',
        'name="viewport"',
        "<title>Where to hang bait boxes</title>",
        "<noscript>",
    ],
)
def test_the_page_holds_what_every_reader_needs(map_tables, part):
    assert part in page_of(map_tables)


def test_a_reader_may_zoom(map_tables):
    assert "user-scalable" not in page_of(map_tables)


def test_the_day_of_making_is_said(map_tables):
    assert "Made on 2026-05-14" in page_of(map_tables)


def test_a_spot_without_a_yes_says_ask_first(map_tables):
    card = page_of(map_tables).split('id="spot-2"')[1].split("</li><li class")[0]
    assert "ask first: asked, no yes yet" in card


def test_the_lands_attribution_and_the_credits_are_at_the_foot(map_tables):
    foot = page_of(map_tables, credits=["Thanks to https://example.org/data."]).split("<footer>")[1]
    assert "Invented ground, drawn for the tests" in foot
    assert '<a href="https://example.org/data." rel="noreferrer">' in foot


def test_the_safety_lines_are_on_the_page(map_tables):
    assert "1 out for 4 up" in page_of(map_tables)


def test_a_page_without_scores_says_so(map_tables):
    assert "No scores on this map." in page_of(map_tables, scores=None)


def test_the_walking_order_is_listed_leg_by_leg(map_tables):
    section = page_of(map_tables).split("<h2>Walking order</h2>")[1].split("<h2>")[0]
    assert section.count("<li>") == 6
    assert "back to Mill yard" in section
    assert "lengths are straight lines" in section
    assert "above 3 m only when asked for, with rope or platform" in section


def test_the_legend_names_each_band_in_per_cent(map_tables):
    legend = page_of(map_tables).split('class="legend">')[1].split("</ul>")[0]
    assert re.findall(r"catch share (\d+ to \d+ %|\d+ % or more)", legend) != []


def test_without_a_place_that_sends_swarms_there_is_no_band(map_tables):
    page = page_of(map_tables | {"sources": map_tables["sources"].head(0)})
    assert "Catch share" not in page


def test_an_empty_plan_is_said_and_still_drawn(map_tables):
    tables = map_tables | {"plan": map_tables["plan"].head(0)}
    assert "No spot was chosen." in page_of(tables)


def test_nothing_to_draw_is_refused(map_tables):
    tables = map_tables | {n: map_tables[n].head(0) for n in ("plan", "apiaries")}
    with pytest.raises(UsageError, match="nothing to draw"):
        page_of(tables, sites=None)


def test_a_table_that_breaks_its_contract_is_refused(map_tables):
    tables = map_tables | {"plan": map_tables["plan"].assign(latitude=151.5)}
    with pytest.raises(RecordsError, match="latitude"):
        page_of(tables)


def test_thirty_sites_and_a_hundred_pieces_of_land_stay_under_two_mebibytes(map_tables):
    import json

    land = json.loads(map_tables["land"])
    land["features"] = land["features"] * 10
    sites = pd.concat(
        [map_tables["sites"].assign(site=lambda f, k=k: f["site"] + f" {k}") for k in range(5)]
    )
    page = page_of(map_tables, sites=sites, land=read_land(json.dumps(land)))
    assert len(page.encode()) < 2**21


def test_only_the_largest_of_many_sources_are_listed(map_tables):
    grid = pd.DataFrame(
        {
            "source": [f"cell {k}" for k in range(40)],
            "latitude": 52.0,
            "longitude": [5.0 + k / 1000 for k in range(40)],
            "swarms_expected": [0.1 + k / 100 for k in range(40)],
        }
    )
    page = page_of(map_tables | {"sources": grid})
    assert page.count('<div id="origin-') == 12
    assert "and 28 smaller ones" in page


def test_land_of_nested_shapes_keeps_its_points(map_tables):
    import json

    tree = {"type": "Point", "coordinates": [5.0012345678, 52.0]}
    nested = {"type": "GeometryCollection", "geometries": [tree]}
    feature = {"type": "Feature", "properties": {"kind": "tree"}, "geometry": nested}
    land = read_land(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    assert "[5.001235, 52.0]" in page_of(map_tables, land=land)


def test_a_page_of_yards_alone_names_no_other_mark(map_tables):
    tables = map_tables | {name: map_tables[name].head(0) for name in ("plan", "sources")}
    nothing = {"sites": None, "keep_out": None, "land": None, "hangings": None}
    legend = page_of(tables, **nothing).split('class="legend">')[1].split("</ul>")[0]
    assert legend.count("<li>") == 2
