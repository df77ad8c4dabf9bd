"""The pages that change nothing show what the records and the score say, each number with why."""

import base64
import hashlib
import html
import re
import time

import pytest
from served import serving

from swarmwatch.page.colony_view import CHANGES
from swarmwatch.records.scoring import change_tables, only_of
from swarmwatch.wording import per_cent

PATIENCE_S = 60


@pytest.fixture(scope="module")
def phone(demo_served):
    return demo_served.phone()


@pytest.fixture(scope="module")
def standing(demo_served):
    return demo_served.house.desk.standing()[0]


@pytest.fixture(scope="module")
def today(phone):
    return phone.get("/")


def words(page):
    """Return the text of a page as it is read: without tags, on one line."""
    text = html.unescape(re.sub(r"<[^>]+>", " ", page.text)).replace("\u00a0", " ")
    return " ".join(text.split())


def came(phone, address):
    """Ask until the page is no more one that waits for sums."""
    give_up_at = time.monotonic() + PATIENCE_S
    while True:
        page = phone.get(address)
        if "refresh" not in page.headers:
            return page
        assert time.monotonic() < give_up_at
        time.sleep(0.1)


def test_today_lists_the_colonies_in_the_order_of_the_visits(today, standing):
    named = re.findall(r'<h3><a href="/colony\?name=(\w+)"', today.text)
    assert named == [visit["colony"] for visit in standing.visits]


def test_each_colony_is_shown_with_chance_range_level_advice_and_reasons(today, standing):
    said = words(today)
    for row in standing.scores.to_dict("records"):
        if row["p_gone"] < 1:
            low, high = per_cent(row["p_7d_low"]), per_cent(row["p_7d_high"])
            assert f"{per_cent(row['p_7d'])} next 7 days" in said
            assert f"({low} to {high})" in said
        assert row["advice"] in said
        for reason in row["because"].split("; "):
            assert reason in said


def test_each_score_has_why_and_how_sure_with_the_source_one_tap_away(today, standing):
    cards = today.text.split('<li class="card colony">')[1:]
    assert len(cards) == len(standing.scores)
    for card in cards:
        why, sure = re.findall(r"<details>.*?</details>", card, re.DOTALL)
        assert ">Why " in why
        assert "How sure, and the source" in sure
        assert "Quinby 1853" in sure
        assert "judgement" in sure


def test_a_colony_with_brood_that_looked_wrong_is_named_first(today):
    assert words(today).index("Brood that looked wrong: Kettle") < words(today).index("Colonies")


def test_boxes_that_are_due_are_on_the_list(today):
    assert "scouted" in words(today)
    assert 'href="/check?box=B1"' in today.text


def test_the_first_page_and_its_style_weigh_less_than_100_kib(phone, today):
    style = phone.get(re.search(r'href="(/page\.css[^"]*)"', today.text)[1])
    assert style.headers["content-type"].startswith("text/css")
    assert "immutable" in style.headers["cache-control"]
    assert len(today.content) + len(style.content) < 100 * 1024


def test_of_a_clock_that_is_right_nothing_is_said(today):
    assert "this machine takes today for" not in today.text


def test_one_yard_only_is_shown_when_it_is_asked_for(phone, standing):
    page = phone.get("/", params={"yard": "Long Rye"})
    named = re.findall(r'<h3><a href="/colony\?name=(\w+)"', page.text)
    assert named == [v["colony"] for v in standing.visits if v["apiary"] == "Long Rye"]


def test_a_yard_that_is_not_there_shows_all(phone, standing):
    page = phone.get("/", params={"yard": "Nowhere"})
    assert page.text.count('<li class="card colony">') == len(standing.scores)


def test_a_part_of_the_list_beyond_its_end_is_the_last(phone):
    assert phone.get("/", params={"page": 99}).status_code == 200
    assert phone.get("/", params={"page": 0}).status_code == 422


def test_a_colonys_page_shows_its_diary_newest_first(phone, standing):
    page = phone.get("/colony", params={"name": "Garnet"})
    days = re.findall(r"/inspect\?colony=Garnet&amp;date=([\d-]+)&", page.text)
    looks = standing.frames["inspections"]
    mine = looks.loc[looks["colony"] == "Garnet", "date"].dt.date.astype(str)
    assert days == sorted(mine, reverse=True)[: len(days)]
    assert "not looked" not in words(page)


def test_a_colony_that_died_has_a_page_and_no_chance(phone):
    page = phone.get("/colony", params={"name": "Marrow"})
    assert page.status_code == 200
    assert "it gets no chance" in words(page)
    assert "What if" not in page.text


@pytest.mark.parametrize("name", ["Nobody", "garnet", "../x"])
def test_a_colony_that_is_not_there_is_not_found(phone, name):
    assert phone.get("/colony", params={"name": name}).status_code == 404
    assert phone.get("/what-if", params={"name": name, "change": "split"}).status_code == 404


def test_what_if_says_what_the_score_says(phone, standing):
    frames = only_of(standing.frames, ["Garnet"])
    row = change_tables(frames, standing.on, "split", standing.evidence).iloc[0]
    said = words(came(phone, "/what-if?name=Garnet&change=split"))
    low, high = per_cent(row["p_7d_low_after"]), per_cent(row["p_7d_high_after"])
    assert f"{per_cent(row['p_7d'])} ({per_cent(row['p_7d_low'])} to" in said
    assert f"{per_cent(row['p_7d_after'])} ({low} to {high})" in said
    assert "veil on" in said


def test_every_change_has_a_button_that_works(phone):
    page = phone.get("/colony", params={"name": "Garnet"})
    for change, label in CHANGES.items():
        assert f'change={change}">{label}</a>' in page.text


def test_on_sick_brood_nothing_is_tried(phone):
    said = words(came(phone, "/what-if?name=Kettle&change=split"))
    assert "After it" not in said
    assert "Mind:" in said


def test_a_change_that_is_not_known_is_not_found(phone):
    answer = phone.get("/what-if", params={"name": "Garnet", "change": "dance"})
    assert answer.status_code == 404


def test_the_boxes_are_listed_with_what_to_do(phone, standing):
    said = words(phone.get("/boxes"))
    for row in standing.boxes:
        assert row["do"] in said
    assert "B3" in said


def test_the_map_runs_its_own_scripts_and_no_other(phone):
    page = came(phone, "/map")
    policy = page.headers["content-security-policy"]
    scripts = re.findall(r"<script>(.*?)</script>", page.text, re.DOTALL)
    assert len(scripts) == 3
    for script in scripts:
        digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in policy
    assert "script-src 'unsafe" not in policy
    assert "'unsafe-inline'" not in policy.partition("script-src")[2].partition(";")[0]
    assert "Back to today" in page.text


def test_a_page_that_is_not_there_is_not_found_and_says_so(phone):
    page = phone.get("/nothing")
    assert page.status_code == 404
    assert "There is no such page" in page.text


def test_measures_come_in_the_keepers_units(demo_served, phone):
    assert "Height 3.0 m" in words(came(phone, "/map"))
    demo_served.records.set_setting("units", "us")
    us = words(came(phone, "/map"))
    demo_served.records.set_setting("units", "metric")
    assert "Height 9.8 ft" in us
    assert "Height 3.0 m" not in us


def test_records_that_are_empty_make_pages_all_the_same(tmp_path):
    with serving(tmp_path / "new.sqlite", create=True) as served:
        phone = served.phone()
        for path in ("/", "/boxes", "/settings", "/form-file"):
            assert phone.get(path).status_code == 200
        assert "No living colony is on record" in phone.get("/").text
        assert "No sites yet" in came(phone, "/map").text


def test_records_that_cannot_be_read_are_told_without_a_fault_of_ours(small_template, tmp_path):
    path = tmp_path / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    with serving(path) as served:
        phone = served.phone()
        served.records.engine.dispose()
        for part in ("", "-wal", "-shm"):
            path.with_name(path.name + part).unlink(missing_ok=True)
        path.write_bytes(b"not a database at all, " * 400)
        for address in ("/", "/inspect?colony=Birch", "/settings", "/map"):
            page = phone.get(address)
            assert page.status_code == 503
            assert "not a file of records" in page.text
