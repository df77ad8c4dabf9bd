"""The verb `score` with a change, and for a short week, on the demo's tables."""

import json

import pytest
from typer.testing import CliRunner

import demo_data
from swarmwatch.cli.main import app

RUN = CliRunner()


@pytest.fixture(scope="module")
def records(records_of_demo):
    return records_of_demo


def score(records, *more):
    on = demo_data.ON.isoformat()
    return RUN.invoke(app, ["score", "--records", str(records), "--on", on, *more])


def test_a_change_is_shown_before_and_after_with_ranges(records):
    text = score(records, "--if", "split", "--colony", "Candle").stdout
    line = next(line for line in text.splitlines() if line.strip().startswith("7 days"))
    before, after = line.split("->")
    assert " to " in before
    assert " to " in after
    assert "Garnet" not in text


def test_a_change_keeps_the_exit_code_of_the_score(records):
    assert score(records, "--if", "split").exit_code == 1
    quiet = score(records, "--if", "split", "--colony", "Pebble")
    assert quiet.exit_code == 0


def test_a_change_as_json_is_one_document(records):
    document = json.loads(score(records, "--if", "wait-7", "--json").stdout)
    assert document["schema"] == "swarmwatch/what-if/1"
    assert len(document["rows"]) == 15
    assert {"p_7d", "p_gone_after", "p_7d_low_after", "difference"} <= set(document["rows"][0])


def test_a_sick_colony_is_not_tried_and_json_holds_blanks(records):
    done = score(records, "--if", "split", "--colony", "Kettle", "--json")
    (row,) = json.loads(done.stdout)["rows"]
    assert row["p_7d_after"] is None
    assert "not tried" in row["difference"]


def test_a_colony_is_found_in_any_case(records):
    assert "Candle" in score(records, "--if", "wait-2", "--colony", "candle").stdout


def test_a_colony_that_is_not_there_is_named_with_the_nearest(records):
    result = score(records, "--if", "split", "--colony", "Candel")
    assert "Did you mean Candle" in str(result.exception)


def test_an_unknown_change_is_named_with_the_nearest(records):
    assert "Did you mean split" in str(score(records, "--if", "splitt").exception)


@pytest.fixture(scope="module")
def short_week(records):
    """What is told where there is time for two colonies."""
    return score(records, "--visits", "2").stdout


def test_a_short_week_names_as_many_colonies_as_there_is_time_for(short_week):
    assert "1. " in short_week
    assert "2. " in short_week
    assert "3. " not in short_week.split("Swarms expected")[0]
    assert "The other 13 risk" in short_week


def test_a_short_week_says_why_a_sick_colony_is_last(short_week):
    assert "Kettle: last: on 2026-06-05 the brood did not look right" in short_week


def test_a_short_week_as_json_holds_every_colony_in_order(records):
    rows = json.loads(score(records, "--visits", "4", "--json").stdout)["rows"]
    assert [row["rank"] for row in rows] == list(range(1, 16))
    assert [row["chosen"] for row in rows].count("yes") == 4


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--visits", "0"], "too few"),
        (["--visits", "many"], "valid integer"),
        (["--visits", "2", "--if", "split"], "one question or the other"),
        (["--colony", "Candle"], "goes with --if"),
        (["--visits", "2", "--to", "a.csv"], "use --json"),
        (["--if", "split", "--to", "a.csv"], "use --json"),
    ],
)
def test_options_that_do_not_go_together_are_refused(records, words, said):
    result = score(records, *words)
    assert result.exit_code == 2
    assert said in " ".join(result.output.split())
