import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.departure import (
    AGES,
    OLDEST_AGE,
    cell_rates,
    stage_shares,
    value_of,
)
from swarmwatch.swarming.parameters import central, drawn

EVIDENCE = load_evidence()
MIDDLE = central(EVIDENCE)
MANY = drawn(EVIDENCE, draws=16, seed=5)


@pytest.mark.parametrize("parameters", [MIDDLE, MANY], ids=["central", "drawn"])
def test_the_stages_of_an_age_sum_to_one(parameters):
    shares = stage_shares(parameters)
    assert (shares >= -1e-12).all()
    np.testing.assert_allclose(shares.sum(axis=1), 1.0, rtol=0, atol=1e-12)


def test_no_swarm_leaves_before_the_first_age():
    rates = cell_rates(MIDDLE)
    assert (rates.depart[:, EVIDENCE.value("departure.first_age") > AGES] == 0).all()


def test_sealed_cells_drive_the_swarm_out_faster_than_larvae():
    depart = cell_rates(MIDDLE).depart[0]
    assert depart[10] > 2 * depart[6] > 0


def test_cells_are_given_up_more_rarely_once_sealed():
    abandon = cell_rates(MIDDLE).abandon[0]
    assert abandon[1] > abandon[6] > abandon[10] > 0


def test_a_clipped_queen_delays_the_departure_by_the_wait_for_a_virgin():
    rates = cell_rates(MIDDLE)
    delay = round(EVIDENCE.value("departure.clipped_delay"))
    goes = EVIDENCE.value("departure.clipped_goes")
    np.testing.assert_allclose(
        rates.depart_clipped[0, delay:13],
        goes * rates.depart[0, : 13 - delay],
        rtol=1e-9,
        atol=1e-12,
    )
    assert rates.depart_clipped[0, 12] < rates.depart[0, 12] / 5


def _slow_value(rates, gate, restart, horizon, age):
    """Walk every path of one colony, one draw: the plain reference."""
    depart, abandon = rates.depart[0], rates.abandon[0]

    def cells(t, a):
        if t == horizon:
            return 0.0
        leave = depart[a] * gate[t + 1]
        older = cells(t + 1, min(a + 1, OLDEST_AGE))
        given_up = idle_again(t + 1)
        return leave + (1 - leave) * ((1 - abandon[a]) * older + abandon[a] * given_up)

    def idle_again(t):
        if t == horizon:
            return 0.0
        return restart[t + 1] * cells(t + 1, 0) + (1 - restart[t + 1]) * idle_again(t + 1)

    return cells(0, age)


@given(
    seed=st.integers(0, 2**16),
    horizon=st.integers(1, 7),
    age=st.integers(0, OLDEST_AGE),
)
@settings(max_examples=30, deadline=None)
def test_the_backward_pass_agrees_with_walking_every_path(seed, horizon, age):
    rng = np.random.default_rng(seed)
    gate, restart = rng.random((horizon + 1, 1, 1)), rng.random((horizon + 1, 1, 1)) / 10
    rates = cell_rates(MIDDLE)
    value = value_of(rates=rates, clipped=False, gate=gate, restart=restart, horizons=(horizon,))
    slow = _slow_value(rates, gate[:, 0, 0], restart[:, 0, 0], horizon, age)
    np.testing.assert_allclose(value.cells[0, 0, 0, 0, age], slow, rtol=1e-10, atol=1e-12)


def test_better_weather_never_lowers_the_chance():
    gate = np.full((15, 1, 1), 0.3)
    restart = np.full((15, 1, 1), 0.01)
    rates = cell_rates(MIDDLE)
    low, high = (
        value_of(rates=rates, clipped=False, gate=g, restart=restart, horizons=(14,)).cells[0]
        for g in (gate, gate * 2)
    )
    assert (high >= low - 1e-12).all()


def test_a_longer_horizon_never_lowers_the_chance():
    gate, restart = np.full((15, 1, 1), 0.5), np.full((15, 1, 1), 0.01)
    rates = cell_rates(MIDDLE)
    values = value_of(
        rates=rates, clipped=False, gate=gate, restart=restart, horizons=tuple(range(15))
    ).cells[0, :, 0, 0]
    assert (np.diff(values, axis=0) >= -1e-12).all()
