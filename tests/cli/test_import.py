"""An import says what it did, and does all of it or nothing."""

import json

import pytest
import typer
from typer.testing import CliRunner

from swarmwatch.cli import import_tables as module
from swarmwatch.cli.import_tables import import_tables
from swarmwatch.cli.main import main
from swarmwatch.errors import RecordsError
from swarmwatch.records import open_records

FILES = {
    "inspections": "colony,date,combs_bees\nBirch,2026-05-01,7.5\nOak,2026-05-01,\n",
    "colonies": "colony,apiary,hive_type\nBirch,Home,top-bar\nOak,Home,warre\n",
    "apiaries": "apiary,latitude,longitude\nHome,57.9,25.6\n",
}
app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
app.command()(import_tables)


class Terminal:
    """A standard input at which somebody sits."""

    @staticmethod
    def isatty():
        return True


@pytest.fixture
def keeper(tmp_path, monkeypatch):
    """An empty folder with the keeper's files."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SWARMWATCH_RECORDS", raising=False)
    for name, text in FILES.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    return tmp_path


def run(*words):
    done = CliRunner().invoke(app, [*words] or [f"{n}.csv" for n in FILES])
    if isinstance(done.exception, Exception) and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


def stored(table="inspections"):
    with open_records("swarmwatch.sqlite") as records:
        return records.frame(table)


@pytest.mark.usefixtures("keeper")
def test_files_in_any_order_make_the_records():
    done = run()
    assert done.exit_code == 0
    assert done.stdout.splitlines() == [
        "apiaries: 1 new, 0 corrected, 0 unchanged",
        "colonies: 2 new, 0 corrected, 0 unchanged",
        "inspections: 2 new, 0 corrected, 0 unchanged",
    ]
    assert len(stored()) == 2


@pytest.mark.usefixtures("keeper")
def test_the_same_again_changes_nothing():
    run()
    assert run().stdout.splitlines()[-1] == "inspections: 0 new, 0 corrected, 2 unchanged"


def test_a_fault_leaves_no_records_behind(keeper):
    (keeper / "inspections.csv").write_text("colony,date,combs\nBirch,2026-05-01,-2\n", "utf-8")
    with pytest.raises(RecordsError, match=r"inspections\.csv row 2, combs: '-2' is below 0"):
        run()
    assert not (keeper / "swarmwatch.sqlite").exists()


def test_a_dry_run_says_what_it_would_do_and_makes_nothing(keeper):
    done = run(".", "--dry-run")
    assert "colonies: 2 new, 0 corrected, 0 unchanged (not written: --dry-run)" in done.stdout
    assert not (keeper / "swarmwatch.sqlite").exists()


def test_a_dry_run_on_records_leaves_them_as_they_are(keeper):
    run()
    (keeper / "inspections.csv").write_text("colony,date,combs\nBirch,2026-05-01,4\n", "utf-8")
    assert "1 corrected" in run("inspections.csv", "--dry-run").stdout
    assert stored()["combs"].isna().all()


def test_good_rows_are_kept_and_the_refused_ones_listed(keeper):
    (keeper / "colonies.csv").write_text(FILES["colonies"] + "Pine,Home,shoebox\n", "utf-8")
    done = run(".", "--good-rows")
    assert done.exit_code == 1
    assert "colonies.csv row 4, hive_type: there is no hive type 'shoebox'" in done.stderr
    assert "1 row was refused" in done.stderr
    assert len(stored("colonies")) == 2


@pytest.mark.usefixtures("keeper")
def test_good_rows_without_a_bad_one_end_well():
    assert run(".", "--good-rows").exit_code == 0


def test_an_unlikely_value_is_kept_when_said_so(keeper):
    (keeper / "inspections.csv").write_text("colony,date,combs\nBirch,2026-05-01,400\n", "utf-8")
    with pytest.raises(RecordsError, match="--accept-unlikely"):
        run()
    run(".", "--accept-unlikely")
    assert stored()["combs"].tolist() == [400]


@pytest.mark.parametrize("right", [True, False])
def test_an_unlikely_value_is_asked_about_on_a_terminal(keeper, monkeypatch, right):
    (keeper / "inspections.csv").write_text("colony,date,combs\nBirch,2026-05-01,400\n", "utf-8")
    monkeypatch.setattr(module.sys, "stdin", Terminal, raising=False)
    monkeypatch.setattr(module.typer, "confirm", lambda *_, **__: right)
    if right:
        module.import_tables([keeper])
        assert stored()["combs"].tolist() == [400]
    else:
        with pytest.raises(RecordsError, match="'400' is unlikely"):
            module.import_tables([keeper])


def test_a_cell_that_is_blank_now_is_told(keeper):
    run()
    (keeper / "inspections.csv").write_text(FILES["inspections"].replace("7.5", ""), "utf-8")
    assert "inspections: 1 stored value is blank now" in run("inspections.csv").stderr


def test_an_unknown_column_is_told(keeper):
    (keeper / "colonies.csv").write_text(
        "colony,apiary,hive_type,mood\nBirch,Home,warre,calm\nOak,Home,warre,\n", "utf-8"
    )
    assert "column 'mood' is not known and is kept as an extra note" in run(".").stderr


def test_a_named_table_overrules_the_files_name(keeper):
    (keeper / "colonies.csv").rename(keeper / "spring.csv")
    run("apiaries.csv")
    assert "colonies: 2 new" in run("spring.csv", "--table", "colonies").stdout


def test_a_file_that_is_refused_anyway_asks_nothing(keeper, monkeypatch):
    text = "colony,date,combs\nBirch,2026-05-01,400\nOak,2026-05-01,-1\n"
    (keeper / "inspections.csv").write_text(text, encoding="utf-8")
    monkeypatch.setattr(module.sys, "stdin", Terminal, raising=False)
    monkeypatch.setattr(module.typer, "confirm", lambda *_, **__: pytest.fail("it asked"))
    with pytest.raises(RecordsError, match="'-1' is below 0"):
        module.import_tables([keeper])


@pytest.mark.usefixtures("keeper")
def test_json_is_one_document():
    document = json.loads(run(".", "--json").stdout)
    assert document["schema"] == "swarmwatch/import/1"
    assert document["rows"][0] == {
        "table": "apiaries",
        "new": 1,
        "corrected": 0,
        "unchanged": 0,
        "blanked": 0,
    }


def test_the_command_ends_with_its_code_and_its_streams(keeper, capsys):
    def call(*words):
        with pytest.raises(SystemExit) as ended:
            main(["import", *words])
        return ended.value.code, *capsys.readouterr()

    bad = "colony,date,queen_cells_egg\nBirch,2026-05-01,-2\nBirhc,2026-05-01,1\n"
    (keeper / "bad").mkdir()
    (keeper / "bad" / "inspections.csv").write_text(bad, encoding="utf-8")
    good = call(".")
    refused = call("bad")
    partly = call("bad", "--good-rows")
    assert [code for code, *_ in (good, refused, partly)] == [0, 2, 1]
    assert refused[1] == ""
    assert refused[2].splitlines() == [
        (
            "inspections.csv row 2, queen_cells_egg: '-2' is below 0. "
            "Write the number you saw, 0 for none, or leave it blank."
        ),
        (
            "inspections.csv row 3, colony: there is no colony 'Birhc'. Did you mean Birch? "
            "Mend the name, or add it to colonies."
        ),
    ]
