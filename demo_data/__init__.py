"""Which invented scenario comes with the product, and on which evening does it stand?

Everything here is made up: names, people, colonies, measurements, land and weather. `make.py`
wrote the files; the README says what they hold.
"""

from datetime import date
from importlib.resources import files
from pathlib import Path

ON = date(2026, 6, 5)
"""The evening on which the scenario stands; the forecast begins the day after."""

TABLE_FILES = (
    "apiaries.csv",
    "hives.csv",
    "colonies.csv",
    "inspections.csv",
    "events.csv",
    "outcomes.csv",
    "weather.csv",
    "sources.csv",
    "sites.csv",
    "boxes.csv",
    "hangings.csv",
    "checks.csv",
    "catches.csv",
    "keep_out.geojson",
)
"""The tables, in an order in which each finds what it names; `keep_out` is a GeoJSON file."""

LAND_FILE = "land.geojson"
"""The drawn ground; not a table, the map and the search for sites read it."""

__all__ = ["LAND_FILE", "ON", "TABLE_FILES", "folder"]


def folder() -> Path:
    """Return the folder that holds the scenario's files."""
    return Path(str(files(__name__)))
