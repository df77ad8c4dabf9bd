"""The demo's tables in records, for verbs that only read them."""

import pytest
from typer.testing import CliRunner

import demo_data
from swarmwatch.cli.main import app


@pytest.fixture(scope="session")
def records_of_demo(tmp_path_factory):
    path = tmp_path_factory.mktemp("demo") / "bees.sqlite"
    files = [str(demo_data.folder() / name) for name in demo_data.TABLE_FILES]
    result = CliRunner().invoke(app, ["import", *files, "--records", str(path)])
    assert result.exit_code == 0, result.output
    return path
