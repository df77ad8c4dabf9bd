import shutil
from datetime import UTC, datetime

import pandas as pd
import pytest

from swarmwatch.records import open_records

AT = datetime(2026, 5, 20, 18, 0, tzinfo=UTC)


@pytest.fixture
def at():
    """The moment at which the tests store."""
    return AT


@pytest.fixture
def opened(empty_records, tmp_path):
    """Empty records in a real file."""
    with open_records(shutil.copy(empty_records, tmp_path / "swarmwatch.sqlite")) as records:
        yield records


def invented_tables():
    """Return a yard, a colony, two inspections and a day of weather, as text, children first."""
    return {
        "inspections": pd.DataFrame(
            {
                "colony": ["Birch", "Birch"],
                "date": ["2026-05-01", "2026-05-09"],
                "combs_bees": ["7.5", ""],
                "queen_cells_egg": ["", "0"],
            },
            dtype="str",
        ),
        "weather": pd.DataFrame(
            {
                "apiary": ["Home", ""],
                "date": ["2026-05-01", "2026-05-01"],
                "temp_max_c": ["20.5", "19"],
                "temp_min_c": ["-3", "4"],
                "fetched_at": ["2026-05-02T06:00:00+02:00", ""],
            },
            dtype="str",
        ),
        "colonies": pd.DataFrame(
            {"colony": ["Birch"], "apiary": ["Home"], "hive_type": ["top-bar"]}
        ),
        "apiaries": pd.DataFrame({"apiary": ["Home"], "latitude": [57.9], "longitude": [25.6]}),
    }


@pytest.fixture
def tables():
    """The invented tables, for one test to change."""
    return invented_tables()
