import json

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from swarmwatch.errors import RecordsError
from swarmwatch.evidence import load_evidence
from swarmwatch.mapping.keep_out import barred_ground
from swarmwatch.mapping.local_grid import LocalGrid

GRID = LocalGrid(52.0, 5.0)
LINE = json.dumps({"type": "LineString", "coordinates": [[5.0, 52.0], [5.01, 52.0]]})


def barred(**columns):
    return barred_ground(pd.DataFrame({"geometry": [LINE], **columns}), grid=GRID)


def width_m(area):
    _, south, _, north = GRID.geometry_in_metres(area).bounds
    return north - south


def test_the_distance_is_kept_on_both_sides():
    (line,) = barred(kind=["path"], buffer_m=[40])
    assert width_m(line.area) == pytest.approx(80, abs=0.5)


def test_a_blank_distance_takes_the_evidences():
    (line,) = barred(kind=["power-line"])
    usual_m = load_evidence().value("placement.buffer_power_line_m")
    assert width_m(line.area) == pytest.approx(2 * usual_m, abs=0.5)


def test_the_reason_names_kind_and_distance():
    (line,) = barred(kind=["power-line"], buffer_m=[15])
    assert line.reason == "power line, 15 m kept"


def test_a_zero_distance_leaves_the_shape_as_it_is():
    (line,) = barred(kind=["water"], buffer_m=[0])
    assert line.area.geom_type == "LineString"


def test_every_shape_that_cannot_be_read_is_named():
    frame = pd.DataFrame({"kind": "path", "geometry": ["{", LINE, '{"type": "Cube"}']})
    with pytest.raises(RecordsError) as caught:
        barred_ground(frame, grid=GRID)
    assert [p.row for p in caught.value.problems] == [2, 4]


def test_a_projected_geo_frame_is_turned_to_degrees():
    frame = gpd.GeoDataFrame(
        {"kind": ["path"], "buffer_m": [10]}, geometry=[LineString([(5, 52), (5.01, 52)])], crs=4326
    ).to_crs(28992)
    (line,) = barred_ground(frame, grid=GRID)
    assert line.area.contains(Point(5.005, 52.0))
