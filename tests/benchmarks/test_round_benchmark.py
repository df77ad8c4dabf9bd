"""How long the weekly round of a hundred colonies takes, beside starting what it stands on."""

import os
import subprocess
import sys
import time
from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

import demo_data
from swarmwatch.cli.main import app
from swarmwatch.records import open_records
from swarmwatch.records.importing import check_reads, refuse_faults, store_checked
from swarmwatch.records.reading import read_files

# the yardstick: a fresh process that loads the libraries which any answer needs
STARTING = "import pandas, scipy.stats, sqlalchemy, matplotlib.backends.backend_pdf"


def records_of(folder, count):
    """Records of the demo's colonies over and over, under other names; its weather is kept."""
    files = []
    for name in demo_data.TABLE_FILES:
        text = (demo_data.folder() / name).read_text(encoding="utf-8")
        if name in ("colonies.csv", "inspections.csv", "events.csv"):
            head, *rows = text.splitlines()
            column = head.split(",").index("colony")
            again = [head, *rows]
            for copy in range(1, -(-count // 15)):
                for row in rows:
                    # the name stands before any quoted cell
                    cells = row.split(",")
                    cells[column] += f"-{copy}"
                    again.append(",".join(cells))
            text = "\n".join(again) + "\n"
        (folder / name).write_text(text, encoding="utf-8")
        files.append(folder / name)
    path = folder / "bees.sqlite"
    checked = check_reads(read_files(files), {}, today=demo_data.ON)
    refuse_faults(checked, accept_unlikely=True)
    with open_records(path, create=True) as records:
        store_checked(records, checked, at=datetime(2026, 6, 5, 18, tzinfo=UTC), by="benchmark")
    return path


def run(*words):
    """Run a fresh Python; return its exit code, the seconds it took and those of the processor."""
    before, began = os.times(), time.perf_counter()
    done = subprocess.run(  # noqa: S603 - our own interpreter and our own words
        [sys.executable, *words],
        capture_output=True,
        check=False,
        timeout=300,
        env=os.environ | {"NO_COLOR": "1"},
    )
    taken, after = time.perf_counter() - began, os.times()
    busy = after.children_user + after.children_system
    busy -= before.children_user + before.children_system
    # where the system does not count them, those of the clock stand in
    return done.returncode, taken, busy or taken


@pytest.mark.parametrize("count", [100])
def test_a_round_from_kept_weather(benchmark, tmp_path, count):
    # plainly run, the demo's own colonies in this process are enough
    path = records_of(tmp_path, count if benchmark.enabled else 15)
    words = ["round", "--offline", "--on", demo_data.ON.isoformat()]
    words += ["--records", str(path), "--to", str(tmp_path / "round")]
    if not benchmark.enabled:
        assert benchmark(CliRunner().invoke, app, words).exit_code == 1
        return
    words = ["-m", "swarmwatch.cli.main", *words]
    starting_s = min(run("-c", STARTING)[2] for _ in range(3))
    run(*words)
    seconds = []

    def once():
        code, *taken = run(*words)
        seconds.append(taken)
        return code

    assert benchmark.pedantic(once, rounds=3, iterations=1) == 1
    clock, busy = (min(times) for times in zip(*seconds, strict=True))
    print(  # noqa: T201
        f"\nround of {count} colonies: {clock:.2f} s, {busy:.2f} s of the processor, "
        f"{busy / starting_s:.1f} times starting Python with its libraries ({starting_s:.2f} s)"
    )
