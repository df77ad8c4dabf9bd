"""What was done is shown and taken back from the command line."""

import json

import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app, main
from swarmwatch.records import open_records


@pytest.fixture
def keeper(tmp_path, monkeypatch):
    """A folder with the records of one yard and one colony."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SWARMWATCH_RECORDS", raising=False)
    (tmp_path / "colonies.csv").write_text(
        "colony,apiary,hive_type\nBirch,Home,top-bar\n", encoding="utf-8"
    )
    main_ok("new", "--apiary", "Home", "--place", "57.31,26.02")
    main_ok("import", "colonies.csv")
    return tmp_path


def main_ok(*words):
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    return done


@pytest.mark.usefixtures("keeper")
def test_the_log_names_each_action_by_number():
    lines = main_ok("log").stdout.splitlines()
    assert [line.split("  ")[-1] for line in lines] == [
        "colonies.csv: colonies 1 new",
        "new: apiaries 1 new",
    ]
    assert lines[0].split()[0] == "2"


def test_the_last_import_is_taken_back_and_said(keeper):
    told = main_ok("undo")
    assert told.stdout.splitlines() == [
        "Taken back: colonies.csv: colonies 1 new",
        "1 row removed, 0 rows as before.",
    ]
    assert "number that undoes this" in told.stderr
    with open_records(keeper / "swarmwatch.sqlite") as records:
        assert records.frame("colonies").empty
    rows = json.loads(main_ok("log", "--json", "--last", "2").stdout)["rows"]
    assert rows[0]["what"].startswith("undo of 2 (colonies.csv)")
    assert "(taken back " in rows[1]["what"]


@pytest.mark.usefixtures("keeper")
def test_nothing_left_to_take_back_is_said(capsys):
    main_ok("undo")
    main_ok("undo")
    with pytest.raises(SystemExit) as done:
        main(["undo"])
    assert done.value.code == 2
    assert "nothing to take back" in capsys.readouterr().err


def test_a_damaged_file_names_the_last_copy(keeper, capsys):
    main_ok("backup", "--to", "copies")
    (copy,) = (keeper / "copies").iterdir()
    path = keeper / "swarmwatch.sqlite"
    path.write_bytes(b"no records " * 1000)
    with pytest.raises(SystemExit):
        main(["score"])
    assert f"`swarmwatch restore {copy.relative_to(keeper)}`" in capsys.readouterr().err
