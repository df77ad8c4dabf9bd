"""Degree-days against published methods, worked examples and hours measured at an airport."""

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad

from swarmwatch.weather import degree_days

# (min, max) [C]: single sine base 10 (Baskerville & Emin 1969, Ecology 50:514), single triangle,
# plain mean, single sine base 5; worked out apart from this project's code
TABLE = {
    (12, 24): (8.000000, 8.0000, 8.0, 13.000000),
    (5, 15): (1.591549, 1.2500, 0.0, 5.000000),
    (0, 20): (3.183099, 2.5000, 0.0, 6.089978),
    (4, 18): (2.750945, 2.285714, 1.0, 6.114259),
    (6, 22): (4.871982, 4.5000, 4.0, 9.000000),
    (2, 14): (1.016980, 0.666667, 0.0, 3.653987),
    (8, 12): (0.636620, 0.5000, 0.0, 5.000000),
    (9, 11): (0.318310, 0.2500, 0.0, 5.000000),
    (-2, 9): (0.000000, 0.0, 0.0, 1.066226),
}
LOW, HIGH = np.array(list(TABLE), dtype=float).T
SINE, TRIANGLE, MEAN, SINE_5 = np.array(list(TABLE.values())).T


@pytest.mark.parametrize(
    ("method", "base_c", "want"),
    [
        ("single-sine", 10.0, SINE),
        ("single-triangle", 10.0, TRIANGLE),
        ("mean", 10.0, MEAN),
        ("single-sine", 5.0, SINE_5),
    ],
)
def test_degree_days_follow_the_published_methods(method, base_c, want):
    got = degree_days(LOW, HIGH, base_c=base_c, method=method)
    np.testing.assert_allclose(got, want, rtol=0, atol=1e-6)


@pytest.mark.parametrize(
    ("low", "high", "want"), [(15, 35, 13.910022), (8, 34, 10.560615), (32, 38, 20.0)]
)
def test_a_horizontal_cutoff_subtracts_what_lies_above_it(low, high, want):
    assert degree_days(low, high, upper_c=30.0) == pytest.approx(want, abs=1e-6)


def celsius(fahrenheit):
    return (fahrenheit - 32) * 5 / 9


@pytest.mark.parametrize(
    ("low_f", "high_f", "want_f"),
    [
        (43, 63, 4.827443),
        (40, 60, 3.183099),
        (45, 75, 10.881608),
        (30, 70, 6.366198),
        (35, 55, 1.089978),
    ],
)
def test_fahrenheit_examples_agree_when_turned(low_f, high_f, want_f):
    got = degree_days(celsius(low_f), celsius(high_f), base_c=celsius(50))
    assert got * 9 / 5 == pytest.approx(want_f, abs=1e-6)


def test_the_plain_mean_example_of_a_43_to_63_f_day():
    # a public extension page: mean 53 F, base 50 F, 3 degree-days
    got = degree_days(celsius(43), celsius(63), base_c=celsius(50), method="mean")
    assert got * 9 / 5 == pytest.approx(3.0, abs=1e-9)


def test_the_plain_mean_example_of_a_64_f_day():
    # ipm.ucanr.edu, degree-days explained: mean 64 F, lower threshold 53 F, 11 degree-days
    got = degree_days(celsius(64), celsius(64), base_c=celsius(53), method="mean")
    assert got * 9 / 5 == pytest.approx(11.0, abs=1e-9)


WEEK = np.array([(2, 11), (3, 13), (1, 9), (6, 16), (8, 19), (10, 22), (9, 20)], dtype=float)


@pytest.mark.parametrize(
    ("method", "want"),
    [
        ("single-sine", (0.1431, 0.8638, 0.8638, 2.9872, 6.8562, 12.8562, 17.4854)),
        ("mean", (0, 0, 0, 1.0, 4.5, 10.5, 15.0)),
    ],
)
def test_a_week_adds_up_as_worked_by_hand(method, want):
    got = np.cumsum(degree_days(*WEEK.T, method=method))
    np.testing.assert_allclose(got, want, rtol=0, atol=5e-5)


@pytest.mark.parametrize(("low", "high"), list(TABLE))
def test_the_sine_is_the_area_under_a_sine(low, high):
    middle, swing = (low + high) / 2, (high - low) / 2
    area, _ = quad(
        lambda turn: max(middle + swing * np.sin(turn) - 10, 0.0), 0, 2 * np.pi, limit=200
    )
    assert degree_days(low, high) == pytest.approx(area / (2 * np.pi), abs=1e-5)


@pytest.fixture(scope="module")
def airport(airport_hours):
    """Days of New York JFK 2013 with all 24 hours: extremes and the hours' own degree-days."""
    hours = airport_hours.query("origin == 'JFK'").dropna(subset=["temp"])
    temp_c = celsius(hours["temp"])
    day = pd.to_datetime(hours[["year", "month", "day"]])
    days = temp_c.groupby(day).agg(["min", "max", "count"])
    days["hourly"] = np.maximum(temp_c - 10, 0.0).groupby(day).mean()
    return days[days["count"] == 24]


@pytest.mark.parametrize("method", ["single-sine", "single-triangle", "mean"])
def test_a_years_sum_agrees_with_the_hours_measured(airport, method):
    # real days are no sines: 3 % of a year's sum is what two extremes can give here
    got = degree_days(airport["min"], airport["max"], method=method).sum()
    assert got == pytest.approx(airport["hourly"].sum(), rel=0.03)


def test_single_days_agree_with_the_hours_measured_to_half_a_degree_day(airport):
    error = (degree_days(airport["min"], airport["max"]) - airport["hourly"]).abs()
    assert error.mean() < 0.5
    assert error.quantile(0.95) < 1.2


def test_on_days_across_the_base_the_sine_beats_the_plain_mean(airport):
    # Table 1 of PMC3973433 has the simple mean underestimate on such days
    across = airport[(airport["min"] < 10) & (airport["max"] > 10)]
    error = {
        method: (degree_days(across["min"], across["max"], method=method) - across["hourly"]).abs()
        for method in ("single-sine", "mean")
    }
    assert error["single-sine"].mean() < error["mean"].mean()
