import json
from datetime import UTC, date, datetime

import pandas as pd
import pytest

from swarmwatch.cli.main import main
from swarmwatch.cli.map_files import MAP_FILES, write_map_files
from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.records import open_records

SITES = ("sites", "apiaries", "keep_out")


def run(*words):
    """Run ``swarmwatch map``; return its exit code."""
    try:
        main(["map", *map(str, words)])
    except SystemExit as done:
        return done.code or 0
    return 0


@pytest.fixture
def records(tmp_path, map_tables):
    """Records of the invented village: yards, colonies, sites, no-go ground, two bait boxes."""
    path = tmp_path / "bees.sqlite"
    colonies = {
        "colony": ["Amber", "Birch", "Clover"],
        "apiary": ["Home yard", "Home yard", "Mill yard"],
        "hive_type": "national-deep",
    }
    tables = {name: map_tables[name] for name in SITES} | {
        "colonies": pd.DataFrame(colonies),
        "boxes": pd.DataFrame({"box": ["B1", "B2"], "volume_l": [40, 38]}),
    }
    with open_records(path, create=True) as store:
        store.store(tables, at=datetime(2026, 5, 1, tzinfo=UTC), by="test")
    return path


def write(folder, map_tables, **more):
    return write_map_files(
        folder,
        plan=map_tables["plan"],
        sources=map_tables["sources"],
        frames={name: map_tables[name] for name in SITES},
        made_on=date(2026, 5, 14),
        **more,
    )


def test_the_verb_writes_the_four_files_and_says_where(records, tmp_path, capsys):
    to = tmp_path / "out"
    assert run("--records", records, "--to", to, "--on", "2026-05-14") == 0
    assert capsys.readouterr().out.splitlines() == [str(to / name) for name in MAP_FILES]
    assert all((to / name).stat().st_size > 0 for name in MAP_FILES)


def test_as_many_spots_as_there_are_bait_boxes(records, tmp_path):
    run("--records", records, "--to", tmp_path / "out", "--on", "2026-05-14")
    spots = json.loads((tmp_path / "out" / "spots.geojson").read_text(encoding="utf-8"))
    assert len(spots["features"]) == 2


def test_boxes_says_how_many_spots(records, tmp_path):
    run("--records", records, "--to", tmp_path / "out", "--on", "2026-05-14", "--boxes", 1)
    spots = json.loads((tmp_path / "out" / "spots.geojson").read_text(encoding="utf-8"))
    assert len(spots["features"]) == 1


def test_no_spot_lies_in_ground_that_is_barred(records, tmp_path):
    run("--records", records, "--to", tmp_path / "out", "--on", "2026-05-14", "--boxes", 5)
    spots = json.loads((tmp_path / "out" / "spots.geojson").read_text(encoding="utf-8"))
    assert "School edge" not in {f["properties"]["site"] for f in spots["features"]}


def test_the_land_is_drawn(records, tmp_path, map_tables):
    land = tmp_path / "land.geojson"
    land.write_text(map_tables["land"], encoding="utf-8")
    to = tmp_path / "out"
    assert run("--records", records, "--to", to, "--land", land, "--on", "2026-05-14") == 0
    assert "tree row" in (to / "map.html").read_text(encoding="utf-8")


def test_the_yards_bear_their_levels(records, tmp_path):
    run("--records", records, "--to", tmp_path / "out", "--on", "2026-05-14")
    page = (tmp_path / "out" / "map.html").read_text(encoding="utf-8")
    assert "what the colonies may do" in page


def test_a_land_file_that_is_not_there_is_named(records, tmp_path, capsys):
    assert run("--records", records, "--to", tmp_path / "out", "--land", "nowhere.geojson") == 2
    assert "nowhere.geojson" in capsys.readouterr().err


def test_records_without_sites_say_what_to_do(tmp_path, capsys):
    path = tmp_path / "empty.sqlite"
    open_records(path, create=True).close()
    assert run("--records", path, "--to", tmp_path / "out") == 2
    assert "Import a table of sites" in capsys.readouterr().err


def test_files_that_are_there_are_not_overwritten(tmp_path, map_tables):
    (tmp_path / "map.pdf").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match=r"map\.pdf would be overwritten"):
        write(tmp_path, map_tables)
    assert [p.name for p in tmp_path.iterdir()] == ["map.pdf"]


def test_force_replaces_them(tmp_path, map_tables):
    (tmp_path / "map.pdf").write_text("mine", encoding="utf-8")
    write(tmp_path, map_tables, force=True)
    assert (tmp_path / "map.pdf").read_bytes().startswith(b"%PDF")


def test_nothing_else_is_left_in_the_folder(tmp_path, map_tables):
    write(tmp_path / "new", map_tables)
    assert sorted(p.name for p in (tmp_path / "new").iterdir()) == sorted(MAP_FILES)


def test_a_table_that_breaks_its_contract_writes_nothing(tmp_path, map_tables):
    bad = map_tables | {"plan": map_tables["plan"].assign(latitude=151.5)}
    with pytest.raises(RecordsError):
        write(tmp_path / "new", bad)
    assert not (tmp_path / "new").exists()


def test_a_file_in_place_of_the_folder_is_named(tmp_path, map_tables):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="this is a file"):
        write(tmp_path / "out", map_tables)


def test_the_credits_reach_page_and_sheet(tmp_path, map_tables):
    write(tmp_path, map_tables, credits=["Thanks to the weather people"])
    assert "Thanks to the weather people" in (tmp_path / "map.html").read_text(encoding="utf-8")
