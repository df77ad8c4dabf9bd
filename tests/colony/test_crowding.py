import dataclasses
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.colony import Strength, crowding_by_day, project_adults

bounded = settings(max_examples=50, deadline=None)


def strength(n=1, *, adults=12_000.0, capped=8000.0, opened=6000.0, room=14_000.0):
    known = np.ones(n, dtype=bool)

    def full(number):
        return np.full(n, number, dtype=np.float64)

    return Strength(
        adults=full(adults),
        adults_sd=full(0.2),
        brood_capped=full(capped),
        brood_open=full(opened),
        eggs_per_day=full((capped + opened) / 18.5),
        capacity_bees=full(room),
        comb_capacity_bees=full(1400),
        super_capacity_bees=full(9000),
        brood_share=full(0.5),
        congestion=full(np.nan),
        drawn_known=known,
        supers_known=known,
    )


def test_day_0_is_the_crowding_seen():
    np.testing.assert_allclose(
        crowding_by_day(strength(), days=[0])[:, 0], strength().crowding, rtol=1e-12
    )


def test_crowding_follows_the_projection():
    seen = strength()
    want = project_adults(12_000, 8000, 6000, days=30, eggs_per_day=14_000 / 18.5) / 14_000
    np.testing.assert_allclose(crowding_by_day(seen, days=range(31))[0], want, rtol=1e-12)


def test_days_may_differ_by_colony():
    got = crowding_by_day(strength(2), days=[[0, 7], [14, 21]])
    np.testing.assert_allclose(
        got.ravel(), crowding_by_day(strength(), days=[0, 7, 14, 21])[0], rtol=1e-12
    )


def test_days_before_the_inspection_count_as_it():
    got = crowding_by_day(strength(), days=[-3, 0])[0]
    assert got[0] == got[1]


def test_no_days_give_no_columns():
    assert crowding_by_day(strength(3), days=[]).shape == (3, 0)


def test_adults_stay_as_seen_where_no_brood_was_noted():
    got = crowding_by_day(strength(capped=np.nan, opened=np.nan), days=[0, 10, 40])
    np.testing.assert_allclose(got, np.full((1, 3), 12 / 14), rtol=1e-12)


def test_unknown_adults_give_unknown_crowding():
    assert np.isnan(crowding_by_day(strength(adults=np.nan), days=[0, 5])).all()


def test_room_added_on_a_day_lowers_the_crowding_from_that_day():
    plain = crowding_by_day(strength(), days=[0, 1, 2])
    extra = crowding_by_day(strength(), days=[0, 1, 2], extra_capacity_bees=[[0, 14_000, 14_000]])
    np.testing.assert_allclose(extra, plain * [1, 0.5, 0.5], rtol=1e-12)


def test_room_taken_away_never_falls_below_one_comb():
    got = crowding_by_day(strength(), days=[0], extra_capacity_bees=[[-1e9]])
    np.testing.assert_allclose(got, [[12_000 / 1400]], rtol=1e-12)


def test_laying_that_stopped_tells_from_day_22():
    going, stopped = (
        crowding_by_day(strength(), days=[21, 22], eggs_per_day=e)[0] for e in (None, 0)
    )
    assert going[0] == stopped[0]
    assert going[1] > stopped[1]


@bounded
@given(st.floats(0, 60_000), st.floats(0, 30_000), st.integers(0, 60))
def test_more_bees_never_lower_the_crowding_on_any_day(adults, more, day):
    less, full = (
        crowding_by_day(strength(adults=a), days=[day])[0, 0] for a in (adults, adults + more)
    )
    assert full >= less


@bounded
@given(st.floats(0, 30_000), st.floats(0, 30_000), st.integers(0, 60))
def test_more_brood_never_lowers_the_crowding(capped, more, day):
    less, full = (
        crowding_by_day(strength(capped=c), days=[day])[0, 0] for c in (capped, capped + more)
    )
    assert full >= less


def test_short_lives_lower_the_crowding():
    short, long = (
        crowding_by_day(strength(), days=[14], adult_life_d=d)[0, 0] for d in (25.0, 45.0)
    )
    assert short < long


def test_the_strength_can_be_changed_for_a_what_if():
    halved = dataclasses.replace(strength(), adults=np.array([6000.0]))
    assert halved.crowding[0] == pytest.approx(6 / 14)


def test_a_hundred_thousand_colonies_and_15_days_take_well_under_a_second():
    many = strength(100_000)
    start = time.perf_counter()
    crowding_by_day(many, days=np.arange(15))
    # about 0.03 s where measured; the margin is for slow and busy machines
    assert time.perf_counter() - start < 1
