"""Every verb explains itself with an example that runs, and its help is quick to come."""

import os
import re
import shlex
import shutil
import subprocess
import sys

import pytest

from demo_data import folder as scenario
from swarmwatch.cli.main import VERBS, main

RUN = "from swarmwatch.cli.main import main; main()"
# an example line of help, and the commands in it: the rest of the line after "Example:"
EXAMPLE = re.compile(r"^\s*Example:\s+(swarmwatch .+)$", re.MULTILINE)
COMMAND = re.compile(r"(?:^\s*(?:\$ )?|&& )(?:\S*/)?swarmwatch (\S+)", re.MULTILINE)
HEAVY = {"pandas", "numpy", "scipy", "sqlalchemy", "geopandas", "matplotlib", "folium", "apprise"}


def example_of(verb):
    """Return the words of the verb's own example, as its source has it: help wraps long lines."""
    from importlib import import_module

    module = import_module(f"swarmwatch.cli.{VERBS[verb]}")
    found = EXAMPLE.findall(getattr(module, VERBS[verb]).__doc__ or "")
    return shlex.split(found[-1]) if found else []


def run_in(folder, words, monkeypatch):
    """Run one command in `folder`; return its exit code."""
    monkeypatch.chdir(folder)
    monkeypatch.delenv("SWARMWATCH_RECORDS", raising=False)
    try:
        main(words)
    except SystemExit as done:
        return done.code or 0
    return 0


@pytest.fixture(scope="module")
def demo_records(tmp_path_factory):
    """The records that the demo makes."""
    folder = tmp_path_factory.mktemp("keeper") / "swarmwatch-demo"
    done = subprocess.run(  # noqa: S603 - our own interpreter and our own words
        [sys.executable, "-c", RUN, "demo", "--to", str(folder)],
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=120,
    )
    assert done.returncode in {0, 1}, done.stderr
    return folder / "swarmwatch.sqlite"


@pytest.mark.parametrize("verb", VERBS)
def test_the_help_of_a_verb_holds_an_example(verb, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert run_in(tmp_path, [verb, "--help"], monkeypatch) == 0
    assert EXAMPLE.search(capsys.readouterr().out)


@pytest.mark.parametrize("verb", VERBS)
def test_the_example_of_a_verb_is_of_that_verb(verb):
    assert example_of(verb)[:2] == ["swarmwatch", verb]


@pytest.mark.parametrize("verb", [v for v in VERBS if v not in {"demo", "new"}])
def test_the_example_of_a_verb_runs_on_the_demos_records(verb, demo_records, tmp_path, monkeypatch):
    shutil.copy(demo_records, tmp_path)
    for table in scenario().glob("*.csv"):
        shutil.copy(table, tmp_path)
    assert run_in(tmp_path, example_of(verb)[1:], monkeypatch) in {0, 1}


@pytest.mark.parametrize("verb", ["demo", "new"])
def test_the_example_of_a_first_verb_runs_in_an_empty_folder(verb, tmp_path, monkeypatch):
    assert run_in(tmp_path, example_of(verb)[1:], monkeypatch) in {0, 1}


@pytest.mark.parametrize("words", [["--help"], *([verb, "--help"] for verb in VERBS)])
def test_help_loads_nothing_heavy(words):
    code = (
        "import sys\nfrom swarmwatch.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print('loaded:', *sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(  # noqa: S603 - our own interpreter and our own words
        [sys.executable, "-c", code, *words],
        capture_output=True,
        encoding="utf-8",
        check=True,
        timeout=60,
        env=os.environ | {"COLUMNS": "80"},
    )
    assert "Usage:" in done.stdout
    assert HEAVY & set(done.stderr.split("loaded:")[1].split()) == set()


def commands_in(markdown):
    """Return the verbs of the swarmwatch commands in the code blocks of a Markdown text."""
    blocks = re.findall(r"^```[^\n]*\n(.*?)^```", markdown, re.MULTILINE | re.DOTALL)
    return [verb for block in blocks for verb in COMMAND.findall(block)]


def test_every_command_that_readme_shows_exists(root):
    verbs = commands_in((root / "README.md").read_text(encoding="utf-8"))
    assert "demo" in verbs
    assert [v for v in verbs if v not in VERBS and not v.startswith("--")] == []


def test_a_command_in_a_code_block_is_found():
    assert commands_in("```sh\n$ swarmwatch dance --now\n.venv/bin/swarmwatch sing\n```\n") == [
        "dance",
        "sing",
    ]
