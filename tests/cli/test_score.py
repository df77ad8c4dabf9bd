"""The verb `score` on the demo's tables."""

import json

import pandas as pd
import pytest
from typer.testing import CliRunner

import demo_data
from swarmwatch.cli.main import app, main
from swarmwatch.cli.score_text import chance_words, scores_as_text
from swarmwatch.records.scoring import evidence_for
from swarmwatch.tables import TABLES

RUN = CliRunner()
ON = demo_data.ON.isoformat()


@pytest.fixture(scope="module")
def records(records_of_demo):
    return records_of_demo


def score(records, *more):
    return RUN.invoke(app, ["score", "--records", str(records), "--on", ON, *more])


@pytest.fixture(scope="module")
def document(records):
    return json.loads(score(records, "--json").stdout)


def test_a_colony_over_the_line_gives_exit_code_1(records):
    result = score(records)
    assert result.exit_code == 1
    assert "Odds, not promises" in result.stdout


def test_the_file_holds_the_scores_table(records, tmp_path):
    score(records, "--to", str(tmp_path / "scores.csv"))
    table = pd.read_csv(tmp_path / "scores.csv")
    assert tuple(table.columns) == TABLES["scores"].names
    assert len(table) == 15


def test_a_file_that_is_there_is_not_overwritten(records, tmp_path):
    there = tmp_path / "scores.csv"
    there.write_text("mine", encoding="utf-8")
    result = score(records, "--to", str(there))
    assert "--force" in str(result.exception)
    assert there.read_text(encoding="utf-8") == "mine"


def test_json_is_one_document(document):
    assert document["schema"] == "swarmwatch/scores/1"
    assert len(document["rows"]) == 15


def test_a_date_in_another_form_is_refused(records):
    result = RUN.invoke(app, ["score", "--records", str(records), "--on", "05/06/2026"])
    assert result.exit_code == 2
    assert "year-month-day" in result.output


def test_records_that_are_not_there_are_named_without_a_traceback(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as done:
        main(["score", "--records", "no.sqlite"])
    said = capsys.readouterr().err
    assert done.value.code == 2
    assert "no.sqlite" in said
    assert "Traceback" not in said


def test_the_most_urgent_colony_comes_first_and_all_are_counted(document):
    table = pd.DataFrame(document["rows"])
    for column in ("on", "do_by"):
        table[column] = pd.to_datetime(table[column])
    text = scores_as_text(table, most=4)
    assert "... and 11 more" in text
    assert text.index("today") < text.index("act")


def test_chances_are_rounded_to_what_is_known():
    row = {
        **{f"p_{d}d{end}": 0.004 for d in (7, 14) for end in ("", "_low", "_high")},
        "p_gone": 0.62,
        "p_after_7d": 0.0,
    }
    words = chance_words(pd.Series(row))
    assert "under 1 %" in words
    assert "probably swarmed already 62 %" in words
    assert "afterswarm" not in words


def test_the_keepers_own_file_goes_before_the_records_own_share(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[season.yearly_chance_inspected]\nvalue = 0.1\n", encoding="utf-8")
    key = "season.yearly_chance_inspected"
    assert evidence_for(None, "0.6").value(key) == 0.6
    assert evidence_for(own, "0.6").value(key) == 0.1
