"""The choice of sites against enumeration, a linear solver and its own promises."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from swarmwatch.errors import PlanInfeasible, UsageError
from swarmwatch.placement.capture import maximum_capture


def worth(weights, utilities, outside, chosen):
    """The objective, written as the problem states it."""
    total = utilities[:, list(chosen)].sum(axis=1)
    return float((weights * total / (outside + total)).sum())


def best_by_enumeration(weights, utilities, outside, *, count, forced=(), conflicts=()):
    """The greatest worth over every legal set: slow, plain, sure."""
    sites = [j for j in range(utilities.shape[1]) if j not in forced]
    barred = {frozenset(c) for c in conflicts if not set(c) <= set(forced)}
    best = worth(weights, utilities, outside, forced)
    for size in range(count - len(forced) + 1):
        for more in itertools.combinations(sites, size):
            chosen = {*forced, *more}
            if not any(pair <= chosen for pair in barred):
                best = max(best, worth(weights, utilities, outside, sorted(chosen)))
    return best


def random_case(seed, *, sources=6, sites=10):
    rng = np.random.default_rng(seed)
    utilities = rng.lognormal(0, 1.5, (sources, sites)) * (rng.random((sources, sites)) < 0.7)
    return rng.uniform(0, 3, sources), utilities, rng.uniform(0.1, 5, sources)


def random_conflicts(seed, sites, share=0.25):
    rng = np.random.default_rng(seed + 1000)
    return [p for p in itertools.combinations(range(sites), 2) if rng.random() < share]


def scattered(seed, *, sources, sites, side_km=10.0):
    """Sources and sites scattered on a plain, weights falling with distance."""
    rng = np.random.default_rng(seed)
    homes, places = rng.uniform(0, side_km, (sources, 2)), rng.uniform(0, side_km, (sites, 2))
    away = np.hypot(*(homes[:, None] - places[None]).transpose(2, 0, 1))
    utilities = np.exp(-away) * rng.lognormal(0, 0.5, sites)
    between = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    return rng.uniform(0.2, 3, sources), utilities, np.full(sources, 3.0), between


@pytest.mark.parametrize("seed", range(100))
def test_a_small_case_is_proved_and_equals_enumeration(seed):
    case = random_case(seed)
    result = maximum_capture(*case, count=1 + seed % 5)
    best = best_by_enumeration(*case, count=1 + seed % 5)
    assert result.proved
    np.testing.assert_allclose(result.value, best, rtol=1e-8, atol=0)


@pytest.mark.parametrize("seed", range(100))
def test_a_small_case_with_conflicts_and_forced_sites_equals_enumeration(seed):
    case = random_case(seed, sites=9)
    conflicts = random_conflicts(seed, 9)
    forced = (0, 1) if seed % 2 else (3,)
    result = maximum_capture(*case, count=4, forced=forced, conflicts=conflicts)
    best = best_by_enumeration(*case, count=4, forced=forced, conflicts=conflicts)
    assert result.proved
    np.testing.assert_allclose(result.value, best, rtol=1e-8, atol=0)


@settings(max_examples=50, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    count=st.integers(0, 5),
    scale=st.sampled_from([1e-9, 1e-3, 1.0, 1e6]),
)
def test_the_answer_is_legal_and_the_bound_holds_at_any_scale(seed, count, scale):
    weights, utilities, outside = random_case(seed, sites=8)
    conflicts = random_conflicts(seed, 8)
    case = weights * scale, utilities * scale, outside * scale
    result = maximum_capture(*case, count=count, conflicts=conflicts)
    best = best_by_enumeration(*case, count=count, conflicts=conflicts)
    assert len(result.chosen) <= count
    assert list(result.chosen) == sorted(set(result.chosen))
    assert not any(a in result.chosen and b in result.chosen for a, b in conflicts)
    assert result.bound >= best * (1 - 1e-12)
    assert result.value >= best * (1 - 1e-8)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), count=st.integers(1, 6))
def test_greedy_is_never_above_the_value_nor_the_value_above_the_bound(seed, count):
    weights, utilities, outside, _ = scattered(seed, sources=8, sites=25)
    chosen: list[int] = []
    for _ in range(count):
        left = [j for j in range(25) if j not in chosen]
        values = [worth(weights, utilities, outside, [*chosen, j]) for j in left]
        chosen.append(left[int(np.argmax(values))])
    result = maximum_capture(weights, utilities, outside, count=count, time_limit_s=5)
    greedy = worth(weights, utilities, outside, chosen)
    assert greedy <= result.value * (1 + 1e-12) <= result.bound * (1 + 1e-11)


@pytest.mark.parametrize("seed", range(5))
def test_a_covering_case_equals_an_integer_linear_solver(seed):
    """With utilities of 0 or endless a source is served or not: maximal covering, by HiGHS."""
    rng = np.random.default_rng(seed)
    cover = (rng.random((30, 20)) < 0.15).astype(float)
    weights = rng.uniform(0.5, 2, 30)
    result = maximum_capture(weights, cover * 1e7, np.ones(30), count=4)
    rows = sparse.csr_array(np.hstack([-cover, np.eye(30)]))
    limit = np.concatenate([np.ones(20), np.zeros(30)])[None, :]
    solved = milp(
        -np.concatenate([np.zeros(20), weights]),
        constraints=[
            LinearConstraint(rows, -np.inf, 0),
            LinearConstraint(sparse.csr_array(limit), -np.inf, 4),
        ],
        integrality=np.concatenate([np.ones(20), np.zeros(30)]),
        bounds=Bounds(0, 1),
    )
    assert result.proved
    np.testing.assert_allclose(result.value, -solved.fun, rtol=1e-6, atol=0)


def test_two_hundred_sites_are_proved_with_few_boxes():
    *case, _ = scattered(1, sources=40, sites=200)
    assert maximum_capture(*case, count=4, time_limit_s=20).proved


def test_spacing_costs_no_more_than_the_bound_says():
    *case, between = scattered(2, sources=40, sites=150)
    conflicts = list(zip(*np.nonzero(np.triu(between < 0.8, 1)), strict=True))
    result = maximum_capture(*case, count=8, conflicts=conflicts, time_limit_s=10, gap=0.002)
    chosen = list(result.chosen)
    apart = between[np.ix_(chosen, chosen)][np.triu_indices(len(chosen), 1)]
    assert apart.min() >= 0.8
    assert result.gap <= 0.002


def test_copies_of_one_site_are_as_good_as_each_other():
    column = np.array([[1.0], [0.5], [2.0]])
    case = np.ones(3), np.repeat(column, 6, axis=1), np.ones(3)
    result = maximum_capture(*case, count=3)
    assert result.proved
    assert result.chosen == (0, 1, 2)


def test_a_site_that_adds_nothing_is_not_chosen():
    utilities = np.array([[0.0, 1.0, 0.0], [0.0, 2.0, 1.0]])
    assert maximum_capture([1, 1], utilities, [1, 1], count=3).chosen == (1, 2)


def test_a_row_of_weight_zero_does_not_matter():
    weights, utilities, outside = random_case(3)
    weights[:3] = 0
    assert maximum_capture(weights, utilities, outside, count=2).chosen == (
        maximum_capture(weights[3:], utilities[3:], outside[3:], count=2).chosen
    )


def test_equal_sources_count_as_one_of_their_summed_weight():
    weights, utilities, outside = random_case(4)
    many = maximum_capture(
        np.tile(weights, 3), np.tile(utilities, (3, 1)), np.tile(outside, 3), count=3
    )
    one = maximum_capture(3 * weights, utilities, outside, count=3)
    assert many.chosen == one.chosen
    np.testing.assert_allclose(many.value, one.value, rtol=1e-12, atol=0)


def test_forced_sites_that_conflict_are_both_kept():
    result = maximum_capture(*random_case(5), count=3, forced=(2, 7), conflicts=[(2, 7)])
    assert {2, 7} <= set(result.chosen)


def test_more_boxes_than_sites_takes_every_site_that_helps():
    case = np.ones(2), np.array([[1.0, 2.0], [0.5, 0.1]]), np.ones(2)
    result = maximum_capture(*case, count=9)
    assert result.chosen == (0, 1)
    assert result.proved


def test_no_source_at_all_chooses_nothing():
    result = maximum_capture([], np.zeros((0, 3)), [], count=2)
    assert (result.chosen, result.value, result.gap) == ((), 0.0, 0.0)


def test_the_same_question_gets_the_same_answer():
    *case, _ = scattered(6, sources=30, sites=120)
    first, second = (maximum_capture(*case, count=6, gap=0.001) for _ in range(2))
    assert (first.chosen, first.value, first.bound) == (second.chosen, second.value, second.bound)


def test_the_order_of_sites_does_not_change_the_worth():
    *case, _ = scattered(7, sources=20, sites=60)
    turned = case[0], case[1][:, ::-1].copy(), case[2]
    a, b = (maximum_capture(*c, count=4) for c in (case, turned))
    np.testing.assert_allclose(a.value, b.value, rtol=1e-8, atol=0)


def test_out_of_time_still_gives_a_legal_set_and_a_true_bound():
    *case, _ = scattered(8, sources=20, sites=40)
    ticks = itertools.count()
    hurried = maximum_capture(*case, count=4, time_limit_s=0, clock=lambda: float(next(ticks)))
    best = maximum_capture(*case, count=4)
    assert best.proved
    assert len(hurried.chosen) == 4
    assert hurried.value <= best.value * (1 + 1e-12) <= hurried.bound * (1 + 1e-9)


def test_running_out_of_time_anywhere_keeps_the_bound_true():
    *case, between = scattered(9, sources=12, sites=30)
    case[2] = np.full(12, 0.05)  # strong competition between sites makes the proof long
    conflicts = list(zip(*np.nonzero(np.triu(between < 1.0, 1)), strict=True))
    best = maximum_capture(*case, count=5, conflicts=conflicts)
    assert best.proved
    for limit in range(0, 400, 7):
        ticks = itertools.count()
        part = maximum_capture(
            *case,
            count=5,
            conflicts=conflicts,
            time_limit_s=limit,
            clock=lambda ticks=ticks: float(next(ticks)),
        )
        assert part.value <= best.value * (1 + 1e-9) <= part.bound * (1 + 1e-8)


def test_gap_is_the_share_between_bound_and_value():
    *case, _ = scattered(10, sources=30, sites=100)
    result = maximum_capture(*case, count=3, time_limit_s=0)
    np.testing.assert_allclose(
        result.gap, (result.bound - result.value) / result.bound, rtol=1e-12, atol=0
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"weights": [1.0, -1.0]}, r"weights\[1\] is -1"),
        ({"weights": [1.0, np.nan]}, r"weights\[1\] is nan"),
        ({"weights": [1.0]}, "don't go together"),
        ({"utilities": [[1.0, 2.0], [np.inf, 1.0]]}, r"utilities\[1, 0\] is inf"),
        ({"utilities": [[1.0, 2.0], [-3.0, 1.0]]}, r"utilities\[1, 0\] is -3"),
        ({"utilities": "many"}, "utilities: not an array"),
        ({"outside": [1.0, 0.0]}, r"outside\[1\] is 0"),
        ({"outside": [1.0, 1e-320]}, "overflows"),
        ({"count": -1}, "count: -1 is below 0"),
        ({"count": 1.5}, "count: 1.5 is not a whole number"),
        ({"forced": [2]}, "forced: 2 is not a site"),
        ({"conflicts": [(0, 0)]}, "not a pair of two sites"),
        ({"conflicts": [(0, 5)]}, "not a pair of two sites"),
        ({"gap": 1.0}, "gap: 1.0 is not a share"),
        ({"time_limit_s": np.nan}, "time_limit_s: nan"),
    ],
)
def test_a_bad_argument_is_named(change, words):
    given_ = {
        "weights": [1.0, 1.0],
        "utilities": [[1.0, 2.0], [2.0, 1.0]],
        "outside": [1.0, 1.0],
        "count": 1,
    } | change
    arrays = [given_.pop(name) for name in ("weights", "utilities", "outside")]
    with pytest.raises(UsageError, match=words):
        maximum_capture(*arrays, **given_)


def test_fewer_boxes_than_forced_sites_is_refused():
    with pytest.raises(PlanInfeasible, match="2 sites are forced but only 1 may be chosen"):
        maximum_capture(np.ones(2), np.ones((2, 3)), np.ones(2), count=1, forced=(0, 1))
