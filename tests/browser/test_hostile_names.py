"""A name is a name: whatever a keeper types, or was sent, it runs nothing and breaks nothing."""

from datetime import date

import pytest

from swarmwatch.mapping.land import read_land
from swarmwatch.mapping.page import interactive_map

pytestmark = pytest.mark.browser

NAMES = {
    "script": "<script>window.__ran = 1</script>",
    "picture": "<img src=x onerror=window.__ran=1>",
    "end of script": "</script><script>window.__ran = 1</script>",
    "backslash and backtick": "\\` + (window.__ran = 1) + `",
    "template": "${window.__ran = 1}",
    "template of the page": "{{ 7 * 7 }}{% raw %}{#",
    "harmless backtick": "the ` hive",
    "harmless template": "${hive}",
    "harmless quotes": 'O\'Neil & "sons"',
}


def hostile_page(tables, name):
    """The village with `name` in every place that a keeper's text can reach."""
    plan = tables["plan"].assign(
        box=name,
        because=name,
        warnings=name,
        nearest_source=name,
        site=[f"{name} {k}" for k in range(1, 6)],
    )
    sites = tables["sites"].assign(owner=name, note=name, site=[f"{name} {k}" for k in range(1, 8)])
    apiaries = tables["apiaries"].assign(note=name, apiary=[f"{name} a", f"{name} b"])
    scores = tables["scores"].assign(
        colony=[f"{name} {k}" for k in range(3)],
        apiary=[f"{name} a", f"{name} a", f"{name} b"],
        advice=name,
        because=name,
    )
    sources = tables["sources"].assign(source=[f"{name} {k}" for k in range(4)])
    land = tables["land"].replace("Invented ground", "x").replace('"kind": "field"', '"kind": "x"')
    return interactive_map(
        plan,
        sources=sources,
        apiaries=apiaries,
        sites=sites,
        scores=scores,
        keep_out=tables["keep_out"],
        hangings=tables["hangings"].assign(box=name, site=[f"{name} 7", f"{name} 6"]),
        land=read_land(land),
        credits=[name],
        title=name,
        made_on=date(2026, 5, 14),
    )


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_a_hostile_name_runs_nothing_and_breaks_nothing(watched_page, map_tables, tmp_path, name):
    file = tmp_path / "map.html"
    file.write_text(hostile_page(map_tables, name), encoding="utf-8")
    watched_page.goto(file.as_uri())
    told = watched_page.locator("#map .leaflet-marker-icon").evaluate_all(
        """marks => marks.filter(mark => {
          document.querySelectorAll(".leaflet-popup-content").forEach(p => p.dataset.before = "");
          mark.focus(); mark.click();
          return document.querySelector(".leaflet-popup-content:not([data-before])");
        }).length"""
    )
    assert told >= 5
    rings = watched_page.locator("#map path.leaflet-interactive").evaluate_all(
        """rings => rings.map(ring => ["click", "mouseover"].map(what => ring.dispatchEvent(
          new MouseEvent(what, {bubbles: true, cancelable: true, composed: true})))).length"""
    )
    assert rings > 0
    watched_page.wait_for_timeout(150)
    assert watched_page.evaluate("typeof window.__ran") == "undefined"
    assert watched_page.complaints == []
    assert watched_page.locator("#map .spot").count() == 5
    assert watched_page.locator("h3").first.inner_text() == f"1. {name} 1"
    assert watched_page.title() == name


def test_the_watch_sees_a_script_that_runs(watched_page, tmp_path):
    file = tmp_path / "bad.html"
    file.write_text(f"<p>{NAMES['picture']}</p>", encoding="utf-8")
    watched_page.goto(file.as_uri())
    watched_page.wait_for_function("window.__ran === 1", timeout=3000)
    assert watched_page.complaints != []
