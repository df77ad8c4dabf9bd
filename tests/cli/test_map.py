import json
from datetime import UTC, date, datetime
from types import SimpleNamespace

import pandas as pd
import pytest

from swarmwatch.cli.main import main
from swarmwatch.cli.map_files import MAP_FILES, PLAN_FILES, Planned, write_plan_files
from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.records import open_records

SITES = ("sites", "apiaries", "keep_out")
NO_WEATHER = pd.DataFrame(columns=["apiary", "date", "temp_max_c", "temp_min_c", "kind"])


def run(*words):
    """Run ``swarmwatch map``; return its exit code."""
    try:
        main(["map", *map(str, words)])
    except SystemExit as done:
        return done.code or 0
    return 0


@pytest.fixture(scope="module")
def records(tmp_path_factory, map_tables):
    """Records of the invented village: yards, colonies, sites, no-go ground, two bait boxes."""
    path = tmp_path_factory.mktemp("records") / "bees.sqlite"
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


def write(folder, map_tables, *, credits=(), **how):  # noqa: A002 - the field's word
    planned = Planned(
        plan=map_tables["plan"],
        sources=map_tables["sources"],
        frames={name: map_tables[name] for name in SITES} | {"weather": NO_WEATHER},
        evidence=load_evidence(),
        on=date(2026, 5, 14),
        credits=credits,
    )
    return write_plan_files(folder, planned, **how)


@pytest.fixture(scope="module")
def drawn(records, tmp_path_factory):
    """What the verb makes of the village without a further word."""
    from contextlib import redirect_stdout
    from io import StringIO

    to, said = tmp_path_factory.mktemp("plain") / "out", StringIO()
    with redirect_stdout(said):
        code = run("--records", records, "--to", to, "--on", "2026-05-14")
    return SimpleNamespace(code=code, to=to, said=said.getvalue())


@pytest.fixture(scope="module")
def asked_for(records, tmp_path_factory, map_tables):
    """What the verb makes of the village where land and five boxes were asked for."""
    folder = tmp_path_factory.mktemp("asked")
    land, to = folder / "land.geojson", folder / "out"
    land.write_text(map_tables["land"], encoding="utf-8")
    words = ("--records", records, "--to", to, "--on", "2026-05-14")
    return SimpleNamespace(code=run(*words, "--land", land, "--boxes", 5), to=to)


def spots_in(folder):
    document = json.loads((folder / "spots.geojson").read_text(encoding="utf-8"))
    return [feature["properties"]["site"] for feature in document["features"]]


def test_the_verb_writes_the_map_files_and_says_where(drawn):
    assert drawn.code == 0
    assert drawn.said.splitlines() == [str(drawn.to / name) for name in MAP_FILES]
    assert all((drawn.to / name).stat().st_size > 0 for name in MAP_FILES)


def test_nothing_else_is_left_in_the_folder(drawn):
    assert sorted(p.name for p in drawn.to.iterdir()) == sorted(MAP_FILES)


def test_as_many_spots_as_there_are_bait_boxes(drawn):
    assert len(spots_in(drawn.to)) == 2


def test_boxes_says_how_many_spots(asked_for):
    assert len(spots_in(asked_for.to)) == 5


def test_no_spot_lies_in_ground_that_is_barred(asked_for):
    assert "School edge" not in spots_in(asked_for.to)


def test_the_land_is_drawn(asked_for):
    assert asked_for.code == 0
    assert "tree row" in (asked_for.to / "map.html").read_text(encoding="utf-8")


def test_land_of_another_place_is_refused(records, tmp_path, capsys):
    answer = {"elements": [{"type": "node", "lat": 1.0, "lon": 1.0, "tags": {"natural": "tree"}}]}
    (tmp_path / "land.json").write_text(json.dumps(answer), encoding="utf-8")
    code = run("--records", records, "--to", tmp_path / "out", "--land", tmp_path / "land.json")
    assert code == 2
    assert "it is of another place" in capsys.readouterr().err


def test_the_yards_bear_their_levels(drawn):
    page = (drawn.to / "map.html").read_text(encoding="utf-8")
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


def test_force_replaces_them_and_the_credits_reach_the_page(tmp_path, map_tables):
    (tmp_path / "map.pdf").write_text("mine", encoding="utf-8")
    write(tmp_path, map_tables, force=True, credits=["Thanks to the weather people"])
    assert (tmp_path / "map.pdf").read_bytes().startswith(b"%PDF")
    assert "Thanks to the weather people" in (tmp_path / "map.html").read_text(encoding="utf-8")


def test_a_table_that_breaks_its_contract_writes_nothing(tmp_path, map_tables):
    bad = map_tables | {"plan": map_tables["plan"].assign(latitude=151.5)}
    with pytest.raises(RecordsError):
        write(tmp_path / "new", bad)
    assert not (tmp_path / "new").exists()


def test_a_file_in_place_of_the_folder_is_named(tmp_path, map_tables):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="this is a file"):
        write(tmp_path / "out", map_tables)


def test_a_plan_leaves_its_paper_too_and_twice_the_same(tmp_path, map_tables):
    first, second = (write(tmp_path / name, map_tables) for name in ("a", "b"))
    assert [p.name for p in first] == list(PLAN_FILES)
    assert [p.read_bytes() for p in first] == [p.read_bytes() for p in second]


def test_a_size_of_paper_that_is_none_is_named(tmp_path, map_tables):
    with pytest.raises(UsageError, match="Use one of a4, letter"):
        write(tmp_path / "out", map_tables, paper="a5")
    assert not (tmp_path / "out").exists()
