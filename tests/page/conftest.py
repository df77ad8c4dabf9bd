import sys
from pathlib import Path

import pytest

# importlib mode puts no folder on the path; how pages are served is shared by several folders
sys.path.insert(0, str(Path(__file__).parent))

from served import demo_records, serving, small_records


@pytest.fixture(scope="session")
def small_template(tmp_path_factory):
    """Records of a yard with two colonies and a bait box, in a file; tests take copies."""
    return small_records(tmp_path_factory.mktemp("small") / "bees.sqlite")


@pytest.fixture(scope="session")
def demo_served(tmp_path_factory):
    """The demo's records, served; for tests that read only."""
    with serving(demo_records(tmp_path_factory.mktemp("demo") / "bees.sqlite")) as served:
        yield served
