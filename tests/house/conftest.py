import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("swarmwatch", "data_sources", "demo_data")


@pytest.fixture(scope="session")
def root():
    """The folder that holds the packages, the tests and README.md."""
    return ROOT


@pytest.fixture(scope="session")
def sources():
    """Every module of the packages by dotted name: its path and its syntax tree."""
    found = {}
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            found[name.removesuffix(".__init__")] = (
                path,
                ast.parse(path.read_text(encoding="utf-8"), filename=str(path)),
            )
    return found
