"""Every verb explains itself with an example that runs, and its help is quick to come."""

import json
import os
import re
import shlex
import shutil
import subprocess
import sys

import pytest

from demo_data import folder as scenario
from swarmwatch.cli.main import VERBS, main

HELPS = ("", *VERBS)
# every help in one fresh process: what each of them printed, and what it loaded beyond those before
ALL_HELPS = """
import contextlib, io, json, sys
from swarmwatch.cli.main import main
seen, helps = set(), {}
for verb in sys.argv[1:]:
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.suppress(SystemExit):
        main([verb, "--help"] if verb else ["--help"])
    helps[verb] = {"said": said.getvalue(), "loaded": sorted(set(sys.modules) - seen)}
    seen |= set(sys.modules)
print(json.dumps(helps))
"""
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


def run_in(folder, words):
    """Run one command in `folder`; return its exit code."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.delenv("SWARMWATCH_RECORDS", raising=False)
        try:
            main(words)
        except SystemExit as done:
            return done.code or 0
    return 0


@pytest.fixture(scope="module")
def made_by_demo(tmp_path_factory):
    """The exit code of the demo's own example in an empty folder, and the folder."""
    folder = tmp_path_factory.mktemp("keeper")
    return run_in(folder, example_of("demo")[1:]), folder


@pytest.fixture(scope="module")
def demo_records(made_by_demo):
    """The records that the demo makes."""
    (path,) = made_by_demo[1].glob("*/swarmwatch.sqlite")
    return path


@pytest.fixture(scope="module")
def helps():
    done = subprocess.run(  # noqa: S603 - our own interpreter and our own words
        [sys.executable, "-c", ALL_HELPS, *HELPS],
        capture_output=True,
        encoding="utf-8",
        check=True,
        timeout=60,
        env=os.environ | {"COLUMNS": "80"},
    )
    return json.loads(done.stdout)


@pytest.mark.parametrize("verb", VERBS)
def test_the_help_of_a_verb_holds_an_example(verb, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert run_in(tmp_path, [verb, "--help"]) == 0
    assert EXAMPLE.search(capsys.readouterr().out)


@pytest.mark.parametrize("verb", VERBS)
def test_the_example_of_a_verb_is_of_that_verb(verb):
    assert example_of(verb)[:2] == ["swarmwatch", verb]


@pytest.mark.parametrize("verb", [v for v in VERBS if v not in {"demo", "new"}])
def test_the_example_of_a_verb_runs_on_the_demos_records(verb, demo_records, tmp_path):
    shutil.copy(demo_records, tmp_path)
    for table in scenario().glob("*.csv"):
        shutil.copy(table, tmp_path)
    if verb == "restore":
        assert run_in(tmp_path, example_of("backup")[1:]) == 0
    assert run_in(tmp_path, example_of(verb)[1:]) in {0, 1}


def test_the_example_of_the_demo_runs_in_an_empty_folder(made_by_demo):
    assert made_by_demo[0] in {0, 1}


def test_the_example_of_new_runs_in_an_empty_folder(tmp_path):
    assert run_in(tmp_path, example_of("new")[1:]) in {0, 1}


@pytest.mark.parametrize("verb", HELPS)
def test_help_loads_nothing_heavy(helps, verb):
    assert "Usage:" in helps[verb]["said"]
    assert HEAVY & set(helps[verb]["loaded"]) == set()


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
