"""The measures on forecasts whose worth can be worked out by hand or by scikit-learn."""

import numpy as np
import pandas as pd
import pytest
from sklearn.metrics import brier_score_loss, log_loss, roc_auc_score

from swarmwatch.swarming.backtest_metrics import by_kind_of_look, metrics, reliability, summary


def rows(said, happened, **more):
    n = len(said)
    return pd.DataFrame(
        {
            "p_7d": said,
            "swarmed_7d": happened,
            "colony": [f"C{i % 7}" for i in range(n)],
            "season": 2025,
            **more,
        }
    )


SAID = [0.1, 0.4, 0.35, 0.8, 0.6, 0.2]
HAPPENED = [0.0, 0.0, 1.0, 1.0, 1.0, 0.0]


def test_the_measures_are_those_of_scikit_learn():
    found = metrics(rows(SAID, HAPPENED), 7)
    expected = [
        brier_score_loss(HAPPENED, SAID),
        log_loss(HAPPENED, SAID),
        roc_auc_score(HAPPENED, SAID),
    ]
    got = [found["brier"], found["log_loss"], found["roc_area"]]
    np.testing.assert_allclose(got, expected, rtol=1e-12, atol=0)


def test_the_brier_skill_by_hand():
    # mean square 0.9025 / 6 + ..., against 0.25, the square error of saying one half
    brier = (0.1**2 + 0.4**2 + 0.65**2 + 0.2**2 + 0.4**2 + 0.2**2) / 6
    found = metrics(rows(SAID, HAPPENED), 7)
    assert found["brier_skill"] == pytest.approx(1 - brier / 0.25, rel=1e-12)


def test_the_skill_against_a_climatology_uses_it():
    frame = rows(SAID, HAPPENED, base_7d=0.9)
    worse = np.mean((np.array(HAPPENED) - 0.9) ** 2)
    found = metrics(frame, 7, climatology="base_7d")
    assert found["brier_skill"] == pytest.approx(1 - found["brier"] / worse, rel=1e-12)


def test_a_perfect_forecast_has_skill_and_area_1():
    found = metrics(rows(HAPPENED, HAPPENED), 7)
    assert (found["brier_skill"], found["roc_area"]) == (1, 1)


def test_saying_the_rate_has_no_skill_and_half_the_area():
    found = metrics(rows([0.5] * 6, HAPPENED), 7)
    assert (found["brier_skill"], found["roc_area"]) == (0, 0.5)


def test_a_constant_forecast_has_no_slope():
    assert np.isnan(metrics(rows([0.5] * 6, HAPPENED), 7)["slope"])


def test_without_a_swarm_there_is_no_area():
    found = metrics(rows(SAID, [0.0] * 6), 7)
    assert np.isnan(found["roc_area"])
    assert found["log_loss"] > 0


def test_no_rows_give_nothing_but_a_count():
    found = metrics(rows([], []), 7)
    assert found["n"] == 0
    assert np.isnan(found["brier"])


def test_rows_that_cannot_be_labelled_are_left_out():
    assert metrics(rows([*SAID, 0.9], [*HAPPENED, np.nan]), 7) == metrics(rows(SAID, HAPPENED), 7)


@pytest.mark.parametrize(("stretch", "shift"), [(1.0, 0.0), (2.0, 0.0), (1.0, 1.0)])
def test_slope_and_intercept_undo_how_a_forecast_was_bent(stretch, shift):
    rng = np.random.default_rng(4)
    log_odds = rng.normal(-1, 1.5, 40_000)
    happened = (rng.random(40_000) < 1 / (1 + np.exp(-log_odds))).astype(float)
    said = 1 / (1 + np.exp(-(stretch * log_odds + shift)))
    found = metrics(rows(said, happened), 7)
    np.testing.assert_allclose(
        [found["slope"], found["intercept"]], [1 / stretch, -shift / stretch], rtol=0, atol=0.05
    )


def test_the_error_comes_from_colonies_and_is_seeded():
    rng = np.random.default_rng(5)
    said = rng.random(210)
    frame = rows(said, (rng.random(210) < said).astype(float))
    first, second = (metrics(frame, 7, seed=1)["brier_skill_error"] for _ in range(2))
    assert first == second > 0


@pytest.mark.parametrize("usual", [None, 0.3])
def test_the_errors_are_those_of_scikit_learns_measures_drawn_anew(usual):
    rng = np.random.default_rng(8)
    said = rng.integers(0, 12, 210) / 12  # many forecasts are tied
    frame = rows(said, (rng.random(210) < said / 2).astype(float), usual=usual)
    found = metrics(frame, 7, seed=3, climatology=None if usual is None else "usual")
    happened, colony = frame["swarmed_7d"], np.arange(210) % 7
    draws, skills, areas = np.random.default_rng(3), [], []
    for _ in range(100):
        times = np.bincount(draws.integers(7, size=7), minlength=7)[colony].astype(float)
        base = np.average(happened, weights=times) if usual is None else usual
        skill = [
            brier_score_loss(happened, p, sample_weight=times) for p in (said, np.full(210, base))
        ]
        skills.append(1 - skill[0] / skill[1])
        areas.append(roc_auc_score(happened, said, sample_weight=times))
    assert found["brier_skill_error"] == pytest.approx(np.std(skills, ddof=1), rel=1e-9)
    assert found["roc_area_error"] == pytest.approx(np.std(areas, ddof=1), rel=1e-9)


def test_rows_that_repeat_add_no_certainty():
    rng = np.random.default_rng(6)
    said = rng.random(70)
    frame = rows(said, (rng.random(70) < said).astype(float))
    frame["colony"] = [f"C{i}" for i in range(70)]
    thrice = pd.concat([frame] * 3, ignore_index=True)
    one, three = (metrics(f, 7, seed=1)["brier_skill_error"] for f in (frame, thrice))
    assert three == pytest.approx(one, rel=1e-9)


def test_reliability_counts_each_row_once_and_keeps_the_edges():
    found = reliability(rows([0.0, 0.1, 0.19, 1.0], [0.0, 0.0, 1.0, 1.0]), 7)
    assert found["n"].tolist() == [1, 2, 1]
    np.testing.assert_allclose(found["rate"], [0, 0.5, 1], rtol=0, atol=0)


def test_all_forecasts_are_measured_on_the_same_rows():
    frame = rows(SAID, HAPPENED, rule_7d=[0.5, 0.5, np.nan, 0.5, 0.5, 0.5], trained_7d=np.nan)
    found = summary(frame, {"score": "p", "rule": "rule", "trained": "trained"}, horizons=(7,))
    assert found["n"].tolist() == [5, 5, 0]


def test_looks_are_told_apart_by_what_they_saw_and_how_old_they_are():
    frame = rows(
        [0.5] * 4,
        [0.0, 1.0, 0.0, 1.0],
        stage=[-1.0, 3.0, np.nan, np.nan],
        inspected_on=pd.to_datetime(["2025-05-20", "2025-05-01", "2025-05-20", None]),
        inspection_age_d=[3, 20, 3, None],
    )
    assert set(by_kind_of_look(frame, 7)["look"]) == {
        "no cells, fresh look",
        "capped, old look",
        "not looked for cells, fresh look",
        "no look",
    }
