import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.mapping.label_places import Box, on_or_round, place_labels

FRAME = Box(100, 60, 200, 120)


def badges(points):
    return [on_or_round(x, y, width=6, height=6, reach=2, on_it=True) for x, y in points]


def test_a_lone_label_stays_on_its_point():
    (placed,) = place_labels(badges([(50, 50)]), taken=[], frame=FRAME)
    assert (placed.x, placed.y) == (50, 50)


def test_two_labels_of_one_point_do_not_overlap():
    first, second = place_labels(badges([(50, 50), (50, 50)]), taken=[], frame=FRAME)
    assert not first.overlaps(second)


def test_a_label_keeps_off_taken_ground():
    taken = Box(50, 50, 4, 4)
    (placed,) = place_labels(badges([(50, 50)]), taken=[taken], frame=FRAME)
    assert not placed.overlaps(taken)


def test_a_label_at_the_edge_stays_inside():
    (placed,) = place_labels(badges([(0, 0)]), taken=[], frame=FRAME)
    assert placed.outside(FRAME) == 0


@given(st.integers(min_value=0, max_value=2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_ten_labels_in_a_crowd_do_not_overlap(seed):
    points = np.random.default_rng(seed).normal((100, 60), 12, size=(10, 2))
    placed = place_labels(badges(points.tolist()), taken=[], frame=FRAME)
    assert sum(a.shared(b) for a, b in itertools.combinations(placed, 2)) < 1


def test_shared_ground_of_boxes_that_touch_at_a_corner_is_none():
    assert Box(0, 0, 2, 2).shared(Box(2, 2, 2, 2)) == 0
