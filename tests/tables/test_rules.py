"""Cells that can't both be true are faults; what no keeper is likely to mean is a doubt."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from swarmwatch.tables import TABLES, conform
from swarmwatch.tables.rules import Surroundings, doubts, faults

TODAY = date(2026, 5, 20)
INSPECTION = {"colony": "Birch", "date": "2026-05-01"}


@pytest.fixture
def around():
    """Two colonies, in frames and on bars, and one yard."""
    return Surroundings(
        today=TODAY,
        colonies=conform(
            pd.DataFrame(
                {
                    "colony": ["Birch", "Elm"],
                    "apiary": ["Home", "Home"],
                    "hive_type": ["framed", "barred"],
                }
            ),
            TABLES["colonies"],
        ),
        hives=pd.DataFrame(
            {"combs_a_box": [10.0, 20.0, 9.0], "default_super": ["shallow", None, None]},
            index=["framed", "barred", "shallow"],
        ),
        yards=np.array([[57.9, 25.6]]),
    )


def said(rule, around, table, **cells):
    frame = conform(pd.DataFrame({k: [v] for k, v in cells.items()}), TABLES[table])
    return [f"{p.column}: {p.what}" for p in rule(frame, TABLES[table], around)]


@pytest.mark.parametrize(
    ("table", "cells", "want"),
    [
        (
            "inspections",
            {"colony": "Birch", "date": "2026-05-21"},
            "date: '2026-05-21' is in the future",
        ),
        (
            "colonies",
            {"colony": "Oak", "apiary": "Home", "hive_type": "framed", "queen_year": 2027},
            "queen_year: '2027' is in the future",
        ),
        (
            "events",
            {"colony": "Birch", "date": "2026-05-01", "event": "fed", "date_from": "2026-05-02"},
            "date_from: '2026-05-02' is later than date, '2026-05-01'",
        ),
        (
            "weather",
            {"date": "2026-05-01", "temp_max_c": 3, "temp_min_c": 7.5},
            "temp_min_c: '7.5' is more than temp_max_c, '3'",
        ),
        (
            "weather",
            {"date": "2026-05-21", "temp_max_c": 9, "temp_min_c": 7, "kind": "observed"},
            "date: '2026-05-21' is in the future",
        ),
        (
            "inspections",
            INSPECTION | {"combs": 4, "combs_brood": 5},
            "combs_brood: '5' is more than combs, '4'",
        ),
        (
            "inspections",
            INSPECTION | {"combs": 8, "combs_foundation": 2, "supers": 1, "combs_bees": 39},
            "combs_bees: '39' is more than twice the 19 combs written down",
        ),
        ("keep_out", {"kind": "path", "geometry": "here"}, "geometry: this is not GeoJSON"),
        (
            "keep_out",
            {"kind": "path", "geometry": '{"type":"Point","coordinates":[25.6,157.9]}'},
            "geometry: '25.6, 157.9' is no place in degrees east and north",
        ),
    ],
)
def test_what_cannot_be_is_a_fault(around, table, cells, want):
    assert said(faults, around, table, **cells) == [want]


@pytest.mark.parametrize(
    ("table", "cells"),
    [
        ("inspections", {"colony": "Birch", "date": "2026-05-20"}),
        ("inspections", INSPECTION | {"combs": 5, "combs_brood": 5}),
        ("inspections", INSPECTION | {"combs_brood": 5}),
        (
            "inspections",
            INSPECTION | {"combs": 8, "combs_foundation": 2, "supers": 1, "combs_bees": 38},
        ),
        ("inspections", INSPECTION | {"oldest_queen_cell": "capped", "queen_cells_capped": 0}),
        ("weather", {"date": "2026-05-21", "temp_max_c": 9, "temp_min_c": 7, "kind": "forecast"}),
        ("weather", {"date": "2026-05-21", "temp_max_c": 9, "temp_min_c": 9}),
        (
            "keep_out",
            {"kind": "path", "geometry": '{"type":"LineString","coordinates":[[25,57],[26,57]]}'},
        ),
    ],
)
def test_what_can_be_is_no_fault(around, table, cells):
    assert said(faults, around, table, **cells) == []


@pytest.mark.parametrize(
    ("table", "cells", "want"),
    [
        ("weather", {"date": "2026-05-01", "temp_max_c": 60, "temp_min_c": 7}, "temp_max_c: '60'"),
        ("inspections", INSPECTION | {"combs": 300}, "combs: '300'"),
        ("boxes", {"box": "B1", "volume_l": 2000}, "volume_l: '2000'"),
        (
            "colonies",
            {"colony": "Oak", "apiary": "Home", "hive_type": "framed", "queen_year": 1066},
            "queen_year: '1066'",
        ),
        ("inspections", INSPECTION | {"combs": 5, "combs_bees": 11}, "combs_bees: '11' is more"),
        ("apiaries", {"apiary": "New", "latitude": 0, "longitude": 0}, "latitude: 0, 0 is a place"),
        (
            "sites",
            {"site": "S1", "latitude": 25.61, "longitude": 57.91},
            "latitude: latitude and longitude look swapped",
        ),
    ],
)
def test_what_is_unlikely_is_a_doubt(around, table, cells, want):
    (line,) = said(doubts, around, table, **cells)
    assert line.startswith(want)


@pytest.mark.parametrize(
    ("table", "cells"),
    [
        ("sites", {"site": "S1", "latitude": 57.91, "longitude": 25.61}),
        ("sites", {"site": "S1", "latitude": 57.9, "longitude": 25.6}),
        ("apiaries", {"apiary": "Home", "latitude": 57.9, "longitude": 25.6}),
        ("apiaries", {"apiary": "Far", "latitude": -33.9, "longitude": 151.2}),
        ("hives", {"hive_type": "mine", "comb_bottom_mm": 0}),
        ("weather", {"date": "2026-05-01", "temp_max_c": 41.5, "temp_min_c": 20}),
    ],
)
def test_what_is_likely_enough_is_no_doubt(around, table, cells):
    assert said(doubts, around, table, **cells) == []


def test_a_super_without_a_type_counts_as_the_usual_one_of_its_hive(around):
    cells = {"colony": "Birch", "date": "2026-05-01", "combs": 1, "combs_foundation": 0}
    assert said(faults, around, "inspections", **cells, supers=2, combs_bees=38) == []
    assert said(faults, around, "inspections", **cells, supers=2, combs_bees=39) != []


def test_a_lone_yard_on_the_diagonal_is_not_taken_for_swapped():
    around = Surroundings(
        today=TODAY,
        colonies=conform(
            pd.DataFrame({"colony": [], "apiary": [], "hive_type": []}, dtype="str"),
            TABLES["colonies"],
        ),
        hives=pd.DataFrame({"combs_a_box": [], "default_super": []}),
        yards=np.array([[45.0, 45.4]]),
    )
    assert said(doubts, around, "apiaries", apiary="Home", latitude=45.0, longitude=45.4) == []
