"""Is one broken cell of any table named with its file, row, column and value, and nothing kept?"""

import csv
import json
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from demo_data import TABLE_FILES, folder
from swarmwatch.cli.main import main


@dataclass(frozen=True, slots=True)
class Broken:
    """One cell to break: the row counts as a spreadsheet does, the header being row 1."""

    table: str
    row: int
    column: str
    value: str

    def __str__(self) -> str:
        return f"{self.table}-{self.row}-{self.column}"


BROKEN = (
    Broken("apiaries", 3, "latitude", "95.2"),
    Broken("hives", 2, "comb_height_mm", "-250"),
    Broken("colonies", 5, "origin", "swom"),
    Broken("colonies", 7, "apiary", "Alder Hedge"),
    Broken("colonies", 9, "queen_year", "1066"),
    Broken("inspections", 14, "queen_cells_egg", "-2"),
    Broken("inspections", 20, "combs_brood", "four"),
    Broken("inspections", 31, "combs_bees", "250"),
    Broken("inspections", 40, "colony", "Garnett"),
    Broken("inspections", 50, "date", "05/06/2026"),
    Broken("events", 4, "event", "swormed"),
    Broken("outcomes", 6, "outcome", "split"),
    Broken("weather", 100, "temp_max_c", "warm"),
    Broken("weather", 200, "temp_max_c", "-39.5"),
    Broken("weather", 300, "rain_mm", "-0.4"),
    Broken("sources", 2, "swarms_expected", "two"),
    Broken("sites", 12, "permission", "perhaps"),
    Broken("sites", 14, "height_m", "240"),
    Broken("boxes", 4, "volume_l", "-36"),
    Broken("hangings", 4, "hung_on", "2026-02-30"),
    Broken("checks", 5, "occupied", "almost"),
    Broken("catches", 2, "caught_on", "14.06.2025"),
    Broken("keep_out", 3, "kind", "cable"),
)


def run(*arguments: str) -> int:
    """Run one command in this process; return its exit code."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    return int(ended.value.code or 0)


def export(records: Path, into: Path) -> dict[str, bytes]:
    assert run("export", "--to", str(into), "--records", str(records)) == 0
    return {path.name: path.read_bytes() for path in sorted(into.iterdir())}


def broken_copy(broken: Broken, into: Path) -> Path:
    """Copy the file of the table with that one cell changed."""
    if broken.table == "keep_out":
        path = into / "keep_out.geojson"
        document = json.loads((folder() / path.name).read_text(encoding="utf-8"))
        document["features"][broken.row - 2]["properties"][broken.column] = broken.value
        path.write_text(json.dumps(document), encoding="utf-8")
        return path
    path = into / f"{broken.table}.csv"
    with (folder() / path.name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    rows[broken.row - 1][rows[0].index(broken.column)] = broken.value
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    return path


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> Path:
    """Records that hold the whole scenario."""
    records = tmp_path_factory.mktemp("filled") / "swarmwatch.sqlite"
    assert run("import", *sources(), "--records", str(records)) == 0
    return records


@pytest.fixture(scope="module")
def held(filled, tmp_path_factory) -> dict[str, bytes]:
    """What those records export."""
    return export(filled, tmp_path_factory.mktemp("held") / "out")


def sources() -> list[str]:
    return [str(folder() / name) for name in TABLE_FILES]


def test_the_scenario_is_imported_without_a_complaint(tmp_path, capsys):
    code = run("import", *sources(), "--records", str(tmp_path / "swarmwatch.sqlite"))
    assert code == 0
    assert "row" not in capsys.readouterr().err.lower()


def test_every_table_of_the_scenario_has_a_cell_that_is_broken_here():
    assert {broken.table for broken in BROKEN} == {Path(name).stem for name in TABLE_FILES}


@pytest.mark.parametrize("broken", BROKEN, ids=str)
def test_a_broken_cell_is_named_and_the_records_stay_as_they_were(
    broken, filled, held, tmp_path, capsys
):
    records = Path(shutil.copy(filled, tmp_path / "swarmwatch.sqlite"))
    source = broken_copy(broken, tmp_path)
    capsys.readouterr()

    assert run("import", str(source), "--records", str(records)) == 2

    told = [line for line in capsys.readouterr().err.splitlines() if broken.column in line]
    assert any(
        source.name in line and f"row {broken.row}" in line and broken.value in line
        for line in told
    )
    assert export(records, tmp_path / "after") == held


def test_importing_the_whole_scenario_again_changes_nothing(filled, held, tmp_path):
    records = Path(shutil.copy(filled, tmp_path / "swarmwatch.sqlite"))
    assert run("import", *sources(), "--records", str(records)) == 0
    assert export(records, tmp_path / "after") == held


def test_what_is_exported_can_be_imported_into_empty_records(filled, tmp_path):
    records = Path(shutil.copy(filled, tmp_path / "swarmwatch.sqlite"))
    before = export(records, tmp_path / "before")
    again = tmp_path / "again.sqlite"
    assert run("import", str(tmp_path / "before"), "--records", str(again)) == 0
    assert export(again, tmp_path / "after") == before
