"""What a user may import from the top, and what that costs."""

import subprocess
import sys

import pytest

import swarmwatch

PUBLIC = ["load_evidence", "plan_boxes", "score_colonies", "season_swarms"]


def modules_after(statement):
    """Return the names of the modules loaded in a fresh interpreter after `statement`."""
    code = f"{statement}\nimport sys\nprint('\\n'.join(sys.modules))"
    done = subprocess.run(  # noqa: S603 - our own interpreter and our own words
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True, timeout=60
    )
    return set(done.stdout.split())


def test_the_public_names_are_these():
    assert swarmwatch.__all__ == PUBLIC


@pytest.mark.parametrize("name", PUBLIC)
def test_each_public_name_is_a_documented_function(name):
    assert callable(getattr(swarmwatch, name))
    assert getattr(swarmwatch, name).__doc__


@pytest.mark.parametrize("name", PUBLIC)
def test_a_public_name_is_listed_by_dir(name):
    assert name in dir(swarmwatch)


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'swarm_oracle'"):
        _ = swarmwatch.swarm_oracle


def test_importing_the_package_loads_no_pandas_or_numpy():
    assert modules_after("import swarmwatch") & {"pandas", "numpy", "scipy"} == set()


def test_taking_a_public_name_from_the_package_loads_it():
    assert "pandas" in modules_after("from swarmwatch import score_colonies")


def test_data_sources_alone_loads_nothing_of_swarmwatch():
    loaded = modules_after("import data_sources, data_sources.errors")
    assert [m for m in loaded if m.split(".")[0] == "swarmwatch"] == []
