"""The form file in Chromium, opened from the disk: it keeps what is typed and gives it back."""

import datetime as dt
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

import demo_data
from swarmwatch.cli.main import app
from swarmwatch.page.form_file import form_file
from swarmwatch.page.house import page_templates
from swarmwatch.records import open_records
from swarmwatch.tables import TABLES, empty

pytestmark = pytest.mark.browser

FRAMES = {
    "colonies": pd.DataFrame(
        {
            "colony": ["Birch", "Alder"],
            "apiary": ["Home", "Home"],
            "hive_type": ["zander-10", "top-bar"],
        }
    ),
    "hives": empty(TABLES["hives"]),
    "boxes": pd.DataFrame({"box": ["B1"]}),
}
DAY = "2026-06-05"


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    made = form_file(page_templates(), FRAMES, made_on=dt.date(2026, 6, 1))
    path = tmp_path_factory.mktemp("form") / "swarmwatch-form.html"
    path.write_text(made, encoding="utf-8")
    return path


@pytest.fixture
def form(watched_page, file):
    watched_page.goto(file.as_uri())
    yield watched_page
    assert watched_page.complaints == []
    assert {a.split(":")[0] for a in watched_page.asked} <= {"file", "data", "blob"}


def choose(page, name, day=DAY, visit=None):
    page.get_by_label("Colony or bait box").select_option(value=name)
    page.get_by_label("Day", exact=True).fill(day)
    if visit:
        page.get_by_label("Which inspection of that day").fill(visit)
        page.get_by_label("Which inspection of that day").blur()
    return page.locator("form:visible")


def given(page, table, folder):
    with page.expect_download() as coming:
        page.get_by_role("button", name=f"{table}.csv").click()
    assert coming.value.suggested_filename == f"{table}.csv"
    coming.value.save_as(folder / f"{table}.csv")
    return (folder / f"{table}.csv").read_text(encoding="utf-8")


def kept(page):
    return page.locator("#noted li").all_inner_texts()


def ran(words):
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 0, result.output


def test_what_is_noted_is_given_back_as_a_table(form, tmp_path):
    note = choose(form, "Birch")
    note.get_by_label("Combs covered with bees").fill("7,25")
    note.get_by_role("group", name="Worker eggs").get_by_role("radio", name="yes").check()
    note.get_by_label("Note").fill('calm, "brown"\ntwo lines')
    assert given(form, "inspections", tmp_path).replace("\r\n", "\n") == (
        "colony,date,visit,combs_bees,eggs_seen,note\n"
        'Birch,2026-06-05,1,7.25,yes,"calm, ""brown""\ntwo lines"\n'
    )


def test_it_is_still_there_when_the_file_is_opened_again(form, file):
    choose(form, "Birch").get_by_label("Drawn combs").fill("8")
    form.goto("about:blank")
    form.goto(file.as_uri())
    assert kept(form) == [f"Birch, {DAY}: 1 thing"]
    form.get_by_role("button", name=f"Birch, {DAY}: 1 thing").click()
    assert form.locator("form:visible").get_by_label("Drawn combs").input_value() == "8"


def test_notes_of_two_colonies_and_two_visits_stay_apart(form):
    choose(form, "Birch").get_by_label("Drawn combs").fill("8")
    note = choose(form, "Birch", visit="2")
    assert note.get_by_label("Drawn combs").input_value() == ""
    note.get_by_label("Drawn combs").fill("9")
    choose(form, "Alder", visit="1").get_by_label("Drawn bars").fill("5")
    assert choose(form, "Birch").get_by_label("Drawn combs").input_value() == "8"
    assert len(kept(form)) == 3


def test_it_can_be_used_by_anybody_in_light_and_dark(form, tmp_path):
    choose(form, "Birch").get_by_label("Drawn combs").fill("many")
    given(form, "inspections", tmp_path)
    form.evaluate((Path(__file__).parent / "axe" / "axe.min.js").read_text(encoding="utf-8"))
    for scheme in ("light", "dark"):
        form.emulate_media(color_scheme=scheme)
        found = form.evaluate("async () => (await axe.run()).violations.map(v => v.id)")
        assert found == []
    assert form.evaluate("document.documentElement.scrollWidth") == 360


def test_a_note_that_is_emptied_is_no_note(form):
    note = choose(form, "Birch")
    note.get_by_label("Drawn combs").fill("8")
    note.get_by_label("Drawn combs").fill("")
    assert kept(form) == []
    assert form.get_by_role("button", name="inspections.csv").is_disabled()


def test_what_is_no_number_is_told_at_once_and_kept(form):
    note = choose(form, "Birch")
    note.get_by_label("Drawn combs").fill("many")
    assert "holds no number" in form.locator("#kept").inner_text()
    assert note.get_by_label("Drawn combs").get_attribute("aria-invalid") == "true"
    assert len(kept(form)) == 1


def test_two_windows_do_not_undo_each_other(form, file):
    other = form.context.new_page()
    other.goto(file.as_uri())
    choose(form, "Birch").get_by_label("Drawn combs").fill("8")
    choose(other, "Alder").get_by_label("Drawn bars").fill("5")
    choose(form, "B1").get_by_label("Scouts at once").fill("12")
    assert len(kept(form)) == 3


def test_forgetting_takes_two_taps(form):
    choose(form, "Birch").get_by_label("Drawn combs").fill("8")
    form.get_by_role("button", name="Forget the notes").click()
    assert len(kept(form)) == 1
    form.get_by_role("button", name="Tap again to forget 1 note").click()
    assert kept(form) == []


def test_a_phone_whose_clock_lies_before_the_file_is_told_and_gets_no_day(browser_page, file):
    browser_page.clock.set_fixed_time(dt.datetime(2020, 1, 1, 12, tzinfo=dt.UTC))
    browser_page.goto(file.as_uri())
    assert browser_page.get_by_text("this phone's date lies before the day").is_visible()
    assert browser_page.get_by_label("Day", exact=True).input_value() == ""
    browser_page.get_by_label("Colony or bait box").select_option(value="Birch")
    assert browser_page.locator("form:visible").count() == 0


def test_a_browser_that_was_not_tested_is_told_so_and_offered_paper(chromium_browser, file):
    context = chromium_browser.new_context(
        user_agent="Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 "
        "(KHTML, like Gecko) Version/18.0 Mobile/15E148 Safari/604.1"
    )
    page = context.new_page()
    page.goto(file.as_uri())
    assert page.get_by_text("This browser was not tested.").is_visible()
    assert page.get_by_text("use paper instead").first.is_visible()
    context.close()


def test_in_the_tested_browser_no_warning_is_shown(form):
    for warning in ("#untested", "#no-store", "#bad-clock"):
        assert form.locator(warning).is_hidden()


@pytest.mark.parametrize(
    "fault",
    [
        "Storage.prototype.setItem = () => { throw new DOMException('', 'QuotaExceededError'); }",
        "Object.defineProperty(window, 'localStorage', {get() { throw new Error('closed'); }})",
    ],
)
def test_a_memory_that_is_full_or_closed_is_told_and_the_notes_are_given_back_all_the_same(
    browser_page, file, tmp_path, fault
):
    browser_page.add_init_script(fault)
    browser_page.goto(file.as_uri())
    assert browser_page.get_by_text("This browser keeps nothing.").is_visible()
    choose(browser_page, "Birch").get_by_label("Drawn combs").fill("8")
    assert "Not kept" in browser_page.locator("#kept").inner_text()
    assert "Birch" in given(browser_page, "inspections", tmp_path)


def test_without_script_it_says_so_and_shows_the_forms_as_paper(chromium_browser, file):
    context = chromium_browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(file.as_uri())
    assert "This file needs script, and here it has none" in page.inner_text("noscript p")
    assert page.get_by_label("Drawn combs").first.is_visible()
    page.emulate_media(media="print")
    assert page.get_by_text("Bait box: ____").is_visible()
    context.close()


def test_a_days_notes_of_the_demo_come_home_through_the_command(
    browser_page, tmp_path, monkeypatch
):
    """The whole way: the file from `serve`, notes at the hive, `import`, the records."""
    monkeypatch.chdir(tmp_path)
    tables = [str(demo_data.folder() / name) for name in demo_data.TABLE_FILES]
    ran(["import", *tables])
    ran(["serve", "--form-file", "form.html"])
    browser_page.goto((tmp_path / "form.html").as_uri())
    choose(browser_page, "Garnet", "2026-06-05").get_by_label("Capped cells").fill("2")
    note = choose(browser_page, "Bobbin", "2026-06-05")
    note.get_by_label("Bars covered with bees").fill("11.5")
    choose(browser_page, "B1", "2026-06-05").get_by_label("Scouts at once").fill("30")
    given(browser_page, "inspections", tmp_path)
    given(browser_page, "checks", tmp_path)
    ran(["import", "inspections.csv", "checks.csv"])
    with open_records(tmp_path / "swarmwatch.sqlite") as records:
        looks, checks = records.frame("inspections"), records.frame("checks")
    today = looks[looks["date"] == "2026-06-05"].set_index("colony")
    assert today.loc["Garnet", "queen_cells_capped"] == 2
    assert today.loc["Bobbin", "combs_bees"] == 11.5
    assert checks.loc[checks["date"] == "2026-06-05", "scouts"].tolist() == [30]
