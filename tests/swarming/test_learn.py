"""Own outcomes move the odds, never far, and only where that foretells seasons left out."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit
from scipy.stats import bernoulli, norm
from sklearn.metrics import log_loss

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.backtest_known import conformed
from swarmwatch.swarming.learn import (
    ODDS,
    _found,
    _helps,
    _losses,
    fit,
    own_evidence_text,
    with_learned,
)
from swarmwatch.swarming.learn_past import foretold, intervals, thinned
from swarmwatch.swarming.score import score_colonies

YARD = {"apiary": "Home", "latitude": 50.0, "longitude": 10.0, "season_peak": "05-30"}
COLONIES = 10


def day(year, from_peak):
    return pd.Timestamp(dt.date(year, 5, 30)) + pd.Timedelta(days=from_peak)


def past(swarms_by_year, *, outcomes=None, events=None, inspections=None):
    """Return records in which so many of ten colonies swarmed each year, spread round the peak."""
    rows = [
        {
            "colony": f"C{i}",
            "season": year,
            "outcome": "swarmed" if i < swarms else "no-swarm",
            "date": day(year, -14 + 4 * i) if i < swarms else pd.NaT,
        }
        for year, swarms in swarms_by_year.items()
        for i in range(COLONIES)
    ]
    tables = {
        "apiaries": pd.DataFrame([YARD]),
        "colonies": pd.DataFrame(
            {
                "colony": [f"C{i}" for i in range(COLONIES)],
                "apiary": "Home",
                "hive_type": "zander-10",
            }
        ),
        "outcomes": pd.DataFrame(rows if outcomes is None else outcomes),
    }
    if events is not None:
        tables["events"] = pd.DataFrame(events)
    if inspections is not None:
        tables["inspections"] = pd.DataFrame(inspections)
    return tables


def cut(tables):
    """Return the intervals of the records."""
    return intervals(conformed(tables), evidence=load_evidence(), seasons=None)


def value_of(learned, column):
    (value,) = learned.table[column]
    return value


@pytest.fixture(scope="module")
def many():
    """Nine of ten colonies swarmed in either season: far more than published."""
    return fit(past({2024: 9, 2025: 9}))


@pytest.fixture(scope="module")
def one():
    """One colony with an outcome: it swarmed."""
    outcome = {"colony": "C1", "season": 2025, "outcome": "swarmed", "date": day(2025, 0)}
    return fit(past({}, outcomes=[outcome]))


@pytest.fixture(scope="module")
def contrary():
    """What one season taught the other refuted."""
    return fit(past({2024: 9, 2025: 0}))


def test_without_outcomes_nothing_moves():
    tables = past({2025: 0})
    del tables["outcomes"]
    learned = fit(tables)
    assert (learned.table["fitted"] == learned.table["published"]).all()


def test_without_outcomes_the_advice_says_what_to_note():
    assert "no-swarm" in fit({}).advice


def test_more_swarms_than_published_raise_the_odds(many):
    assert value_of(many, "published") == 1 < value_of(many, "fitted")
    assert value_of(many, "words").startswith(
        "more swarms than published: a chance of 20 % becomes "
    )


def test_one_outcome_moves_the_odds_less_than_many(one, many):
    assert 0 < value_of(one, "change") < value_of(many, "change") / 2


def test_one_season_alone_is_never_used(one):
    assert not one.better
    assert (one.table["learned"] == one.table["published"]).all()


def test_seasons_alike_are_foretold_better_by_what_was_learned(many):
    assert many.better
    assert (many.losses["loss_learned"] < many.losses["loss_published"]).all()


def test_where_a_left_out_season_is_foretold_worse_the_published_values_are_kept(contrary):
    size = contrary.losses["colonies"]
    loss = [(size * contrary.losses[f"loss_{c}"]).sum() for c in ("published", "learned")]
    assert loss[1] > loss[0]
    assert (contrary.table["learned"] == contrary.table["published"]).all()
    assert "Keep the published" in contrary.advice


def test_the_colonies_and_swarms_that_count_are_told(many):
    assert (many.colonies, many.swarms) == (2 * COLONIES, 18)


def test_what_is_learned_has_a_range_narrower_than_the_published(many):
    low, value, high = (value_of(many, c) for c in ("low", "learned", "high"))
    published = load_evidence()[ODDS]
    assert low < value < high
    assert high / low < published.high / published.low


def test_the_override_file_loads_over_the_shipped_numbers(many, tmp_path):
    file = tmp_path / "own-evidence.toml"
    file.write_text(own_evidence_text(many), encoding="utf-8")
    own = load_evidence(file)
    np.testing.assert_allclose(own.value(ODDS), value_of(many, "learned"), rtol=1e-5)
    assert own[ODDS].grade == "judgement"
    assert own[ODDS].source == "learned from own outcomes, 20 colonies, 18 swarms"


def test_the_override_file_is_empty_where_the_published_values_are_kept(contrary, tmp_path):
    file = tmp_path / "own-evidence.toml"
    file.write_text(own_evidence_text(contrary), encoding="utf-8")
    assert dict(load_evidence(file)) == dict(load_evidence())


def test_a_colony_without_an_outcome_is_left_out():
    tables = past({2025: 3})
    tables["outcomes"] = tables["outcomes"].iloc[1:]
    assert set(cut(tables)["colony"]) == {f"C{i}" for i in range(1, COLONIES)}


def test_an_unknown_outcome_is_left_out():
    assert cut(past({}, outcomes=[{"colony": "C1", "season": 2025, "outcome": "unknown"}])).empty


def test_a_treated_colony_counts_up_to_its_treatment_only():
    treated = {"colony": "C1", "season": 2025, "outcome": "treated", "date": day(2025, 0)}
    rows = cut(past({}, outcomes=[treated]))
    ends = rows["on"] + pd.to_timedelta(rows["horizon_d"], unit="D")
    assert (rows["swarmed"] == 0).all()
    assert ends.max() < day(2025, 0)


def test_a_split_among_the_events_censors_as_well():
    split = {"colony": "C9", "date": day(2025, -7), "event": "split"}
    rows = cut(past({2025: 3}, events=[split]))
    ends = rows["on"] + pd.to_timedelta(rows["horizon_d"], unit="D")
    assert ends[rows["colony"] == "C9"].max() < day(2025, -7)
    assert ends[rows["colony"] == "C8"].max() > day(2025, -7)


def test_a_treatment_at_a_look_leaves_the_days_before_that_look():
    treated = {"colony": "C1", "season": 2025, "outcome": "treated", "date": day(2025, 0)}
    looks = [{"colony": "C1", "date": day(2025, at)} for at in (-6, 0)]
    rows = cut(past({}, outcomes=[treated], inspections=looks))
    last = rows.sort_values("on").iloc[-1]
    assert last["on"] + pd.Timedelta(days=int(last["horizon_d"])) == day(2025, -1)


def test_each_swarm_counts_once_and_ends_its_colonys_intervals():
    rows = cut(past({2025: 4}))
    swarmed = rows[rows["swarmed"] == 1]
    assert sorted(swarmed["colony"]) == ["C0", "C1", "C2", "C3"]
    last = rows.groupby("colony")["on"].max()
    assert (swarmed.set_index("colony")["on"] == last[swarmed["colony"]]).all()


def test_intervals_of_a_colony_do_not_overlap():
    looks = [{"colony": "C1", "date": day(2025, at)} for at in (-20, -11, 3)]
    rows = cut(past({2025: 0}, inspections=looks))
    mine = rows[rows["colony"] == "C1"].sort_values("on")
    ends = mine["on"] + pd.to_timedelta(mine["horizon_d"], unit="D")
    assert (ends.to_numpy()[:-1] <= mine["on"].to_numpy()[1:]).all()
    assert {day(2025, -20), day(2025, -11), day(2025, 3)} <= set(mine["on"])


def test_a_span_of_dates_across_looks_lies_in_one_interval():
    outcome = {
        **{"colony": "C1", "season": 2025, "outcome": "swarmed"},
        **{"date_from": day(2025, -3), "date": day(2025, 5)},
    }
    looks = [{"colony": "C1", "date": day(2025, at)} for at in (-8, 0, 5)]
    rows = cut(past({}, outcomes=[outcome], inspections=looks))
    swarmed = rows[rows["swarmed"] == 1]
    assert len(swarmed) == 1
    assert swarmed["on"].iloc[0] < day(2025, -3)


def test_thinning_keeps_every_swarm_and_the_number_of_evenings():
    rows = cut(past({2024: 3, 2025: 3}))
    few = thinned(rows, most=8)
    assert few["swarmed"].sum() == rows["swarmed"].sum()
    weights = few.drop_duplicates("on")["weight"]
    assert len(weights) < rows["on"].nunique()
    np.testing.assert_allclose(weights.sum(), rows["on"].nunique(), rtol=1e-12)


def outcomes(shift, *, seasons=3, colonies=40, seed=1, weight=1.0):
    """Return what was said of invented pieces of a past, and how they ended at other odds."""
    rng = np.random.default_rng(seed)
    size = seasons * colonies
    said = rng.normal(-1, 1.5, size)
    return pd.DataFrame(
        {
            "colony": np.tile([f"C{i}" for i in range(colonies)], seasons),
            "season": np.repeat(np.arange(2021, 2021 + seasons), colonies),
            "logit": said,
            "swarmed": (rng.random(size) < expit(said + shift)).astype(float),
            "weight": weight,
        }
    )


@pytest.mark.parametrize("shift", [-1.0, 0.0, 2.0])
@pytest.mark.parametrize("sd", [0.6, 2.0])
def test_the_shift_is_the_most_likely_one_by_scipys_distributions(shift, sd):
    past = outcomes(shift, weight=0.7)
    tried = np.linspace(-5, 5, 100_001)
    worth = norm.logpdf(tried, scale=sd)
    for said, swarmed, weight in past[["logit", "swarmed", "weight"]].to_numpy():
        worth += weight * bernoulli.logpmf(int(swarmed), expit(said + tried))
    best = worth.argmax()
    found = _found(past, sd)
    np.testing.assert_allclose(found.shift, tried[best], atol=1e-4)
    # Laplace: the curvature of the log posterior at its top
    bend = np.polyfit(tried[best - 500 : best + 501], worth[best - 500 : best + 501], 2)[0]
    np.testing.assert_allclose(found.sd, (-2 * bend) ** -0.5, rtol=1e-3)


def test_without_a_prior_as_many_swarms_are_foretold_as_there_were():
    # calibration in the large: Cox 1958, Biometrika 45:562-565
    past = outcomes(1.0)
    foretold_swarms = expit(past["logit"] + _found(past, 1e3).shift).sum()
    np.testing.assert_allclose(foretold_swarms, past["swarmed"].sum(), rtol=1e-6)


def test_what_is_sure_already_moves_least():
    sure = outcomes(1.0)
    assert _found(sure, 0.1).shift < _found(sure, 0.6).shift < _found(sure, 2.0).shift


def test_the_losses_are_scikit_learns_with_the_odds_of_the_other_seasons():
    past = outcomes(1.0, weight=2.0)
    losses = _losses(past, 0.6)
    for year, out in past.groupby("season"):
        others = past[past["season"] != year]
        mine = losses[losses["season"] == year]
        for name, shift in (("published", 0), ("learned", _found(others, 0.6).shift)):
            wanted = log_loss(out["swarmed"], expit(out["logit"] + shift)) * 2
            np.testing.assert_allclose(mine[name].mean(), wanted, rtol=1e-9)


def test_where_the_published_odds_hold_they_are_mostly_kept():
    # by chance one in six gains more than its standard error, were the odds not held by a prior
    kept = [not _helps(_losses(outcomes(0.0, seed=s), 0.6)) for s in range(20)]
    assert np.mean(kept) > 0.6


def test_where_other_odds_hold_they_are_taken():
    assert all(_helps(_losses(outcomes(1.5, seed=s), 0.6)) for s in range(5))


def test_a_single_colony_season_proves_nothing():
    # a standard error needs two
    assert not _helps(_losses(outcomes(1.5), 0.6).head(1))


def test_the_chance_learned_from_is_the_scores_own():
    looks = [
        {"colony": f"C{i}", "date": day(2025, at), "combs": 10, "combs_bees": bees}
        for i, bees in enumerate((6, 10, 16))
        for at in (-24, -16, -8, 0)
    ]
    looks.append({"colony": "C3", "date": day(2025, 0), "queen_cells_egg": 3})
    looks.append({"colony": "C4", "date": day(2025, -9), "queen_cells_egg": 2})
    read = conformed(past({2025: 0}, inspections=looks))
    names = [f"C{i}" for i in range(5)]
    at = {"season": 2025, "on": day(2025, 0), "swarmed": 0.0, "weight": 1.0}
    rows = pd.DataFrame({"colony": names * 2, "horizon_d": [7] * 5 + [14] * 5, **at})
    said = foretold(read, rows, evidence=load_evidence())
    tables = {k: read[k] for k in ("colonies", "inspections", "events", "apiaries", "weather")}
    scores = score_colonies(**tables, on=at["on"].date(), words=False).set_index("colony")
    for horizon, mine in said.groupby("horizon_d"):
        wanted = scores.loc[mine["colony"], f"p_{horizon}d"]
        np.testing.assert_allclose(expit(mine["logit"]), wanted, rtol=1e-9)


def test_a_score_with_what_was_learned_has_the_odds_moved(many):
    tables = conformed(past({2025: 0}))
    names = ("colonies", "inspections", "events", "apiaries", "weather")
    before, after = (
        score_colonies(
            **{k: tables[k] for k in names}, on=day(2025, 0).date(), words=False, evidence=evidence
        )["p_14d"].to_numpy()
        for evidence in (load_evidence(), with_learned(load_evidence(), many))
    )
    # each draw's odds are moved, so those of their mean only nearly
    moved = (after / (1 - after)) / (before / (1 - before))
    np.testing.assert_allclose(moved, value_of(many, "learned"), rtol=0.1)
