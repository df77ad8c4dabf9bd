"""What counts as followed by a swarm, what as not, and what can't be said."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from swarmwatch.swarming.backtest_known import conformed
from swarmwatch.swarming.backtest_labels import fates, labels, season_of, still_there

PEAK = {"Home": 150.0}


def fate_of(outcome=None, events=(), truth=None):
    tables = {
        "colonies": pd.DataFrame([{"colony": "A", "apiary": "Home", "hive_type": "zander-10"}]),
        "events": pd.DataFrame(
            [{"colony": "A", **e} for e in events], columns=["colony", "date", "date_from", "event"]
        ),
        "outcomes": pd.DataFrame(
            [{"colony": "A", "season": 2025, **outcome}] if outcome else [],
            columns=["colony", "season", "outcome", "date", "date_from"],
        ),
    }
    return fates(conformed(tables), peak_day=PEAK, truth=truth)


def label(on, horizon=7, **what):
    fate = fate_of(**what)
    assert len(fate) == 1
    return labels(pd.Series([pd.Timestamp(on)]), fate, horizon)[0]


SWARMED = {"outcome": "swarmed", "date": "2025-06-10"}
SPAN = {"outcome": "swarmed", "date": "2025-06-10", "date_from": "2025-06-06"}


@pytest.mark.parametrize(
    ("on", "expected"),
    [("2025-06-02", 0), ("2025-06-03", 1), ("2025-06-09", 1)],
)
def test_a_swarm_counts_up_to_the_last_day_of_the_horizon(on, expected):
    assert label(on, outcome=SWARMED) == expected


@pytest.mark.parametrize(
    ("on", "there"), [("2025-06-09", True), ("2025-06-10", False), ("2025-06-11", False)]
)
def test_the_evening_of_the_swarm_itself_is_left_out(on, there):
    assert still_there(pd.Series([pd.Timestamp(on)]), fate_of(SWARMED))[0] == there


def test_fourteen_days_reach_farther_than_seven():
    assert [label("2025-05-28", h, outcome=SWARMED) for h in (7, 14)] == [0, 1]


@pytest.mark.parametrize(
    ("on", "expected"),
    [
        ("2025-05-29", 0),  # its window ends on 5 June, before the span
        ("2025-05-30", np.nan),  # ends on the span's first day
        ("2025-06-02", np.nan),  # ends a day before the span's last
        ("2025-06-03", 1),  # holds the whole span
        ("2025-06-05", 1),
        ("2025-06-06", np.nan),  # it may have left that day
        ("2025-06-09", np.nan),
    ],
)
def test_a_span_decides_only_where_it_lies_wholly_in_or_out(on, expected):
    np.testing.assert_equal(label(on, outcome=SPAN), float(expected))


def test_no_swarm_is_no_throughout():
    assert label("2025-06-01", outcome={"outcome": "no-swarm"}) == 0


@pytest.mark.parametrize(
    "outcome",
    [
        None,
        {"outcome": "unknown"},
        {"outcome": "swarmed"},
        {"outcome": "treated"},
        {"outcome": "died"},
    ],
)
def test_what_is_not_known_gives_no_row(outcome):
    assert fate_of(outcome).empty


def test_a_swarm_among_the_events_without_an_outcome_gives_no_row():
    assert fate_of(events=[{"date": "2025-06-10", "event": "swarmed"}]).empty


def test_an_undated_swarm_takes_its_day_from_the_events():
    fate = fate_of({"outcome": "swarmed"}, [{"date": "2025-06-10", "event": "swarmed"}])
    assert fate["swarm_until"].dt.date.tolist() == [dt.date(2025, 6, 10)]


def test_no_swarm_against_a_swarm_among_the_events_gives_no_row():
    assert fate_of({"outcome": "no-swarm"}, [{"date": "2025-06-10", "event": "swarmed"}]).empty


@pytest.mark.parametrize(
    ("on", "expected"),
    [("2025-05-31", 0), ("2025-06-01", np.nan), ("2025-06-20", np.nan)],
)
@pytest.mark.parametrize(
    "what",
    [
        {"outcome": {"outcome": "treated", "date": "2025-06-08"}},
        {
            "outcome": {"outcome": "no-swarm"},
            "events": [{"date": "2025-06-08", "event": "queen-cells-removed"}],
        },
    ],
)
def test_from_a_treatment_on_nothing_can_be_said(what, on, expected):
    np.testing.assert_equal(label(on, **what), float(expected))


@pytest.mark.parametrize(
    "event",
    ["split", "brood-removed", "queen-removed", "queen-confined", "requeened"],
)
def test_each_treatment_censors(event):
    events = [{"date": "2025-06-03", "event": event}]
    assert np.isnan(label("2025-06-01", outcome={"outcome": "no-swarm"}, events=events))


def test_room_given_does_not_censor():
    events = [{"date": "2025-06-03", "event": "room-added"}]
    assert label("2025-06-01", outcome={"outcome": "no-swarm"}, events=events) == 0


def test_a_treatment_after_the_swarm_changes_nothing():
    events = [{"date": "2025-06-11", "event": "requeened"}]
    assert label("2025-06-08", outcome=SWARMED, events=events) == 1


def test_a_swarm_after_a_treatment_is_not_counted():
    events = [{"date": "2025-06-05", "event": "split"}]
    assert np.isnan(label("2025-06-04", outcome=SWARMED, events=events))


def test_a_treatment_of_another_season_changes_nothing():
    events = [{"date": "2024-06-05", "event": "split"}]
    assert label("2025-06-01", outcome={"outcome": "no-swarm"}, events=events) == 0


def test_nothing_is_known_past_a_colonys_death():
    died = {"outcome": "died", "date": "2025-06-08"}
    np.testing.assert_equal(
        [label(on, outcome=died) for on in ("2025-05-31", "2025-06-01")], [0.0, np.nan]
    )


def test_the_truth_of_a_simulation_takes_the_place_of_the_outcomes():
    truth = pd.DataFrame({"colony": ["A"], "season": [2025], "prime_on": ["2025-06-05"]})
    assert label("2025-06-01", outcome={"outcome": "no-swarm"}, truth=truth) == 1


def test_a_southern_summer_belongs_to_the_year_of_its_peak():
    dates = pd.Series(pd.to_datetime(["2025-11-20", "2026-01-10", "2025-03-01"]))
    assert season_of(dates, 319.0).tolist() == [2025, 2025, 2024]
