"""One inspection is written down, whole or in part, by options or by answers."""

import shutil
from datetime import UTC, datetime

import pandas as pd
import pytest
import typer
from typer.testing import CliRunner

from swarmwatch.cli import inspect_colony as module
from swarmwatch.cli.inspect_colony import inspect_colony
from swarmwatch.cli.main import main
from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.records import open_records
from swarmwatch.tables import TABLES

app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
app.command()(inspect_colony)
DAY = ("--date", "2026-05-01")


@pytest.fixture(scope="module")
def two_colonies(tmp_path_factory):
    """Records with one colony in frames and one on bars, in a file; tests take copies."""
    place = tmp_path_factory.mktemp("two") / "swarmwatch.sqlite"
    tables = {
        "apiaries": pd.DataFrame({"apiary": ["Home"], "latitude": [57.9], "longitude": [25.6]}),
        "colonies": pd.DataFrame(
            {
                "colony": ["Birch", "Elm"],
                "apiary": ["Home", "Home"],
                "hive_type": ["langstroth-deep-10", "top-bar"],
            }
        ),
    }
    with open_records(place, create=True) as records:
        records.store(tables, at=datetime(2026, 4, 20, tzinfo=UTC), by="test")
    return place


@pytest.fixture
def path(two_colonies, tmp_path):
    """Records with one colony in frames and one on bars."""
    return shutil.copy(two_colonies, tmp_path / "swarmwatch.sqlite")


def run(path, *words):
    done = CliRunner().invoke(app, [*words, "--records", str(path)])
    if isinstance(done.exception, Exception) and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


def noted(path):
    """Return the stored inspections, what was seen only."""
    with open_records(path) as records:
        frame = records.frame("inspections")
    return [{k: v for k, v in row.items() if not pd.isna(v)} for row in frame.to_dict("records")]


BIRCH = {"colony": "Birch", "date": pd.Timestamp("2026-05-01"), "visit": 1}


def test_every_column_of_the_table_is_an_option():
    text = CliRunner().invoke(app, ["--help"], terminal_width=200).stdout
    for name in TABLES["inspections"].names:
        if name not in {"colony", "date"}:
            assert f"--{name.replace('_', '-')} " in text


def test_a_partial_note_is_enough_and_the_rest_stays_blank(path):
    done = run(path, "birch", *DAY, "--combs-bees", "8", "--eggs-seen", "Y")
    assert done.stdout == "Birch, 2026-05-01, visit 1: noted.\n"
    assert noted(path) == [BIRCH | {"combs_bees": 8, "eggs_seen": "yes"}]


def test_a_second_note_of_a_day_is_added_to_the_first(path):
    run(path, "Birch", *DAY, "--combs-bees", "8")
    assert "added to" in run(path, "Birch", *DAY, "--queen-cells-egg", "0").stdout
    assert noted(path) == [BIRCH | {"combs_bees": 8, "queen_cells_egg": 0}]


def test_a_second_inspection_of_a_day_is_kept_apart(path):
    run(path, "Birch", *DAY, "--combs-bees", "8")
    run(path, "Birch", *DAY, "--combs-bees", "6", "--visit", "2")
    assert [(r["visit"], r["combs_bees"]) for r in noted(path)] == [(1, 8), (2, 6)]


def test_the_day_is_today_if_none_is_said(path):
    run(path, "Birch", "--combs-bees", "8")
    assert noted(path)[0]["date"].date() == datetime.now().astimezone().date()


def test_an_unknown_colony_offers_the_closest(path):
    with pytest.raises(UsageError, match=r"no colony 'Brich'. Did you mean Birch\?"):
        run(path, "Brich", "--combs-bees", "8")


def test_nothing_seen_is_told(path):
    with pytest.raises(UsageError, match="nothing was seen"):
        run(path, "Birch")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--queen-cells-egg", "-2"), "queen_cells_egg: '-2' is below 0"),
        (("--oldest-queen-cell", "caped"), "Did you mean capped?"),
        (("--combs", "3", "--combs-brood", "4"), "combs_brood: '4' is more than combs, '3'"),
        (("--combs", "400"), "If it is right, say --accept-unlikely"),
    ],
)
def test_a_bad_answer_is_refused_and_nothing_is_kept(path, words, said):
    with pytest.raises(RecordsError) as told:
        run(path, "Birch", *DAY, *words)
    assert said in str(told.value)
    assert noted(path) == []


def test_a_note_is_held_against_what_was_noted_that_day(path):
    run(path, "Birch", *DAY, "--combs", "3")
    with pytest.raises(RecordsError, match="'4' is more than combs, '3'"):
        run(path, "Birch", *DAY, "--combs-brood", "4")


@pytest.mark.parametrize("health", ["suspect", "Unsure"])
def test_sick_brood_brings_the_caution(path, health):
    told = run(path, "Birch", *DAY, "--brood-health", health).stderr
    assert "call your bee inspector" in told


def asked(monkeypatch, path, colony, answers):
    """Answer the questions of a terminal; return them."""

    class Terminal:
        @staticmethod
        def isatty():
            return True

    questions = []

    def prompt(text, **_):
        questions.append(text)
        return answers.get(len(questions), "")

    monkeypatch.setattr(module.sys, "stdin", Terminal(), raising=False)
    monkeypatch.setattr(module.typer, "prompt", prompt)
    module.inspect_colony(colony, records=str(path), on="2026-05-01")
    return questions


def test_a_terminal_is_asked_for_queen_cells_first_and_again_after_a_bad_answer(monkeypatch, path):
    questions = asked(monkeypatch, path, "Birch", {1: "caped", 2: "capped", 3: "0"})
    assert questions[0].startswith("Oldest stage seen in a queen cell (egg/small-larva/")
    assert questions[1] == questions[0]
    assert noted(path) == [BIRCH | {"oldest_queen_cell": "capped", "queen_cells_egg": 0}]


def test_a_hive_of_frames_is_asked_of_foundation_and_supers(monkeypatch, path):
    text = "\n".join(asked(monkeypatch, path, "Birch", {1: "capped"}))
    assert "Honey boxes on" in text
    assert "Foundation" in text
    assert "bars in use" not in text


def test_a_hive_of_bars_is_asked_of_bars_and_not_of_supers(monkeypatch, path):
    text = "\n".join(asked(monkeypatch, path, "Elm", {1: "capped"}))
    assert "Drawn bars in use" in text
    assert "Honey boxes" not in text
    assert "oundation" not in text


def test_answers_that_do_not_go_together_are_asked_again_and_the_others_kept(monkeypatch, path):
    # the 8th question is of combs of brood, the 9th of combs; after all, brood is asked again
    many = len(asked(monkeypatch, path, "Elm", {1: "capped"}))
    answers = {1: "ripe", 8: "4", 9: "3", many + 1: "2"}
    questions = asked(monkeypatch, path, "Elm", answers)
    assert questions[many] == questions[7]
    (row,) = noted(path)
    assert (row["oldest_queen_cell"], row["combs_brood"], row["combs"]) == ("ripe", 2, 3)


def test_an_unlikely_answer_is_asked_about(monkeypatch, path):
    monkeypatch.setattr(module.typer, "confirm", lambda *_, **__: True)
    asked(monkeypatch, path, "Elm", {9: "400"})
    assert noted(path)[0]["combs"] == 400


def test_the_command_ends_with_its_code_and_its_streams(path, capsys):
    def call(colony):
        with pytest.raises(SystemExit) as ended:
            main(["inspect", "--records", str(path), "--combs-bees", "8", colony])
        return ended.value.code, *capsys.readouterr()

    code, out, _ = call("Birch")
    assert (code, "noted" in out) == (0, True)
    code, out, err = call("Brich")
    assert (code, out) == (2, "")
    assert "Did you mean Birch?" in err
