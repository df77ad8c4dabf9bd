"""Own outcomes move few numbers, never far, and only where they foretell seasons left out."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming import learn_likelihood
from swarmwatch.swarming.backtest_known import conformed
from swarmwatch.swarming.learn import fit, own_evidence_text
from swarmwatch.swarming.learn_likelihood import (
    BASE_RATE,
    EYE_KEYS,
    LEARNT,
    SINGLE_KEYS,
    Past,
    intervals,
    prior_of,
    thinned,
    values_at,
)
from swarmwatch.swarming.score import DRAWS, SEED, score_colonies

YARD = {"apiary": "Home", "latitude": 50.0, "longitude": 10.0, "season_peak": "05-30"}
COLONIES = 10
# the level known to a hundredth of its published spread, the other numbers as unsure as that
SURE = np.where(np.array(LEARNT) == BASE_RATE, 0.01, 1.0)


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


def value_of(learned, key, column):
    return learned.table.set_index("key").loc[key, column]


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


def test_more_swarms_than_published_raise_the_base_rate_but_not_to_the_share_seen(many):
    assert value_of(many, BASE_RATE, "published") < value_of(many, BASE_RATE, "fitted") < 0.9


def test_one_outcome_moves_the_base_rate_less_than_many(one, many):
    assert 0 < value_of(one, BASE_RATE, "change") < value_of(many, BASE_RATE, "change") / 2


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


def test_what_no_record_tells_of_stays_as_published(many):
    # nobody looked into a hive, so nothing was found or missed
    for key in EYE_KEYS:
        assert value_of(many, key, "fitted") == value_of(many, key, "published")


def test_the_override_file_loads_over_the_shipped_numbers(many, tmp_path):
    file = tmp_path / "own-evidence.toml"
    file.write_text(own_evidence_text(many), encoding="utf-8")
    own = load_evidence(file)
    np.testing.assert_allclose(
        own.value(BASE_RATE), value_of(many, BASE_RATE, "learned"), rtol=1e-5
    )
    assert own[BASE_RATE].grade == "judgement"
    assert own[BASE_RATE].source == "learned from own outcomes, 20 colonies, 18 swarms"


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


def test_the_prior_holds_the_published_range_as_its_central_80_percent():
    evidence = load_evidence()
    prior = prior_of(evidence)
    entry = evidence["preparation.crowding_effect"]
    at = SINGLE_KEYS.index(entry.key)
    np.testing.assert_allclose(
        prior.middle[at] + np.array([-1, 1]) * 1.2815515655 * prior.sd[at],
        [entry.low, entry.high],
        rtol=1e-9,
    )


def test_the_middle_of_the_prior_is_the_published_values():
    evidence = load_evidence()
    values = values_at(prior_of(evidence).middle, evidence)
    assert set(values) == {*SINGLE_KEYS, *EYE_KEYS}
    for key, value in values.items():
        np.testing.assert_allclose(value, evidence.value(key), rtol=1e-12, atol=1e-12)


def test_a_higher_base_rate_raises_the_chance_of_every_interval():
    evidence = load_evidence()
    tables = past({2025: 2})
    rows = cut(tables)
    trial = Past(conformed(tables), rows[rows["on"] == rows["on"].iloc[0]], evidence)
    prior = prior_of(evidence)
    higher = prior.middle.copy()
    higher[SINGLE_KEYS.index(BASE_RATE)] += prior.sd[0]
    published, raised = trial.logits(np.vstack([prior.middle, higher]), prior.sd)
    assert (raised > published).all()


def test_the_chance_learned_from_is_the_scores_own(monkeypatch):
    # what is left between them is the weather: expected here, drawn there
    looks = [
        {"colony": f"C{i}", "date": day(2025, at), "combs": 10, "combs_bees": bees}
        for i, bees in enumerate((6, 10, 16))
        for at in (-24, -16, -8, 0)
    ]
    looks.append({"colony": "C3", "date": day(2025, 0), "queen_cells_egg": 3})
    looks.append({"colony": "C4", "date": day(2025, -9), "queen_cells_egg": 2})
    read = conformed(past({2025: 0}, inspections=looks))
    names = [f"C{i}" for i in range(5)]
    at = {"season": 2025, "on": day(2025, 0), "horizon_d": 14, "swarmed": 0.0, "weight": 1.0}
    monkeypatch.setattr(learn_likelihood, "_DRAWS", DRAWS)
    monkeypatch.setattr(learn_likelihood, "_SEED", SEED)
    evidence = load_evidence()
    trial = Past(read, pd.DataFrame({"colony": names, **at}), evidence)
    prior = prior_of(evidence)
    tables = {k: read[k] for k in ("colonies", "inspections", "events", "apiaries", "weather")}
    scores = score_colonies(**tables, on=at["on"].date(), words=False).set_index("colony")
    learned_from = expit(trial.logits(prior.middle[None], prior.sd)[0])
    np.testing.assert_allclose(learned_from, scores.loc[names, "p_14d"], rtol=0.1)


def test_notes_say_less_of_a_level_that_is_known_surely():
    # looks without cells make a low level likelier, unless it is known
    empty = [{"colony": "C0", "date": day(2025, at)} for at in (-24, -16, -8, 0)]
    rows = pd.DataFrame(
        {"colony": ["C0", "C1"], "season": 2025, "on": day(2025, 0), "horizon_d": 14}
    ).assign(swarmed=0.0, weight=1.0)
    evidence = load_evidence()
    trial = Past(conformed(past({2025: 0}, inspections=empty)), rows, evidence)
    prior = prior_of(evidence)
    unsure, sure = (trial.logits(prior.middle[None], sd)[0] for sd in (prior.sd, prior.sd * SURE))
    assert unsure[1] - unsure[0] > sure[1] - sure[0]
