import json
import subprocess
import sys

import pytest
import typer
from typer.testing import CliRunner

from swarmwatch.cli.evidence import evidence
from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence

app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
app.command()(evidence)


def run(*words):
    return CliRunner().invoke(app, words)


def test_without_a_word_every_entry_is_printed():
    printed = run().stdout
    assert all(f"{key} = " in printed for key in load_evidence())


def test_an_entry_shows_value_unit_range_grade_and_source():
    printed = run("eggs_per_day_most").stdout
    assert "strength.eggs_per_day_most = 1600 eggs/d (1400 to 2000)" in printed
    assert "published, read in a summary: Schmickl & Crailsheim 2007" in printed


@pytest.mark.parametrize("word", ["adult_life", "AGROSCOPE", "strong flow"])
def test_a_word_is_looked_for_in_key_source_and_note_in_any_case(word):
    assert "strength.adult_life_d = 35 d" in run(word).stdout


def test_a_word_leaves_the_others_out():
    assert "hives." not in run("adult_life").stdout


def test_json_holds_whole_entries():
    document = json.loads(run("adult_life", "--json").stdout)
    assert document["schema"] == "swarmwatch/evidence/1"
    assert document["rows"][0]["key"] == "strength.adult_life_d"
    assert document["rows"][0]["low"] == 25


def test_own_numbers_are_shown_where_given(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[strength.adult_life_d]\nvalue = 31\n", encoding="utf-8")
    assert "strength.adult_life_d = 31 d" in run("adult_life", "--evidence", str(own)).stdout


def test_no_match_is_refused_with_the_nearest_keys():
    error = run("adultlife").exception
    assert isinstance(error, UsageError)
    assert "strength.adult_life_d" in str(error)


def test_no_match_and_nothing_near_says_how_to_see_all():
    error = run("qqqqqqqq").exception
    assert "prints them all" in str(error)
    assert "Near it" not in str(error)


def test_help_ends_in_an_example_that_runs():
    printed = run("--help").stdout.splitlines()
    example = next(line.strip() for line in printed if "Example:" in line)
    words = example.removeprefix("Example: swarmwatch evidence ").split()
    assert run(*words).exit_code == 0


def test_no_pandas_is_loaded_to_print_numbers():
    code = (
        "import sys; from swarmwatch.cli.evidence import evidence; evidence(word='adult_life');"
        "print('pandas' in sys.modules)"
    )
    done = subprocess.run(  # noqa: S603 - our own interpreter and words
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, encoding="utf-8"
    )
    assert done.stdout.splitlines()[-1] == "False"
