"""The verb `explain`: a colony's score, a word of the trade, or an average year."""

import json

import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app, main
from swarmwatch.evidence import load_evidence

ON = ("--on", "2026-06-05")


@pytest.fixture
def run(records_of_demo, capsys):
    """Run the verb on the demo's records; give exit code, stdout and stderr."""

    def once(*words, records=records_of_demo):
        try:
            main(["explain", *words, "--records", str(records)])
            code = 0
        except SystemExit as done:
            code = done.code or 0
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return once


@pytest.fixture(scope="module")
def garnet(records_of_demo):
    words = ["explain", "garnet", *ON, "--records", str(records_of_demo)]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.fixture(scope="module")
def document(records_of_demo):
    words = ["explain", "Garnet", *ON, "--json", "--records", str(records_of_demo)]
    return json.loads(CliRunner().invoke(app, words).stdout)


def test_a_colony_is_walked_through_whatever_the_case_of_its_name(garnet):
    assert garnet.startswith("Garnet (Alder Edge), evening of Fri 2026-06-05")
    steps = [line for line in garnet.splitlines() if line[:1].isdigit()]
    assert steps[0] == "1. What is known"
    assert steps[-1].endswith("What to do")
    assert "Odds, not promises" in garnet


def test_lines_fit_a_terminal(garnet):
    assert max(len(line) for line in garnet.splitlines()) <= 100


def test_numbers_stand_with_range_grade_and_source(garnet):
    entry = load_evidence()["cells.sealing_age"]
    line = next(x for x in garnet.splitlines() if "cells.sealing_age" in x)
    assert f"= {entry.value:g} d ({entry.low:g} to {entry.high:g}): {entry.grade}" in line


def test_json_holds_the_score_its_steps_and_their_numbers(document):
    assert document["schema"] == "swarmwatch/explain/1"
    (row,) = document["rows"]
    assert row["colony"] == "Garnet"
    for step in document["steps"]:
        assert step["title"]
        assert step["said"]
        for number in step["numbers"]:
            assert number["low"] <= number["value"] <= number["high"]
            assert number["grade"]
            assert number["source"]


def test_own_numbers_are_told(run, tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[cells.sealing_age]\nvalue = 8.5\nlow = 8.0\nhigh = 9.0\n", encoding="utf-8")
    _, out, _ = run("Garnet", *ON, "--evidence", str(own))
    assert "cells.sealing_age = 8.5 d (8 to 9)" in out


def test_a_word_of_the_trade_is_explained(run):
    code, out, _ = run("Cast")
    assert code == 0
    assert out.startswith("afterswarm (also: ")


def test_a_word_needs_no_records(run, tmp_path):
    code, out, _ = run("supersedure", records=tmp_path / "none.sqlite")
    assert (code, out.splitlines()[0].split()[0]) == (0, "supersedure")
    assert not (tmp_path / "none.sqlite").exists()


def test_a_colony_goes_before_a_word_of_the_same_name(tmp_path, run):
    tables = {
        "apiaries.csv": "apiary,latitude,longitude\nHome,52,5\n",
        "colonies.csv": "colony,apiary,hive_type\nNectar,Home,national-deep\n",
    }
    for name, text in tables.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    records = tmp_path / "bees.sqlite"
    files = [str(tmp_path / name) for name in tables]
    assert CliRunner().invoke(app, ["import", *files, "--records", str(records)]).exit_code == 0
    assert run("nectar", *ON, records=records)[1].startswith("Nectar (Home)")


def test_all_words_are_listed_and_are_json_too(run):
    _, out, _ = run("--words")
    assert {"afterswarm", "queen cell", "weather gate"} <= {
        line.split(" (")[0] for line in out.splitlines()
    }
    document = json.loads(run("--words", "--json")[1])
    assert document["schema"] == "swarmwatch/words/1"
    assert all(row["means"] for row in document["rows"])


def test_an_average_year_is_shown_for_each_yard(run):
    code, out, _ = run("--season", *ON)
    assert code == 0
    for words in ("Alder Edge", "Dairy Lane", "Long Rye", "begin looking", "take the bait boxes"):
        assert words in out
    assert "boxes.out_before_first_d = 17 d (14 to 21): common practice, no source" in out


def test_an_average_year_is_json_too(run):
    document = json.loads(run("--season", "--json", *ON)[1])
    assert document["schema"] == "swarmwatch/season/1"
    assert sum(r["share"] for r in document["rows"] if r["apiary"] == "Long Rye") > 0.98
    assert set(document["peaks"]) == {"Alder Edge", "Dairy Lane", "Long Rye"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "give one of"),
        (("Garnet", "--words"), "give one of"),
        (("--season", "--words"), "give one of"),
        (("Garnt",), "Did you mean Garnet?"),
        (("supercedure",), "Did you mean supersedure"),
        (("Marrow", *ON), "it has no score"),
        (("Garnet", "--on", "soon"), "is not a date"),
    ],
)
def test_what_cannot_be_explained_is_refused_with_a_way_on(run, words, said):
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert said in err


def test_without_a_yard_there_is_no_season(run, tmp_path):
    from swarmwatch.records import open_records

    path = tmp_path / "new.sqlite"
    with open_records(path, create=True):
        pass
    code, _, err = run("--season", records=path)
    assert code == 2
    assert "swarmwatch import apiaries.csv" in err
