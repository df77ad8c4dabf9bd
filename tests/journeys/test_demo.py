"""Does `swarmwatch demo` run whole, in an empty folder, without a network, and harm no file?"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner, Result

from demo_data import ON
from swarmwatch.cli.main import app
from swarmwatch.cli.main import main as command

sys.path.insert(0, str(Path(__file__).parent))
from no_sockets import NO_SOCKETS

from swarmwatch.tables import TABLES, conform

FILES = (
    "swarmwatch.sqlite",
    "scores.csv",
    "plan.csv",
    "map.html",
    "map.pdf",
    "spots.gpx",
    "spots.kml",
    "spots.geojson",
    "spots.gpkg",
    "box-sheets.pdf",
    "letters.pdf",
    "labels.pdf",
    "alerts.ics",
)
DEMO = f"""{NO_SOCKETS}
from swarmwatch.cli.main import main
main(sys.argv[1:])
"""


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own, in which every socket is refused."""
    return subprocess.run(  # noqa: S603
        [sys.executable, "-c", DEMO, *arguments],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
        env={**os.environ, "PYTHONUTF8": "1", "NO_COLOR": "1"},
    )


def prints(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}


@pytest.fixture(scope="module")
def first(tmp_path_factory) -> tuple[subprocess.CompletedProcess[str], Path]:
    cwd = tmp_path_factory.mktemp("empty")
    return run("demo", cwd=cwd), cwd / "swarmwatch-demo"


@pytest.fixture(scope="module")
def second(first, tmp_path_factory) -> tuple[Result, Path]:
    """A second run, as JSON, where the first left its files and the keeper added one."""
    folder = Path(shutil.copytree(first[1], tmp_path_factory.mktemp("again") / "swarmwatch-demo"))
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder.parent)
        return CliRunner().invoke(app, ["demo", "--json"]), folder


@pytest.fixture
def copied(first, tmp_path) -> Path:
    """A demo folder of its own, as the first run left it."""
    return Path(shutil.copytree(first[1], tmp_path / "swarmwatch-demo"))


@pytest.fixture
def refused(monkeypatch, capsys):
    """Run a demo that must be refused, in this process; return what it said on stderr."""

    def once(*arguments: str, cwd: Path) -> str:
        monkeypatch.chdir(cwd)
        with pytest.raises(SystemExit) as ended:
            command(["demo", *arguments])
        assert ended.value.code == 2
        return capsys.readouterr().err

    return once


def test_the_refusal_of_sockets_works(tmp_path):
    code = f"{NO_SOCKETS}import socket; socket.socket()"
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code],
        cwd=tmp_path,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode != 0
    assert "OPENED A SOCKET" in done.stderr


def test_it_ends_well_and_says_nothing_on_stderr(first):
    done, _ = first
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("name", FILES)
def test_it_writes_the_file_and_tells_where_it_lies(first, name):
    done, folder = first
    assert (folder / name).stat().st_size > 0
    assert str(Path("swarmwatch-demo") / name) in done.stdout


def test_it_leaves_nothing_else_behind(first):
    _, folder = first
    assert set(prints(folder)) == {*FILES, ".swarmwatch-demo.json"}
    assert [p.name for p in folder.parent.iterdir()] == ["swarmwatch-demo"]


def test_it_says_that_the_scenario_is_invented_and_what_to_do_next(first):
    text = first[0].stdout
    assert "invented" in text
    assert "swarmwatch new" in text
    assert "swarmwatch import" in text


def test_it_prints_the_most_urgent_colony_and_the_best_site(first):
    done, folder = first
    scores = pd.read_csv(folder / "scores.csv")
    plan = pd.read_csv(folder / "plan.csv")
    assert scores.loc[scores["level"] == "today", "colony"].iloc[0] in done.stdout
    assert plan["site"].iloc[0] in done.stdout


def test_it_prints_what_the_readme_shows_of_it(first):
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.partition("Part of what the demo prints:")[2].split("```")[1]
    parts = shown.removeprefix("text").split("...\n")
    assert len(parts) == 3
    for part in parts:
        assert part.strip("\n") in first[0].stdout


def test_it_prints_the_safety_lines_of_stings_and_heights(first):
    text = first[0].stdout.lower()
    assert "sting" in text
    assert "ladder" in text
    assert "inspector" in text


def test_its_lines_fit_a_terminal_and_hold_no_traceback(first):
    text = first[0].stdout
    assert "Traceback" not in text
    assert "nan" not in text.lower().split()
    assert max(map(len, text.splitlines())) <= 120


def test_every_living_colony_is_scored_on_the_evening_of_the_scenario(first):
    scores = conform(pd.read_csv(first[1] / "scores.csv", dtype=str), TABLES["scores"])
    assert len(scores) == 15
    assert "Marrow" not in set(scores["colony"])
    assert set(scores["on"]) == {pd.Timestamp(ON)}


def test_the_stories_come_out_in_the_levels(first):
    level = pd.read_csv(first[1] / "scores.csv").set_index("colony")["level"]
    assert level["Dibber"] in {"quiet", "look-soon"}
    assert level["Jackdaw"] in {"quiet", "look-soon"}
    assert level["Garnet"] in {"act", "today"}
    assert level["Flint"] in {"act", "today"}
    assert level["Anvil"] != "quiet"


def test_a_second_run_gives_the_same_tables(first, second):
    done, folder = second
    before, after = prints(first[1]), prints(folder)
    assert (done.exit_code, done.stderr) == (0, "")
    assert set(after) == {*before, "notes.txt"}
    text = [name for name in FILES if not name.endswith(".sqlite")]
    assert {name: after[name] for name in text} == {name: before[name] for name in text}


@pytest.mark.parametrize("name", FILES)
def test_a_file_of_somebody_else_is_refused_by_name_and_nothing_is_touched(refused, tmp_path, name):
    (tmp_path / name).write_text("mine", encoding="utf-8")
    assert name in refused("--to", str(tmp_path), cwd=tmp_path)
    assert prints(tmp_path) == {name: b"mine"}


def test_a_file_that_the_keeper_changed_is_refused_and_nothing_is_touched(refused, copied):
    with (copied / "plan.csv").open("a", encoding="utf-8") as file:
        file.write("my own line\n")
    before = prints(copied)
    assert "plan.csv" in refused("--to", str(copied), cwd=copied.parent)
    assert prints(copied) == before


def test_other_files_of_the_folder_stay(second):
    done, folder = second
    assert done.exit_code == 0
    assert (folder / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_a_damaged_list_of_its_files_is_refused_by_name(refused, copied):
    (copied / ".swarmwatch-demo.json").write_text("{", encoding="utf-8")
    assert ".swarmwatch-demo.json" in refused("--to", str(copied), cwd=copied.parent)


def test_a_file_in_place_of_the_folder_is_refused(refused, tmp_path):
    (tmp_path / "swarmwatch-demo").write_text("mine", encoding="utf-8")
    assert "swarmwatch-demo" in refused(cwd=tmp_path)


def test_json_gives_one_document_with_scores_plan_and_files(second):
    document = json.loads(second[0].stdout)
    assert document["schema"] == "swarmwatch/demo/1"
    assert len(document["rows"]) == 15
    assert document["on"] == ON.isoformat()
    assert {Path(path).name for path in document["files"]} == set(FILES)


def test_the_map_asks_no_other_host_for_anything_but_tiles(first):
    import re

    page = (first[1] / "map.html").read_text(encoding="utf-8")
    asked = re.findall(r'<(?:script|link|img)[^>]+(?:src|href)="(https?://[^"]+)"', page)
    assert asked == []


@pytest.mark.browser
def test_the_map_is_read_on_a_phone(first, watched_page):
    watched_page.goto((first[1] / "map.html").as_uri())
    watched_page.locator("#map .leaflet-marker-icon:visible").first.wait_for()
    assert watched_page.evaluate("document.documentElement.scrollWidth") <= 360
    assert watched_page.get_by_role("heading", name="Chosen spots").is_visible()
    assert watched_page.complaints == []


def test_the_calendar_has_an_entry_for_a_colony_over_the_line(first):
    scores = pd.read_csv(first[1] / "scores.csv")
    text = (first[1] / "alerts.ics").read_text(encoding="utf-8")
    urgent = scores.loc[scores["level"].isin(["act", "today"]), "colony"]
    assert any(f"Colony {colony}" in text for colony in urgent)
