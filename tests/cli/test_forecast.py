"""The season's forecast on a terminal, in January and in season."""

import json

import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app, main


def run(records, *words):
    return CliRunner().invoke(app, ["forecast", "--records", str(records), *words])


@pytest.fixture(scope="module")
def january(records_of_demo):
    return run(records_of_demo, "--on", "2026-01-15")


@pytest.fixture
def new_records(tmp_path):
    """Records with a yard, and neither colony, box nor site."""
    path = tmp_path / "bees.sqlite"
    words = ["new", "--records", str(path), "--apiary", "home", "--place", "58.1,25.6"]
    assert CliRunner().invoke(app, words).exit_code == 0
    return path


def test_in_january_it_tells_catches_hives_and_dates_without_an_inspection(january):
    assert january.exit_code == 0
    for words in ("go out by", "come down", "Free colonies", "Empty hives", "order bees"):
        assert words in " ".join(january.stdout.split())


def test_common_practice_is_marked(january):
    flat = " ".join(january.stdout.split())
    assert flat.count("common practice, no source") >= 2


def test_own_swarms_are_told_apart(january):
    assert "getting one back is no new bees" in " ".join(january.stdout.split())


def test_its_lines_fit_a_terminal_and_hold_no_nan(january):
    assert max(map(len, january.stdout.splitlines())) <= 100
    assert "nan" not in january.stdout.lower().split()


def test_json_is_one_document_of_the_table(records_of_demo):
    document = json.loads(run(records_of_demo, "--on", "2026-01-15", "--json").stdout)
    assert document["schema"] == "swarmwatch/forecast/1"
    assert {"catches_own", "catches_other", "hives_to_have_ready"} <= set(document["rows"][0])
    assert document["season"] == 2026


def test_in_season_what_was_caught_is_told_as_so_far(records_of_demo):
    done = run(records_of_demo, "--on", "2026-06-05")
    assert "Catches: 1 so far" in done.stdout
    assert "Reckoned with 2 bait boxes" in " ".join(done.stdout.split())


def test_the_evening_knows_nothing_of_later_catches(records_of_demo):
    assert "so far" not in run(records_of_demo, "--on", "2026-05-20").stdout


def test_a_keeper_without_sites_or_boxes_gets_a_forecast_that_says_so(new_records):
    done = run(new_records, "--on", "2026-01-15")
    assert done.exit_code == 0
    assert "no sites: reckoned with sites 250 m" in done.stderr
    assert "reckoned with 2" in done.stderr
    assert "No colony of your own is noted" in done.stdout


def test_no_boxes_can_be_asked_for(new_records):
    assert "Without a bait box" in run(new_records, "--on", "2026-01-15", "--boxes", "0").stdout


def test_records_without_a_yard_say_how_to_begin(tmp_path, capsys):
    path = tmp_path / "bees.sqlite"
    CliRunner().invoke(app, ["new", "--records", str(path)])
    with pytest.raises(SystemExit) as done:
        main(["forecast", "--records", str(path)])
    assert done.value.code == 2
    assert "No yard yet" in capsys.readouterr().err
