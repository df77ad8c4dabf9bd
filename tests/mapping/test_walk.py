from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.mapping.spots import spots
from swarmwatch.mapping.walk import EXACT_MOST, walk_round, walk_steps, walk_total, walking_order
from swarmwatch.mapping.yards import yards


def distances(points):
    return np.linalg.norm(points[:, None, :] - points[None, :, :], axis=2)


def length(order, away_m, *, closed):
    stops = [0, *order, *([0] if closed else [])]
    return sum(away_m[a, b] for a, b in pairwise(stops))


places = st.lists(
    st.tuples(st.integers(-3000, 3000), st.integers(-3000, 3000)), min_size=1, max_size=7
).map(lambda p: np.array(p, dtype=float))


@settings(deadline=None, max_examples=60)
@given(places, st.booleans())
def test_no_order_of_few_stops_is_shorter(points, closed):
    away_m = distances(points)
    stops = range(1, len(points))
    best = min(length(o, away_m, closed=closed) for o in permutations(stops))
    order = walking_order(away_m, closed=closed)
    assert sorted(order) == list(stops)
    assert length(order, away_m, closed=closed) == pytest.approx(best, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("closed", [True, False])
def test_many_stops_round_a_circle_are_walked_round_it(closed):
    # the shortest round through points of a convex curve goes along the curve
    angles = np.random.default_rng(3).permutation(16) * 2 * np.pi / 16
    points = np.column_stack([np.cos(angles), np.sin(angles)]) * 1000
    away_m = distances(points)
    step = 2 * 1000 * np.sin(np.pi / 16)
    found = length(walking_order(away_m, closed=closed), away_m, closed=closed)
    assert found == pytest.approx((16 if closed else 15) * step, rel=1e-9)


def test_many_stops_are_each_walked_to_once():
    points = np.random.default_rng(5).uniform(0, 5000, (26, 2))
    assert sorted(walking_order(distances(points))) == list(range(1, 26))


def test_a_round_begins_with_the_better_spot_of_its_two_ends():
    points = np.array([[0, 0], [0, 100], [100, 100], [100, 0]], dtype=float)
    assert walking_order(distances(points)) == [1, 2, 3]


def test_without_a_stop_there_is_no_order():
    assert walking_order(np.zeros((1, 1))) == []


@pytest.fixture
def walk(map_tables):
    chosen = spots(map_tables["plan"], map_tables["sites"])
    return walk_round(chosen, yards(map_tables["apiaries"])), chosen


def test_the_walk_starts_at_the_yard_that_makes_it_shortest(walk, map_tables):
    found, chosen = walk
    lengths = {y.name: walk_round(chosen, [y]).total_m for y in yards(map_tables["apiaries"])}
    assert found.start == min(lengths, key=lengths.get)
    assert found.total_m == pytest.approx(min(lengths.values()), rel=1e-12)


def test_an_open_walk_is_shorter_than_the_round(walk, map_tables):
    found, chosen = walk
    open_ = walk_round(chosen, yards(map_tables["apiaries"]), closed=False)
    assert len(open_.legs_m) == len(found.legs_m) - 1
    assert open_.total_m < found.total_m


def test_a_leg_is_as_long_as_on_the_ground(walk):
    # WGS 84: 1/1000 degree of latitude is 111.27 m at 52 degrees north
    found, chosen = walk
    first = chosen[found.order[0]]
    north = (first.latitude - found.latitude) * 111_270
    east = (first.longitude - found.longitude) * 68_680
    assert found.legs_m[0] == pytest.approx(np.hypot(north, east), rel=2e-3)


def test_each_leg_is_said_with_its_length(walk):
    found, chosen = walk
    steps = walk_steps(found, chosen)
    assert len(steps) == 6
    assert steps[0].startswith(f"to spot {chosen[found.order[0]].rank}, ")
    assert steps[-1].startswith("back to Mill yard: ")


def test_it_is_said_that_lengths_are_straight_lines(walk):
    assert "straight lines" in walk_total(walk[0])
    assert "the shortest order" in walk_total(walk[0])


def test_a_walk_of_many_stops_does_not_claim_to_be_the_shortest(map_tables):
    chosen = spots(map_tables["plan"], map_tables["sites"]) * 2
    found = walk_round(chosen, yards(map_tables["apiaries"]))
    assert len(chosen) > EXACT_MOST
    assert "perhaps not the shortest" in walk_total(found)


@pytest.mark.parametrize("missing", ["spots", "yards"])
def test_without_spots_or_yards_there_is_no_walk(map_tables, missing):
    chosen = [] if missing == "spots" else spots(map_tables["plan"])
    own = [] if missing == "yards" else yards(map_tables["apiaries"])
    assert walk_round(chosen, own) is None
