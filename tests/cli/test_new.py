"""New records start with what the keeper said, or with defaults that are told."""

import pytest
import typer
from typer.testing import CliRunner

from swarmwatch.cli import new as module
from swarmwatch.cli.main import main
from swarmwatch.cli.new import new
from swarmwatch.errors import UsageError
from swarmwatch.records import open_records

app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
app.command()(new)


@pytest.fixture
def path(tmp_path):
    """Where the records will be."""
    return tmp_path / "swarmwatch.sqlite"


def run(path, *words, answers=None):
    done = CliRunner().invoke(app, ["--records", str(path), *words], input=answers)
    if isinstance(done.exception, UsageError):
        raise done.exception
    return done


def made(path):
    with open_records(path) as records:
        return records.frame("apiaries"), records.setting("yearly_swarm_chance")


def test_without_a_terminal_the_defaults_are_taken_and_told(path):
    done = run(path)
    assert done.exit_code == 0
    assert "0.3, the default" in done.stderr
    assert "No yard yet" in done.stderr
    yards, chance = made(path)
    assert yards.empty
    assert chance == "0.3"


def test_options_make_the_yard(path):
    done = run(path, "--apiary", "Hill", "--place", "-33.9,151.2", "--swarm-chance", "0.45")
    assert "Yard 'Hill' at 33.9 south, 151.2 east." in done.stderr
    yards, chance = made(path)
    assert yards[["apiary", "latitude", "longitude"]].to_numpy().tolist() == [
        ["Hill", -33.9, 151.2]
    ]
    assert chance == "0.45"


def test_a_place_without_a_name_is_called_home(path):
    run(path, "--place", "57.9 25.6")
    assert made(path)[0]["apiary"].tolist() == ["home"]


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("151.2,-33.9", "latitude and longitude look swapped"),
        ("0,0", "a place in the Atlantic"),
        ("north", "'north' is not a place"),
        ("57,9,25,6", "is not a place"),
        ("95,200", "is not on the globe"),
    ],
)
def test_a_place_that_is_none_is_refused_and_nothing_is_made(path, place, said):
    with pytest.raises(UsageError, match=said):
        run(path, "--place", place)
    assert not path.exists()


def test_records_that_are_there_stay_as_they_are(path):
    run(path, "--swarm-chance", "0.45")
    with pytest.raises(UsageError, match="records are there already, and stay as they are"):
        run(path, "--swarm-chance", "0.2")
    assert made(path)[1] == "0.45"


def test_a_terminal_is_asked_until_the_answer_is_a_place(path, monkeypatch):
    class Terminal:
        @staticmethod
        def isatty():
            return True

    monkeypatch.setattr(module.sys, "stdin", Terminal(), raising=False)
    answers = iter(["somewhere", "57.9,25.6", "Hill", 4.0])
    monkeypatch.setattr(module.typer, "prompt", lambda *_, **__: next(answers))
    monkeypatch.setattr(module.typer, "confirm", lambda *_, **__: True)
    module.new(records=str(path))
    yards, chance = made(path)
    assert yards["apiary"].tolist() == ["Hill"]
    assert chance == "0.4"


def test_the_command_ends_with_its_code_and_its_streams(path, capsys):
    def call():
        with pytest.raises(SystemExit) as ended:
            main(["new", "--records", str(path)])
        return ended.value.code, *capsys.readouterr()

    code, out, _ = call()
    assert (code, out.strip()) == (0, str(path))
    code, out, err = call()
    assert (code, out) == (2, "")
    assert "records are there already" in err
    assert "Traceback" not in err
