"""The verb `backtest` on a keeper's own records."""

import datetime as dt
import json
import re
import subprocess
import sys
from base64 import b64decode
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.records import open_records

sys.path.insert(0, str(Path(__file__).parents[1] / "swarming"))
from past_seasons import joined, one_season

RUN = CliRunner()
HOSTILE = "<b>C0</b>$x$ & co"


@pytest.fixture(scope="module")
def tables():
    both = joined(*(one_season(year, colonies=4)[0] for year in (2024, 2025)))
    for name in ("colonies", "inspections", "outcomes"):
        both[name] = both[name].replace({"colony": {"C0": HOSTILE}})
    return both


@pytest.fixture(scope="module")
def records(tables, tmp_path_factory):
    path = tmp_path_factory.mktemp("records") / "bees.sqlite"
    with open_records(path, create=True) as store:
        store.store(tables, at=dt.datetime(2026, 1, 1, tzinfo=dt.UTC), by="test")
    return path


def backtest(records, *more):
    return RUN.invoke(app, ["backtest", "--records", str(records), "--every", "35", *more])


@pytest.fixture(scope="module")
def written(records, tmp_path_factory):
    folder = tmp_path_factory.mktemp("report")
    result = backtest(records, "--to", str(folder))
    assert result.exit_code == 0, result.output
    return SimpleNamespace(text=result.stdout, folder=folder)


def test_the_four_forecasts_stand_side_by_side(written):
    for name in ("score", "base rate", "rule of thumb", "trained model"):
        assert re.search(rf"^{name} ", written.text, re.MULTILINE)


def test_both_horizons_and_each_season_are_shown(written):
    for words in ("within 7 days", "within 14 days", "\n2024 ", "\n2025 "):
        assert words in written.text


@pytest.fixture(scope="module")
def document(records):
    return json.loads(backtest(records, "--season", "2025", "--learned", "--json").stdout)


def test_json_is_one_document_with_both_horizons(document):
    assert document["schema"] == "swarmwatch/backtest/1"
    pooled = [r for r in document["rows"] if r["season"] == "all"]
    assert {(r["forecast"], r["horizon_d"]) for r in pooled} >= {("score", 7), ("score", 14)}


def test_the_learned_score_stands_beside_the_others(document):
    names = {r["forecast"] for r in document["rows"]}
    assert names >= {"score", "score, learned", "trained model"}
    # one other season is too few to show that what was learned holds
    assert "learned from the others: 0 of 1;" in " ".join(document["about"])


def test_one_season_is_picked(document):
    assert {r["season"] for r in document["rows"]} == {"all", "2025"}


def test_the_other_seasons_teach_the_rivals_of_the_one_picked(document):
    trained = [r for r in document["rows"] if r["forecast"] == "trained model"]
    assert any(r["n"] > 0 for r in trained)


def test_a_season_without_outcomes_is_refused_with_those_there_are(records):
    result = backtest(records, "--season", "2019")
    assert result.exit_code != 0
    assert "2019" in str(result.exception)
    assert "2024, 2025" in str(result.exception)


def test_season_and_simulated_do_not_go_together(records):
    result = backtest(records, "--season", "2025", "--simulated", "1")
    assert result.exit_code == 2


def test_the_page_asks_for_nothing_from_outside(written):
    page = (written.folder / "backtest.html").read_text(encoding="utf-8")
    assert "http" not in page
    assert "<script" not in page


def test_a_hostile_name_stays_text_on_the_page_and_in_its_charts(written):
    page = (written.folder / "backtest.html").read_text(encoding="utf-8")
    charts = [b64decode(c).decode("utf-8") for c in re.findall(r"svg\+xml;base64,([^\"]+)", page)]
    assert "<b>C0" not in page + "".join(charts)
    assert "&lt;b&gt;C0&lt;/b&gt;" in page


def test_each_colony_season_is_drawn(written, tables):
    page = (written.folder / "backtest.html").read_text(encoding="utf-8")
    assert page.count("Chance for 7 days,") == len(tables["outcomes"])


def test_the_pdf_names_the_colonies_and_what_happened(written):
    pages = PdfReader(BytesIO((written.folder / "backtest.pdf").read_bytes())).pages
    text = "\n".join(p.extract_text() for p in pages)
    assert "C1 2024" in text
    assert "swarmed on" in text
    assert HOSTILE in text


def test_a_report_is_not_written_over(records, written):
    result = backtest(records, "--to", str(written.folder))
    assert "--force" in str(result.exception)


def test_help_ends_in_its_example():
    result = subprocess.run(
        [sys.executable, "-m", "swarmwatch.cli.main", "backtest", "--help"],
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert "Example: swarmwatch backtest --season 2025" in " ".join(result.stdout.split())


def test_a_simulated_world_is_measured_with_the_cover_of_its_ranges():
    result = RUN.invoke(
        app,
        [
            *("backtest", "--simulated", "1", "--seasons", "1", "--colonies", "3"),
            *("--every", "35", "--cover", "1", "--seed", "5"),
        ],
    )
    assert result.exit_code == 0, result.output
    assert "1 simulated world, 1 season of 3 colonies each, seed 5" in result.stdout
    assert "80 % ranges" in result.stdout
