"""The page of a round on a phone."""

import pytest
from typer.testing import CliRunner

import demo_data
from swarmwatch.cli.main import app

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def page_file(tmp_path_factory):
    folder = tmp_path_factory.mktemp("keeper")
    records = str(folder / "bees.sqlite")
    files = [str(demo_data.folder() / name) for name in demo_data.TABLE_FILES]
    run = CliRunner().invoke
    assert run(app, ["import", *files, "--records", records]).exit_code == 0
    words = ["round", "--offline", "--on", "2026-06-05", "--to", str(folder / "round")]
    assert run(app, [*words, "--records", records]).exit_code == 1
    return folder / "round" / "round.html"


@pytest.fixture
def opened(browser_page, page_file):
    browser_page.goto(page_file.as_uri())
    return browser_page


def test_nothing_scrolls_sideways_on_a_phone(opened):
    assert opened.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_name_under_a_day_leads_to_its_colony(opened):
    opened.get_by_role("link", name="Garnet").first.tap()
    assert "#" in opened.url
    assert opened.get_by_text("2. Garnet, Alder Edge: today").is_visible()


def test_why_opens_by_keyboard(opened):
    summary = opened.locator("summary", has_text="Why Garnet")
    summary.focus()
    opened.keyboard.press("Enter")
    assert opened.locator("details[open]").count() == 1


def test_the_page_asks_nobody_and_runs_no_script(browser_page, page_file):
    asked = []
    browser_page.on("request", lambda request: asked.append(request.url))
    browser_page.goto(page_file.as_uri())
    assert asked == [page_file.as_uri()]
    assert browser_page.locator("script").count() == 0
