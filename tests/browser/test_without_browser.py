"""Where no Chromium is found the browser tests are left out with one line, or fail if required."""

import os
import subprocess
import sys
from pathlib import Path

CONFTEST = Path(__file__).resolve().parents[1] / "conftest.py"
TEST = "import pytest\n\n@pytest.mark.browser\ndef test_a(): pass\n\ndef test_b(): pass\n"


def run_without_chromium(folder, *options):
    """Run two tests, one of them marked, with nothing on the path."""
    ours = CONFTEST.read_text(encoding="utf-8").replace("/Applications", "/nowhere")
    (folder / "conftest.py").write_text(ours, encoding="utf-8")
    (folder / "test_two.py").write_text(TEST, encoding="utf-8")
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = browser\n", encoding="utf-8")
    words = [sys.executable, "-m", "pytest", "--disable-plugin-autoload", "-p", "no:cacheprovider"]
    return subprocess.run(  # noqa: S603 - our own interpreter and our own words
        [*words, *options],
        cwd=folder,
        env=os.environ | {"PATH": str(folder)},
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=120,
    )


def test_browser_tests_are_left_out_with_one_line(tmp_path):
    done = run_without_chromium(tmp_path)
    assert done.returncode == 0
    assert done.stdout.count("1 browser tests left out: no Chromium") == 1
    assert "1 passed, 1 deselected" in done.stdout


def test_a_required_browser_that_is_not_there_is_an_error(tmp_path):
    done = run_without_chromium(tmp_path, "--require-browser")
    assert done.returncode == 4
    assert "no Chromium on the path" in done.stdout + done.stderr
