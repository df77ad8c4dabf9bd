"""An export writes what the records hold, and nothing over a file of the keeper's."""

from datetime import UTC, datetime

import pandas as pd
import pytest
import typer
from typer.testing import CliRunner

from swarmwatch.cli.export import export
from swarmwatch.cli.main import main
from swarmwatch.errors import StoreError
from swarmwatch.records import open_records
from swarmwatch.tables import INPUTS

app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
app.command()(export)


@pytest.fixture
def path(tmp_path):
    """Records with two bait boxes."""
    place = tmp_path / "swarmwatch.sqlite"
    boxes = pd.DataFrame({"box": ["B2", "B1"], "volume_l": [40, 36.5], "colour": ["blue", None]})
    with open_records(place, create=True) as records:
        records.store({"boxes": boxes}, at=datetime(2026, 5, 20, tzinfo=UTC), by="test")
    return place


def run(path, *words):
    done = CliRunner().invoke(app, ["--records", str(path), *words])
    if isinstance(done.exception, StoreError):
        raise done.exception
    return done


def test_every_table_is_written_in_the_order_of_its_key(path, tmp_path):
    done = run(path, "--to", str(tmp_path / "out"))
    assert done.exit_code == 0
    assert sorted(f.stem for f in (tmp_path / "out").iterdir()) == sorted(t.name for t in INPUTS)
    lines = (tmp_path / "out" / "boxes.csv").read_text(encoding="utf-8").splitlines()
    assert lines[1:] == ["B1,36.5,,,,,", "B2,40,,,,,"]


def test_extra_notes_that_stay_behind_are_told(path, tmp_path):
    assert (
        "extra notes from unknown columns, 1, which stay"
        in run(path, "--to", str(tmp_path / "out")).stderr
    )


def test_a_file_of_the_keepers_is_not_written_over(path, tmp_path):
    (tmp_path / "boxes.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(StoreError, match="--force"):
        run(path, "--to", str(tmp_path))
    assert run(path, "--to", str(tmp_path), "--force").exit_code == 0


def test_absent_records_are_not_made(tmp_path):
    with pytest.raises(StoreError, match="there are no records here"):
        run(tmp_path / "none.sqlite", "--to", str(tmp_path))
    assert not (tmp_path / "none.sqlite").exists()


def test_the_command_ends_with_its_code_and_its_streams(path, tmp_path, capsys):
    def call(place):
        with pytest.raises(SystemExit) as ended:
            main(["export", "--to", str(tmp_path / "out"), "--records", str(place)])
        return ended.value.code, *capsys.readouterr()

    code, out, _ = call(path)
    assert (code, len(out.splitlines())) == (0, len(INPUTS))
    code, out, err = call(tmp_path / "none.sqlite")
    assert (code, out) == (2, "")
    assert err.startswith(str(tmp_path / "none.sqlite"))
