import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.belief import (
    ABANDONED,
    CELLS,
    GONE,
    IDLE,
    STATES,
    Day,
    all_idle,
    seen,
    step,
    tilted,
)
from swarmwatch.swarming.departure import cell_rates
from swarmwatch.swarming.parameters import drawn

DRAWS, COLONIES = 4, 3
RATES = cell_rates(drawn(load_evidence(), draws=DRAWS, seed=9))


def _belief(rng):
    belief = rng.random((DRAWS, COLONIES, STATES)) ** 3
    return belief / belief.sum(axis=-1, keepdims=True)


def _day(rng):
    return Day(**{k: rng.random((DRAWS, COLONIES)) for k in ("start", "restart", "gate")})


@given(seed=st.integers(0, 2**16))
@settings(max_examples=50, deadline=None)
def test_a_day_keeps_all_mass(seed):
    rng = np.random.default_rng(seed)
    moved = step(_belief(rng), _day(rng), rates=RATES, clipped=rng.random(COLONIES) < 0.5)
    assert (moved >= 0).all()
    np.testing.assert_allclose(moved.sum(axis=-1), 1.0, rtol=0, atol=1e-12)


@given(seed=st.integers(0, 2**16))
@settings(max_examples=50, deadline=None)
def test_gone_never_shrinks_over_a_day(seed):
    rng = np.random.default_rng(seed)
    belief = _belief(rng)
    moved = step(belief, _day(rng), rates=RATES, clipped=np.zeros(COLONIES, dtype=bool))
    assert (moved[..., GONE].sum(axis=-1) >= belief[..., GONE].sum(axis=-1) - 1e-12).all()


@given(seed=st.integers(0, 2**16))
@settings(max_examples=50, deadline=None)
def test_a_look_gives_a_belief_without_abandoned_mass(seed):
    rng = np.random.default_rng(seed)
    after, chance = seen(_belief(rng), rng.random((DRAWS, COLONIES, STATES)))
    assert ((chance > 0) & (chance <= 1)).all()
    np.testing.assert_allclose(after.sum(axis=-1), 1.0, rtol=0, atol=1e-12)
    assert (after[..., ABANDONED] == 0).all()


def test_an_impossible_look_leaves_the_belief_as_it_was():
    belief = all_idle(1, 1)
    after, chance = seen(belief, np.zeros_like(belief))
    np.testing.assert_array_equal(after, belief)
    assert (chance == 1).all()


@given(seed=st.integers(0, 2**16), multiple=st.floats(0.01, 20))
@settings(max_examples=50, deadline=None)
def test_tilting_keeps_mass_and_follows_readiness(seed, multiple):
    belief = _belief(np.random.default_rng(seed))
    other = tilted(belief, np.full((DRAWS, COLONIES), multiple))
    np.testing.assert_allclose(other.sum(axis=-1), 1.0, rtol=0, atol=1e-9)
    readier = other[..., CELLS].sum(axis=-1) >= belief[..., CELLS].sum(axis=-1)
    assert readier.all() if multiple >= 1 else (~readier).all()


def test_tilting_by_one_changes_nothing():
    belief = _belief(np.random.default_rng(1))
    np.testing.assert_allclose(
        tilted(belief, np.ones((DRAWS, COLONIES))), belief, rtol=1e-9, atol=1e-12
    )


def test_a_start_on_a_day_is_a_fresh_cell_that_evening():
    day = Day(start=np.ones((DRAWS, 1)), restart=np.zeros((DRAWS, 1)), gate=np.ones((DRAWS, 1)))
    moved = step(all_idle(DRAWS, 1), day, rates=RATES, clipped=np.zeros(1, dtype=bool))
    assert (moved[..., CELLS.start] == 1).all()
    assert (moved[..., IDLE] == 0).all()
