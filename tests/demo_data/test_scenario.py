"""Is the invented scenario whole, consistent, plausible, and what its script makes?"""

import json
from datetime import date, timedelta
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from pyproj import Geod
from shapely.geometry import Point, shape

from demo_data import LAND_FILE, ON, TABLE_FILES, folder
from demo_data.make import contents, write
from swarmwatch.tables import TABLES, conform

CSV_TABLES = [name.removesuffix(".csv") for name in TABLE_FILES if name.endswith(".csv")]
LAND_KINDS = {"wood", "water", "building", "road", "path", "hedge", "tree-row", "field"}


def read(table: str) -> pd.DataFrame:
    text = pd.read_csv(folder() / f"{table}.csv", dtype=str, keep_default_na=False, na_values=[""])
    return conform(text, TABLES[table])


def features(name: str) -> list[dict]:
    return json.loads((folder() / name).read_text(encoding="utf-8"))["features"]


def last_notes() -> pd.DataFrame:
    notes = read("inspections").sort_values("date").drop_duplicates("colony", keep="last")
    return notes.set_index("colony")


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    return contents()


@pytest.mark.parametrize("name", [*TABLE_FILES, LAND_FILE])
def test_the_shipped_file_is_what_the_script_makes_byte_for_byte(made, name):
    assert (folder() / name).read_bytes() == made[name].encode("utf-8")


def test_the_script_writes_plain_newlines_on_every_machine(tmp_path):
    assert not any(b"\r" in path.read_bytes() for path in write(tmp_path))


def test_every_data_file_of_the_folder_is_made_by_the_script():
    shipped = {path.name for path in folder().iterdir() if path.suffix in {".csv", ".geojson"}}
    assert shipped == set(contents()) == {*TABLE_FILES, LAND_FILE}


@pytest.mark.parametrize("table", CSV_TABLES)
def test_a_table_has_only_columns_of_the_contract(table):
    header = (folder() / f"{table}.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    assert set(header) <= set(TABLES[table].names)


@pytest.mark.parametrize("table", CSV_TABLES)
def test_a_table_names_each_row_once(table):
    keys = [name for name in TABLES[table].key if name != "visit"]
    assert not read(table).duplicated(keys).any()


@pytest.mark.parametrize("table", CSV_TABLES)
def test_what_a_row_names_exists(table):
    rows = read(table)
    for column in TABLES[table].columns:
        if column.refers_to and column.refers_to != "hives":
            named = set(rows[column.name].dropna())
            known = set(read(column.refers_to)[TABLES[column.refers_to].key[0]])
            assert named <= known


@pytest.mark.parametrize("table", [name for name in CSV_TABLES if name != "weather"])
def test_no_day_lies_after_the_evening_of_the_scenario(table):
    rows = read(table)
    for column in TABLES[table].columns:
        if column.kind == "date":
            assert not (rows[column.name] > pd.Timestamp(ON)).any()


def test_there_are_three_yards_within_six_kilometres():
    yards = read("apiaries")
    places = list(zip(yards["longitude"], yards["latitude"], strict=True))
    apart_m = [Geod(ellps="WGS84").inv(*a, *b)[2] for a, b in combinations(places, 2)]
    assert len(places) == 3
    assert max(apart_m) < 6_000


def test_at_least_fourteen_colonies_live_in_at_least_four_hive_types():
    colonies = read("colonies")
    assert len(colonies) >= 14
    assert colonies["hive_type"].nunique() >= 4


def test_several_colonies_live_in_top_bar_hives_and_some_in_a_hive_of_own_measures():
    types = read("colonies")["hive_type"]
    assert (types == "top-bar").sum() >= 3
    assert types.isin(read("hives")["hive_type"]).any()


def test_counted_combs_fit_into_each_other():
    notes = read("inspections")
    brood = notes["combs_brood"]
    assert (brood <= notes["combs"]).all()
    assert (notes["combs_brood_capped"].fillna(0) <= brood).all()
    assert (notes["combs_drone"].fillna(0) <= brood).all()
    assert (notes["combs_looked"].fillna(0) <= notes["combs"]).all()
    kept = brood + notes["combs_honey"].fillna(0) + notes["combs_empty"].fillna(0)
    assert (kept <= notes["combs"]).all()


def test_bees_fit_into_the_hive():
    notes = read("inspections")
    # the lowest number of combs that a super of these hives holds: common practice, no source
    room = notes["combs"] + notes["combs_foundation"] + 8 * notes["supers"].fillna(0)
    assert (notes["combs_bees"] <= 2 * room).all()


def test_combs_in_use_fit_into_the_brood_boxes():
    notes = read("inspections").merge(read("colonies"), on="colony")
    assert (notes["combs"] + notes["combs_foundation"] <= notes["combs_max"]).all()


def test_notes_are_partial():
    blank = read("inspections")[["combs_honey", "queen_seen", "queen_cups", "drones"]].isna()
    assert blank.any().all()


def test_colonies_are_opened_every_seven_to_fourteen_days():
    notes = read("inspections").sort_values(["colony", "date"])
    gaps_d = notes.groupby("colony")["date"].diff().dropna().dt.days
    assert gaps_d.min() >= 5
    assert gaps_d.median() >= 7
    assert gaps_d.max() <= 14


@pytest.mark.parametrize(
    ("colony", "column"),
    [
        ("Candle", "queen_cells_egg"),
        ("Garnet", "queen_cells_larva"),
        ("Anvil", "queen_cells_capped"),
        ("Flint", "queen_cells_capped"),
    ],
)
def test_a_colony_holds_the_cells_of_its_story(colony, column):
    assert last_notes().loc[colony, column] > 0


def test_the_colony_that_left_unseen_has_no_eggs_and_lost_bees():
    notes = read("inspections").query("colony == 'Anvil'").sort_values("date")
    assert notes["eggs_seen"].iloc[-1] == "no"
    assert notes["combs_bees"].iloc[-1] < 0.6 * notes["combs_bees"].iloc[-2]


def test_the_colony_seen_to_swarm_is_within_eighteen_days_of_it():
    events = read("events").query("event == 'swarmed'")
    assert list(events["colony"]) == ["Flint"]
    assert ON - events["date"].iloc[0].date() <= timedelta(days=18)


def test_one_colony_has_sick_looking_brood_and_one_a_clipped_queen():
    assert list(last_notes().query("brood_health == 'suspect'").index) == ["Kettle"]
    assert list(read("colonies").query("queen_clipped == 'yes'")["colony"]) == ["Ember"]


def test_only_the_dead_and_the_unopened_colony_have_no_notes():
    assert set(read("colonies")["colony"]) - set(last_notes().index) == {"Lantern", "Marrow"}


def test_last_years_swarms_agree_with_the_colonies_own_word():
    told = read("outcomes").merge(read("colonies"), on="colony")
    swarmed = told["outcome"] == "swarmed"
    assert (swarmed == (told["swarmed_last_year"] == "yes")).all()


def test_weather_has_every_day_once_and_ten_days_of_forecast():
    weather = read("weather")
    days = pd.date_range(date(2024, 1, 1), ON + timedelta(days=10))
    assert list(weather["date"]) == list(days)
    assert list(weather.query("kind == 'forecast'")["date"]) == list(days[-10:])


def test_weather_is_plausible_for_its_latitude():
    # normals of 1991-2020 of inland stations between 57 and 58 north, from memory:
    # January -5 to -2, July 17 to 19 degrees; 550 to 750 mm a year
    weather = read("weather").query("kind == 'observed' and date < '2026-01-01'")
    mean = (weather["temp_max_c"] + weather["temp_min_c"]) / 2
    by_month = mean.groupby(weather["date"].dt.month).mean()
    assert -8 < by_month[1] < -1
    assert 15 < by_month[7] < 21
    assert 900 < weather["rain_mm"].sum() < 1_600
    assert (weather["temp_max_c"] > weather["temp_min_c"]).all()


def test_sites_differ_in_permission_height_and_kind():
    sites = read("sites")
    assert len(sites) == 30
    assert set(sites["permission"]) == {"yes", "asked", "no"}
    assert sites["height_m"].between(1.5, 5.0).all()
    assert sites["kind"].nunique() >= 4


def test_no_site_stands_in_water():
    water = [
        shape(f["geometry"]) for f in features(LAND_FILE) if f["properties"]["kind"] == "water"
    ]
    sites = read("sites")
    places = [Point(*p) for p in zip(sites["longitude"], sites["latitude"], strict=True)]
    assert not any(area.contains(place) for area in water for place in places)


def test_two_boxes_hang_and_one_swarm_was_caught_in_each_season():
    hangings = read("hangings")
    assert hangings["taken_on"].isna().sum() == 2
    assert sorted(read("catches")["caught_on"].dt.year) == [ON.year - 1, ON.year]


def test_the_land_has_all_kinds_and_a_size_that_a_map_can_carry():
    kinds = [f["properties"]["kind"] for f in features(LAND_FILE)]
    assert set(kinds) == LAND_KINDS
    assert 60 <= len(kinds) <= 150


@pytest.mark.parametrize("name", [LAND_FILE, "keep_out.geojson"])
def test_every_outline_is_valid(name):
    assert all(shape(f["geometry"]).is_valid for f in features(name))


def test_the_ground_to_keep_out_of_is_of_the_words_of_the_contract():
    words = set(TABLES["keep_out"].column("kind").words)
    kinds = {f["properties"]["kind"] for f in features("keep_out.geojson")}
    assert kinds <= words
    assert {"power-line", "play-area", "path", "no-permission"} <= kinds


def test_the_readme_says_that_everything_is_invented():
    text = (folder() / "README.md").read_text(encoding="utf-8")
    assert "Everything in this folder is made up" in text


def test_another_seed_gives_other_weather():
    from demo_data.skies import weather

    one, other = (
        [row["temp_max_c"] for row in weather(np.random.default_rng(seed), on=ON)]
        for seed in (1, 2)
    )
    assert one != other
