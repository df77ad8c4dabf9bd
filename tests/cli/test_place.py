"""`swarmwatch place`: what a keeper reads, what is written, and what is refused."""

import csv
import io
import json
from datetime import UTC, datetime

import pandas as pd
import pytest
import typer
from typer.testing import CliRunner

from swarmwatch.cli.place import place
from swarmwatch.cli.place_text import plan_as_text
from swarmwatch.errors import PlanInfeasible, UsageError
from swarmwatch.records import open_records
from swarmwatch.tables import TABLES

TABLES_IN = {
    "apiaries": pd.DataFrame(
        {"apiary": ["home"], "latitude": [52.0], "longitude": [5.0], "used_comb_allowed": ["no"]}
    ),
    "colonies": pd.DataFrame(
        {"colony": ["a", "b"], "apiary": "home", "hive_type": "top-bar", "queen_year": [2024, 2025]}
    ),
    "sites": pd.DataFrame(
        {
            "site": ["shed", "=oak", "mill\x1b[31m", "school"],
            "latitude": [52.002, 52.003, 51.997, 52.001],
            "longitude": [5.0, 5.004, 5.003, 5.001],
            "height_m": [2.0, 5.0, None, 2.0],
            "permission": ["yes", "asked", None, "no"],
        }
    ),
}


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """Records of one yard with four sites; tests get a copy."""
    path = tmp_path_factory.mktemp("records") / "bees.sqlite"
    with open_records(path, create=True) as store:
        store.store(TABLES_IN, at=datetime(2026, 4, 1, 18, tzinfo=UTC), by="test")
    return path


@pytest.fixture
def records(kept, tmp_path):
    path = tmp_path / "bees.sqlite"
    path.write_bytes(kept.read_bytes())
    return path


def run(records, *options):
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(place)
    arguments = ["--records", str(records), "--on", "2026-04-02", *options]
    result = CliRunner().invoke(app, arguments)
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_the_list_names_site_height_catch_and_range(records):
    out = run(records, "--boxes", "1").stdout
    assert "hang a box at 2.0 m" in out or "after a yes a box at 2.5 m" in out
    assert "swarms a season (" in out
    assert "chance of at least one" in out


def test_it_exits_0(records):
    assert run(records).exit_code == 0


def test_a_site_without_a_yes_is_ask_first_and_never_hang(records):
    out = run(records, "--boxes", "3").stdout
    assert "=oak: ASK FIRST; after a yes a box at 2.5 m" in out
    assert "=oak: hang" not in out


def test_a_refused_site_is_named_with_the_reason(records):
    assert "school: the owner said no" in run(records).stdout


def test_the_safety_lines_stand_at_the_end(records):
    end = run(records).stdout.split("Before you go:")[1]
    for word in ("Stings", "Ladders", "Power lines", "Weight", "Permission and law", "Used comb"):
        assert word in end


def test_it_says_how_sure_the_choice_is(records):
    assert "this set is proved best" in run(records).stdout


def test_control_characters_of_a_name_do_not_reach_the_terminal(records):
    assert "\x1b" not in run(records, "--boxes", "3").stdout


def test_high_keeps_the_height_and_gives_the_ladder_rule(records):
    out = run(records, "--boxes", "3", "--high").stdout
    assert "box at 5.0 m" in out
    assert "ladder 1 out" in out


def test_json_is_one_document_with_its_schema(records):
    document = json.loads(run(records, "--boxes", "2", "--json").stdout)
    assert document["schema"] == "swarmwatch/plan/1"
    assert len(document["rows"]) == 2
    assert set(document["rows"][0]) == set(TABLES["plan"].names)
    assert document["proved"] is True
    assert document["refused"] == {"school": "the owner said no"}


def test_the_file_holds_the_plan(records, tmp_path):
    run(records, "--boxes", "3", "--to", str(tmp_path / "plan.csv"))
    text = (tmp_path / "plan.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [r["rank"] for r in rows] == ["1", "2", "3"]
    assert list(rows[0]) == list(TABLES["plan"].names)


def test_a_name_that_a_spreadsheet_would_run_is_written_as_text(records, tmp_path):
    run(records, "--boxes", "3", "--to", str(tmp_path / "plan.csv"))
    assert ",'=oak," in (tmp_path / "plan.csv").read_text(encoding="utf-8")


def test_a_file_that_is_there_is_not_written_over(records, tmp_path):
    file = tmp_path / "plan.csv"
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="this file is there already"):
        run(records, "--to", str(file))
    assert file.read_text(encoding="utf-8") == "mine"


def test_force_writes_over_it(records, tmp_path):
    file = tmp_path / "plan.csv"
    file.write_text("mine", encoding="utf-8")
    run(records, "--to", str(file), "--force")
    assert file.read_text(encoding="utf-8").startswith("rank,site")


def test_without_sites_it_says_what_to_import(tmp_path):
    path = tmp_path / "empty.sqlite"
    with open_records(path, create=True):
        pass
    with pytest.raises(UsageError, match="Import a table of sites"):
        run(path)


def test_known_sources_of_the_records_are_reckoned_with(records):
    neighbour = pd.DataFrame(
        {
            "source": ["neighbour"],
            "latitude": [52.004],
            "longitude": [5.001],
            "swarms_expected": [9.0],
        }
    )
    with open_records(records) as store:
        at = datetime(2026, 4, 1, 19, tzinfo=UTC)
        store.store({"sources": neighbour}, at=at, by="test")
    out = " ".join(run(records, "--boxes", "3").stdout.split())
    assert "from neighbour, 230 m away, which sends 9.0 a season" in out


def test_an_africanized_area_gets_no_plan(records):
    with open_records(records) as store:
        at = datetime(2026, 4, 1, 19, tzinfo=UTC)
        yard = TABLES_IN["apiaries"].assign(africanized_area="yes")
        store.store({"apiaries": yard}, at=at, by="test")
    with pytest.raises(PlanInfeasible, match="trained, registered people"):
        run(records)


def test_the_help_ends_in_an_example():
    app = typer.Typer(rich_markup_mode=None)
    app.command()(place)
    text = CliRunner().invoke(app, ["--help"]).stdout
    assert "Example: swarmwatch place --boxes 3 --to plan.csv" in " ".join(text.split())


@pytest.mark.parametrize(
    ("proved", "gap", "words"),
    [
        (True, 0.0, "this set is proved best"),
        (False, 0.0001, "no other set is better by 0.1 % or more"),
        (False, 0.0123, "no other set is better by more than 1.2%"),
    ],
)
def test_the_statement_of_the_solver_follows_its_gap(proved, gap, words):
    plan = pd.DataFrame(columns=list(TABLES["plan"].names))
    plan.attrs = {
        "total": 0.0, "total_low": 0.0, "total_high": 0.0, "p_any": 0.0,
        "proved": proved, "gap": gap, "notes": [], "refused": {},
    }  # fmt: skip
    assert words in plan_as_text(plan, TABLES_IN["sites"], [])


@pytest.mark.parametrize(
    ("further", "line"),
    [
        ((), None),
        ((0.42,), "One box more, at the best site left, would add 0.4 a season."),
        ((0.42, 0.04), "One box more, at the best site left, would add 0.4 and the next under 0.1"),
    ],
)
def test_what_a_box_more_would_add_is_one_line(further, line):
    plan = pd.DataFrame(columns=list(TABLES["plan"].names))
    plan.attrs = {
        "total": 0.0, "total_low": 0.0, "total_high": 0.0, "p_any": 0.0,
        "proved": True, "gap": 0.0, "notes": [], "refused": {}, "further": further,
    }  # fmt: skip
    text = plan_as_text(plan, TABLES_IN["sites"], [])
    assert (line in text) if line else ("One box more" not in text)


def test_a_paper_that_is_none_is_refused_and_no_folder_made(records, tmp_path):
    with pytest.raises(UsageError, match="Use one of a4, letter"):
        run(records, "--to", str(tmp_path / "out"), "--paper", "a5")
    assert not (tmp_path / "out").exists()
