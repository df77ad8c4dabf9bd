"""Replaying past seasons: what was known each day, and nothing else."""

import datetime as dt
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from past_seasons import day, fake_score, joined, one_season

from swarmwatch.errors import UsageError
from swarmwatch.swarming import backtest
from swarmwatch.swarming.backtest_known import conformed, known_on

ON = dt.date(2025, 5, 30)
DAYS = [dt.date(2025, 5, 24), ON, dt.date(2025, 6, 6)]


@pytest.fixture(scope="module")
def season():
    return one_season(2025, colonies=6)[0]


@pytest.fixture(scope="module")
def three_seasons():
    parts = [one_season(year, colonies=12)[0] for year in (2023, 2024, 2025)]
    tables = joined(*parts)
    days = backtest.season_days(tables, every=9)
    return backtest.replay(tables, days=days, with_features=True, score=fake_score)


@pytest.fixture(scope="module")
def rivals(three_seasons):
    """The three seasons with what the rivals said of each from the others."""
    return backtest.with_rivals(three_seasons, horizons=(7,), seed=1)


@pytest.fixture(scope="module")
def daily(season):
    """Every evening about the swarms, which leave from 14 days before the peak to 19 after."""
    days = [dt.date(2025, 5, 8) + dt.timedelta(days=i) for i in range(45)]
    return backtest.replay(season, days=days, score=fake_score)


def with_a_wild_future(tables):
    """Add rows after ON that would change everything, and newer cells of the colonies table."""
    out = dict(tables)
    later = (
        tables["inspections"]
        .drop_duplicates("colony")
        .assign(date=day(2025, 1), queen_cells_capped=50, combs_bees=30)
    )
    out["inspections"] = pd.concat([tables["inspections"], later], ignore_index=True)
    out["events"] = later[["colony", "date"]].assign(event="split")
    heat = tables["weather"].assign(temp_max_c=39.0)
    heat = heat[heat["date"] > pd.Timestamp(ON)]
    fetched = heat.assign(kind="forecast", fetched_at="2025-06-02T06:00:00Z")
    unkind = heat.assign(kind=None)
    before = tables["weather"][tables["weather"]["date"] <= pd.Timestamp(ON)]
    out["weather"] = pd.concat([before, heat, fetched, unkind], ignore_index=True)
    return out


def test_the_future_changes_no_score(season):
    calm = {**season, "weather": season["weather"][season["weather"]["date"] <= pd.Timestamp(ON)]}
    chances = ["colony", "p_7d", "p_7d_low", "p_7d_high", "p_14d", "p_gone"]
    plain = backtest.replay(calm, days=[ON])[chances]
    wild = backtest.replay(with_a_wild_future(season), days=[ON])[chances]
    pd.testing.assert_frame_equal(plain, wild)


def test_the_future_changes_no_feature(season):
    plain, wild = (
        backtest.replay(t, days=[ON], score=fake_score, with_features=True)
        for t in (season, with_a_wild_future(season))
    )
    columns = [c for c in plain if c.startswith("x_")]
    assert len(columns) > 50
    pd.testing.assert_frame_equal(plain[columns], wild[columns])


def test_outcomes_are_not_shown_to_the_score(season):
    asked = []

    def score(*tables, **more):
        asked.append(more)
        return fake_score(*tables, **more)

    backtest.replay(season, days=[ON], score=score)
    assert set(asked[0]) == {"events", "apiaries", "hives", "evidence"}


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ({"queen_year": 2026}, None),
        ({"queen_year": 2025}, None),
        ({"queen_year": 2025, "started": "2025-05-01"}, 2025),
        ({"queen_year": 2024}, 2024),
    ],
)
def test_a_queen_that_a_swarm_may_have_left_is_not_known_yet(season, cells, expected):
    tables = {**season, "colonies": season["colonies"].head(1).assign(**cells)}
    year = known_on(conformed(tables), ON)["colonies"]["queen_year"][0]
    assert (None if pd.isna(year) else year) == expected


def test_swarmed_last_year_of_an_earlier_season_comes_from_its_outcomes():
    old, new = (one_season(y, colonies=6)[0] for y in (2024, 2025))
    tables = joined(old, new)
    tables["colonies"] = tables["colonies"].assign(swarmed_last_year="yes")
    read = conformed(tables)
    then = known_on(read, dt.date(2024, 5, 30))["colonies"]["swarmed_last_year"]
    now = known_on(read, ON)["colonies"]["swarmed_last_year"]
    assert then.isna().all()
    assert (now == "yes").all()


def test_a_colony_not_hived_yet_has_no_row(season):
    later = season["colonies"].assign(started="2025-06-01")
    rows = backtest.replay({**season, "colonies": later}, days=DAYS, score=fake_score)
    assert rows["on"].dt.date.unique().tolist() == [dt.date(2025, 6, 6)]


def test_a_forecast_fetched_in_time_is_known(season):
    ahead = season["weather"].assign(kind="forecast", fetched_at="2025-05-30T06:00:00Z")
    known = known_on(conformed({**season, "weather": ahead}), ON)["weather"]
    assert known["date"].max() > pd.Timestamp(ON)


def test_a_colony_without_an_outcome_has_no_row(season):
    outcomes = season["outcomes"].iloc[1:]
    rows = backtest.replay({**season, "outcomes": outcomes}, days=DAYS, score=fake_score)
    assert "C0" not in set(rows["colony"])
    assert len(rows) > 0


def test_no_row_follows_the_prime_swarm(daily):
    swarmed = daily[daily["swarm_until"].notna()]
    assert len(swarmed) > 0
    assert (swarmed["on"] < swarmed["swarm_until"]).all()


def test_each_swarm_is_said_to_come_on_each_of_seven_evenings(daily, season):
    before = daily.groupby("colony")["swarmed_7d"].sum()
    swarmed = season["outcomes"].query("outcome == 'swarmed'")["colony"]
    assert (before.loc[swarmed] == 7).all()
    assert before.drop(swarmed).eq(0).all()


def test_a_colony_scored_in_a_replay_gets_its_ordinary_score(season):
    from swarmwatch import score_colonies

    rows = backtest.replay(season, days=[ON]).set_index("colony")
    past = season["weather"][season["weather"]["date"] <= pd.Timestamp(ON)]
    scores = score_colonies(
        season["colonies"], season["inspections"], past, ON, apiaries=season["apiaries"]
    ).set_index("colony")
    np.testing.assert_allclose(
        rows["p_7d"].astype(float), scores.loc[rows.index, "p_7d"].astype(float), rtol=1e-9, atol=0
    )


def test_a_simulations_truth_gives_the_labels():
    tables, truth = one_season(2025, colonies=6)
    by_outcome = backtest.replay(tables, days=DAYS, score=fake_score)
    blank = {**tables, "outcomes": tables["outcomes"].iloc[:0]}
    by_truth = backtest.replay(
        blank, days=DAYS, score=fake_score, truth=truth.drop(columns="season")
    )
    labels = ["colony", "on", "swarmed_7d", "swarmed_14d"]
    pd.testing.assert_frame_equal(by_outcome[labels], by_truth[labels], check_dtype=False)


def test_only_the_horizons_asked_for_come_back(season):
    rows = backtest.replay(season, days=[ON], score=fake_score, horizons=(7,))
    assert "p_7d" in rows
    assert not {"p_14d", "swarmed_14d"} & set(rows)


def test_a_horizon_that_the_score_does_not_give_is_refused(season):
    with pytest.raises(UsageError, match="7 and 14"):
        backtest.replay(season, days=[ON], horizons=(10,))


def test_records_without_an_outcome_give_no_rows(season):
    rows = backtest.replay({**season, "outcomes": season["outcomes"].iloc[:0]})
    assert len(rows) == 0


def test_the_days_go_weekly_through_the_season(season):
    days = backtest.season_days(season)
    assert {(b - a).days for a, b in pairwise(days)} == {7}
    assert days[0] < dt.date(2025, 5, 1)
    assert days[-1] > dt.date(2025, 7, 1)


def test_the_trained_model_never_sees_the_season_it_forecasts(three_seasons, rivals):
    hidden = three_seasons["season"] == 2025
    turned = three_seasons.copy()
    turned.loc[hidden, "swarmed_7d"] = 1 - turned.loc[hidden, "swarmed_7d"]
    other = backtest.with_rivals(turned, horizons=(7,), seed=1)
    for column in ("trained_7d", "base_7d"):
        np.testing.assert_array_equal(rivals.loc[hidden, column], other.loc[hidden, column])
        assert not np.allclose(rivals.loc[~hidden, column], other.loc[~hidden, column])


def test_the_trained_model_learns_what_precedes_a_swarm(rivals):
    found = backtest.summary(rivals, backtest.RIVALS, horizons=(7,)).set_index("forecast")
    assert found.loc["trained model", "roc_area"] > found.loc["base rate", "roc_area"] + 0.1
    assert found.loc["trained model", "brier_skill"] > found.loc["base rate", "brier_skill"]


def test_where_the_other_seasons_saw_no_swarm_the_rivals_still_say_a_chance(three_seasons):
    calm = three_seasons.copy()
    calm.loc[calm["season"] != 2025, "swarmed_7d"] = 0.0
    rows = backtest.with_rivals(calm, horizons=(7,), seed=1)
    here = rows[rows["season"] == 2025]
    assert here["base_7d"].between(0, 0.05, inclusive="neither").all()
    np.testing.assert_array_equal(here["trained_7d"], here["base_7d"])


def test_one_season_teaches_nothing_about_itself(three_seasons):
    alone = three_seasons[three_seasons["season"] == 2025]
    rows = backtest.with_rivals(alone, seed=1)
    assert rows[["base_7d", "trained_14d"]].isna().all(axis=None)
    assert rows["rule_7d"].notna().all()


def test_the_rule_of_thumb_rises_with_the_stage_and_fades_with_age():
    from swarmwatch.evidence import load_evidence
    from swarmwatch.swarming.backtest_baselines import rule_of_thumb

    frame = pd.DataFrame(
        {
            "stage": [np.nan, -1, 0, 1, 3, 3, 3],
            "inspection_age_d": [np.nan, 0, 0, 0, 0, 9, 300],
            "season_weight": 1.0,
        }
    )
    said = rule_of_thumb(frame, 14, evidence=load_evidence())
    assert said[0] == said[1] < said[2] < said[3] < said[4]
    assert said[4] > said[5] > said[6]
    assert said[6] == pytest.approx(said[0], rel=1e-6)


def test_ranges_hold_the_true_chance_of_the_scores_own_model_more_often_than_not(season):
    held = backtest.range_cover(season, days=[ON], sets=3, seed=2)
    assert len(held) == 3 * 6
    assert 0.4 < held["held_7d"].mean() <= 1
    assert held["p_7d"].between(0, 1).all()


def test_the_cover_is_the_same_for_the_same_seed(season):
    first, second = (
        backtest.range_cover(season, days=[ON], sets=1, seed=3)["p_7d"] for _ in range(2)
    )
    pd.testing.assert_series_equal(first, second)
