"""The verb `learn` on a keeper's own records."""

import datetime as dt
import json

import pandas as pd
import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.evidence import load_evidence
from swarmwatch.records import open_records

RUN = CliRunner()


def records_of(folder, *, years, swarms, colonies=8):
    """Store an invented past: so many of the colonies swarmed each year."""
    names = [f"C{i}" for i in range(colonies)]
    tables = {
        "apiaries": pd.DataFrame(
            [{"apiary": "Home", "latitude": 50.0, "longitude": 10.0, "season_peak": "05-30"}]
        ),
        "colonies": pd.DataFrame({"colony": names, "apiary": "Home", "hive_type": "zander-10"}),
        "outcomes": pd.DataFrame(
            [
                {
                    "colony": name,
                    "season": year,
                    "outcome": "swarmed" if i < swarms else "no-swarm",
                    "date": f"{year}-05-{20 + i}" if i < swarms else None,
                }
                for year in years
                for i, name in enumerate(names)
            ],
            columns=["colony", "season", "outcome", "date"],
        ),
    }
    path = folder / "bees.sqlite"
    with open_records(path, create=True) as store:
        store.store(
            {k: v for k, v in tables.items() if len(v)},
            at=dt.datetime(2026, 1, 1, tzinfo=dt.UTC),
            by="test",
        )
    return path


def learn(records, *more):
    return RUN.invoke(app, ["learn", "--records", str(records), *more])


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("learn")


@pytest.fixture(scope="module")
def written(folder):
    records = records_of(folder, years=(2024, 2025), swarms=7)
    result = learn(records, "--to", str(folder / "own-evidence.toml"))
    assert result.exit_code == 0, result.output
    return result


def test_without_outcomes_it_says_what_to_note(tmp_path):
    result = learn(records_of(tmp_path, years=(), swarms=0))
    assert result.exit_code == 0
    assert "note in the table outcomes" in result.stdout


def test_what_changed_stands_beside_the_published_value_and_its_source(written):
    assert "calibration.odds; source of the published: none (judgement)" in written.stdout
    assert "more swarms than published" in written.stdout


def test_a_number_to_use_comes_with_its_range(written, folder):
    entry = load_evidence(folder / "own-evidence.toml")["calibration.odds"]
    line = next(s for s in written.stdout.splitlines() if s.startswith("odds of a swarm"))
    assert line.endswith(f"80 % range {entry.low:.2g} to {entry.high:.2g}")


def test_a_share_of_the_records_own_stands_and_is_told(tmp_path):
    records = records_of(tmp_path, years=(2025,), swarms=2, colonies=3)
    with open_records(records) as store:
        store.set_setting("yearly_swarm_chance", "0.6")
    said = learn(records).stdout
    assert (
        "on top of your records' own yearly share of 60 %; if you change that, learn again" in said
    )


def test_the_losses_of_seasons_left_out_are_shown(written):
    assert "\n2024 " in written.stdout
    assert "\nall " in written.stdout


@pytest.mark.usefixtures("written")
def test_the_file_can_be_used_as_own_evidence(folder):
    own = load_evidence(folder / "own-evidence.toml")
    assert own.value("calibration.odds") > load_evidence().value("calibration.odds")


@pytest.mark.usefixtures("written")
def test_a_file_is_not_written_over(folder):
    result = learn(folder / "bees.sqlite", "--to", str(folder / "own-evidence.toml"))
    assert "--force" in str(result.exception)


@pytest.fixture(scope="module")
def one_season(tmp_path_factory):
    folder = tmp_path_factory.mktemp("one")
    records = records_of(folder, years=(2025,), swarms=2, colonies=3)
    return folder, learn(records, "--json", "--to", str(folder / "own.toml"))


def test_where_the_published_values_are_kept_no_file_is_written(one_season):
    folder, result = one_season
    assert result.exit_code == 0
    assert not (folder / "own.toml").exists()
    assert "was not written" in result.stderr


def test_json_is_one_document(one_season):
    document = json.loads(one_season[1].stdout)
    assert document["schema"] == "swarmwatch/learn/1"
    assert (document["colonies"], document["swarms"], document["better"]) == (3, 2, False)
