from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.evidence import load_evidence
from swarmwatch.mapping.catch_share import share_at, share_bands
from swarmwatch.mapping.local_grid import LocalGrid
from swarmwatch.mapping.yards import Origin

EVIDENCE = load_evidence()
BOUNDS = ((51.985, 4.98), (52.015, 5.02))
GRID = LocalGrid.round_points([51.985, 52.015], [4.98, 5.02])


def origin(latitude=52.0, longitude=5.0, swarms=1.0):
    return Origin(
        name="o", latitude=latitude, longitude=longitude, swarms=swarms, expected="", own=True
    )


def north_of(metres):
    latitude, longitude = GRID.degrees([0.0] * len(metres), metres)
    return latitude, longitude


def bands_of(origins, marks=()):
    return share_bands(origins, bounds=BOUNDS, grid=GRID, marks=marks, evidence=EVIDENCE)


def test_the_share_is_that_of_the_two_stage_model():
    # share = w k / (D + w k): with D = 3 per km2 a box of w = 3 takes 19 % at 200 to 300 m, 15 %
    # at 500 m, 6.5 % at 1 km, 1.5 % at 2 km (derived from the published kernel; judgement)
    metres = np.array([250.0, 500.0, 1000.0, 2000.0])
    share = share_at(*north_of(metres), [origin()], EVIDENCE)
    table = np.array([0.19, 0.15, 0.065, 0.015])
    # the odds of the box go with its quality: one factor joins all four rows, which are rounded
    factor = (share / (1 - share)) / (table / (1 - table))
    assert factor == pytest.approx(np.full(4, factor[0]), rel=0.08)
    assert 0.7 < factor[0] < 1.5


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(st.floats(51.98, 52.02), st.floats(4.97, 5.03), st.floats(0.1, 9)),
        min_size=1,
        max_size=5,
    )
)
def test_a_share_of_several_lies_between_those_of_each(rows):
    origins = [origin(*row) for row in rows]
    latitude, longitude = north_of([0.0, 300.0, 1500.0])
    each = np.array([share_at(latitude, longitude, [o], EVIDENCE) for o in origins])
    whole = share_at(latitude, longitude, origins, EVIDENCE)
    assert (whole >= each.min(axis=0) - 1e-12).all()
    assert (whole <= each.max(axis=0) + 1e-12).all()
    assert ((whole >= 0) & (whole < 1)).all()


def test_places_inside_a_band_have_its_share():
    origins = [origin(), origin(52.006, 5.008, 2.5)]
    (south, west), (north, east) = BOUNDS
    rng = np.random.default_rng(7)
    latitude, longitude = rng.uniform(south, north, 400), rng.uniform(west, east, 400)
    share = 100 * share_at(latitude, longitude, origins, EVIDENCE)
    # the dip close to a yard is finer than the mesh
    near = [np.hypot((latitude - o.latitude) * 1.6, longitude - o.longitude) for o in origins]
    far = np.minimum(*near) > 0.003
    inside = np.zeros(400, dtype=bool)
    for band in bands_of(origins):
        here = shapely.contains_xy(band.area, longitude, latitude) & far
        inside |= here
        assert (share[here] >= band.low * 0.95).all()
        assert (share[here] <= (band.high or 100) * 1.05).all()
    assert inside.sum() > 200
    assert (share[~inside & far] < bands_of(origins)[0].low * 1.05).all()


def test_bands_do_not_overlap_but_for_the_simplified_borders():
    areas = [band.area for band in bands_of([origin()])]
    for lower, upper in pairwise(areas):
        assert lower.intersection(upper).area < 0.05 * upper.area


def test_a_bands_name_stands_inside_it():
    for band in bands_of([origin()]):
        near = band.area.buffer(2e-4)
        assert all(near.contains(shapely.Point(lon, lat)) for lat, lon in band.labels)


def test_names_keep_away_from_marks():
    (south, west), (north, east) = BOUNDS
    mark = (52.0, 5.0)
    for band in bands_of([origin()], marks=[mark]):
        for latitude, longitude in band.labels:
            assert (latitude, longitude) != mark
            assert south <= latitude <= north
            assert west <= longitude <= east


def test_bands_are_few_and_rise():
    bands = bands_of([origin()])
    assert 2 <= len(bands) <= 5
    assert [b.high for b in bands[:-1]] == [b.low for b in bands[1:]]
    assert bands[-1].words.endswith("% or more")
    assert bands[0].words == f"{bands[0].low} to {bands[0].high} %"


@pytest.mark.parametrize("origins", [[], [origin(swarms=0.0)]])
def test_without_swarms_there_are_no_bands(origins):
    assert bands_of(origins) == []
