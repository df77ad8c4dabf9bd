import shutil
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.records import open_records
from swarmwatch.tables import TABLES, conform

sys.path.insert(0, str(Path(__file__).parent))
from receiving import receiving

ON = date(2026, 5, 14)
NOW = datetime(2026, 5, 14, 18, 0, tzinfo=UTC)


@pytest.fixture
def numbers():
    """The shipped numbers with lines that the tests state: 0.05, 0.2 and 0.45, margin 0.25."""
    lines = {
        "advice.line_look_soon": 0.05,
        "advice.line_act": 0.2,
        "advice.line_today": 0.45,
        "levels.fall_margin": 0.25,
        "levels.scouts_quorum": 10.0,
        "levels.scouts_fresh": 3.0,
    }
    return load_evidence().with_values(lines)


@pytest.fixture
def records(empty_records, tmp_path):
    with open_records(shutil.copy(empty_records, tmp_path / "bees.sqlite")) as store:
        yield store


@pytest.fixture
def scores():
    """Make a `scores` table of one evening: one row for each dict of cells."""

    def make(*rows, on=ON):
        usual = {
            "apiary": "Garden",
            "on": on,
            "p_7d": 0.62,
            "p_7d_low": 0.45,
            "p_7d_high": 0.78,
            "p_gone": 0.0,
            "level": "today",
            "because": "capped queen cells seen; crowded",
            "advice": "Split the colony.",
            "do_by": on,
        }
        return conform(pd.DataFrame([usual | row for row in rows]), TABLES["scores"])

    return make


@pytest.fixture
def receiver():
    """A service on loopback that keeps what it is sent; set `answer` to make it refuse."""
    with receiving() as server:
        yield server
