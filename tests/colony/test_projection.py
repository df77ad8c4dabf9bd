import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.colony import project_adults
from swarmwatch.errors import UsageError

bees = st.floats(0, 80_000)
some_days = st.integers(0, 60)
bounded = settings(max_examples=50, deadline=None)


def plain(start, *, days, eggs, life, survival):
    """Follow the rule day by day, the slow way."""
    adults, capped, opened = start
    counts = [adults]
    for day in range(1, days + 1):
        if day <= 12:
            emerging = capped * survival[0] / 12
        elif day <= 21:
            emerging = opened * survival[1] / 9
        else:
            emerging = eggs * survival[2]
        counts.append(counts[-1] * (1 - 1 / life) + emerging)
    return counts


@bounded
@given(
    start=st.tuples(bees, bees, bees),
    days=some_days,
    eggs=st.floats(0, 2000),
    life=st.floats(1, 200),
    survival=st.tuples(*[st.floats(0, 1)] * 3),
)
def test_projection_agrees_with_the_rule_followed_by_hand(*, start, days, eggs, life, survival):
    got = project_adults(
        *start,
        days=days,
        eggs_per_day=eggs,
        adult_life_d=life,
        survival_capped=survival[0],
        survival_open=survival[1],
        survival_egg=survival[2],
    )
    want = plain(start, days=days, eggs=eggs, life=life, survival=survival)
    np.testing.assert_allclose(got, want, rtol=1e-10, atol=1e-8)


def test_day_0_is_what_was_seen():
    assert project_adults(9000, 4000, 3000, days=5)[0] == 9000


def test_no_days_ahead_gives_today_only():
    assert project_adults(9000, 4000, 3000, days=0).shape == (1,)


def test_blank_parameters_are_the_evidence_values():
    np.testing.assert_array_equal(
        project_adults(9000, 4000, 3000, days=30, eggs_per_day=500),
        project_adults(
            9000,
            4000,
            3000,
            days=30,
            eggs_per_day=500,
            adult_life_d=35.0,
            survival_capped=0.99,
            survival_open=0.90,
            survival_egg=0.85,
        ),
    )


def test_many_colonies_give_the_same_as_one_by_one():
    adults, capped, opened = np.array([[5e3, 2e4], [1e3, 9e3], [0, 8e3]])
    together = project_adults(adults, capped, opened, days=30, eggs_per_day=[100, 900])
    for i in range(2):
        alone = project_adults(adults[i], capped[i], opened[i], days=30, eggs_per_day=[100, 900][i])
        np.testing.assert_allclose(together[i], alone, rtol=1e-12)


def test_lives_may_differ_by_colony():
    together = project_adults([1e4, 1e4], 0, 0, days=3, adult_life_d=[20, 40])
    np.testing.assert_allclose(together[:, 1], [9500, 9750], rtol=1e-12)


def test_one_colony_with_many_lives_gives_a_row_each():
    assert project_adults(1e4, 0, 0, days=3, adult_life_d=[20, 40, 60]).shape == (3, 4)


@bounded
@given(bees, bees, bees, some_days, st.floats(0, 10))
def test_projection_is_linear(adults, capped, opened, days, times):
    one = project_adults(adults, capped, opened, days=days, eggs_per_day=700)
    many = project_adults(
        adults * times, capped * times, opened * times, days=days, eggs_per_day=700 * times
    )
    np.testing.assert_allclose(many, one * times, rtol=1e-9, atol=1e-6)


@bounded
@given(bees, bees, bees, some_days)
def test_projection_is_never_negative(adults, capped, opened, days):
    assert (project_adults(adults, capped, opened, days=days) >= 0).all()


@bounded
@given(bees, bees, bees)
def test_no_bee_is_lost_while_none_die(adults, capped, opened):
    last = project_adults(
        adults,
        capped,
        opened,
        days=21,
        adult_life_d=np.inf,
        survival_capped=1,
        survival_open=1,
    )[-1]
    np.testing.assert_allclose(last, adults + capped + opened, rtol=1e-9, atol=1e-6)


@bounded
@given(bees, bees, st.floats(0, 3000), st.floats(0, 3000))
def test_laying_changes_nothing_up_to_day_21(adults, capped, eggs, other):
    first = project_adults(adults, capped, 0, days=21, eggs_per_day=eggs)
    second = project_adults(adults, capped, 0, days=21, eggs_per_day=other)
    np.testing.assert_allclose(first, second, rtol=1e-12)


def test_laying_tells_from_day_22():
    less, more = project_adults([0, 0], 0, 0, days=22, eggs_per_day=[0, 1000])
    np.testing.assert_allclose(more - less, [*[0] * 22, 850], rtol=1e-12)


def test_unknown_adults_stay_unknown():
    assert np.isnan(project_adults(np.nan, 100, 100, days=3)).all()


@pytest.mark.parametrize(("days", "life"), [(-1, 35), (5, 0.5)])
def test_senseless_days_or_life_are_refused(days, life):
    with pytest.raises(UsageError, match="days of 0 or more and an adult life of 1 day"):
        project_adults(1, 1, 1, days=days, adult_life_d=life)
