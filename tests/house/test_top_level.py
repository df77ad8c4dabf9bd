"""The top of the project holds what it should and nothing else."""

import shutil
import subprocess
from fnmatch import fnmatch

import pytest

BELONGS = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "swarmwatch",
    "data_sources",
    "tests",
    "demo_data",
    "maps",
}
# what building, testing and trying out leave behind; .gitignore keeps it out of the project
LEFTOVERS = ("__pycache__", "*.egg-info", "dist", "build", "swarmwatch-demo", "swarmwatch.sqlite*")


def listed_by_git(root):
    """Return the top-level names that git tracks, or None where git can't tell."""
    git = shutil.which("git")
    if git is None:
        return None
    done = subprocess.run(  # noqa: S603 - git, found on the path
        [git, "-C", str(root), "ls-files", "-z"], capture_output=True, encoding="utf-8", check=False
    )
    names = {name.split("/")[0] for name in done.stdout.split("\0") if name}
    return names or None


def listed_by_folder(root):
    return {
        path.name
        for path in root.iterdir()
        if not any(fnmatch(path.name, leftover) for leftover in LEFTOVERS)
    }


def strangers(names):
    return sorted(n for n in names if n not in BELONGS and not n.startswith("."))


def test_the_top_level_holds_only_what_belongs_there(root):
    assert strangers(listed_by_git(root) or listed_by_folder(root)) == []


def test_the_top_level_holds_all_that_belongs_there(root):
    assert [name for name in sorted(BELONGS) if not (root / name).exists()] == []


@pytest.mark.parametrize("name", ["setup.py", "uv.lock", "notes.txt", "utils"])
def test_a_stranger_at_the_top_is_seen(name):
    assert strangers({*BELONGS, ".gitignore", name}) == [name]


def test_a_folder_without_git_is_listed_without_leftovers(tmp_path):
    for name in ("README.md", "build", "swarmwatch.egg-info", "stranger"):
        (tmp_path / name).mkdir()
    assert listed_by_folder(tmp_path) == {"README.md", "stranger"}
