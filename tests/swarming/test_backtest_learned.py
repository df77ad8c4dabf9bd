"""The score that learned from other seasons: never from its own, and only where learning holds."""

import pandas as pd
import pytest
from test_learn import day, past

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.backtest_learned import with_learned_score
from swarmwatch.swarming.learn import ODDS

EVIDENCE = load_evidence()
KEPT = ["colony", "season", "on"]


class Replays:
    """Stands in for the replay: keeps what it was asked, and says its own chances."""

    def __init__(self):
        self.asked = {}

    def __call__(self, season, evenings, evidence):
        self.asked[season] = evidence
        said = rows_of([season]).assign(p_7d=0.7, p_14d=0.8)
        return said[said["on"].dt.date.isin(evenings)].iloc[::-1]


def rows_of(seasons):
    rows = [
        {"colony": colony, "season": season, "on": day(season, at), "p_7d": 0.1, "p_14d": 0.2}
        for season in seasons
        for at in (-7, 0)
        for colony in ("C1", "C2")
    ]
    return pd.DataFrame(rows)


@pytest.fixture(scope="module")
def replays():
    """Nine of ten colonies swarmed in two seasons, none in a third."""
    again = Replays()
    tables = past({2023: 9, 2024: 9, 2025: 0})
    again.rows = with_learned_score(
        rows_of([2023, 2024, 2025]), tables, again=again, evidence=EVIDENCE
    )
    return again


def test_the_season_foretold_is_never_learned_from(replays):
    # the other two agree that most colonies swarm; of the first two, each has one that disagrees
    assert set(replays.asked) == {2025}
    assert replays.asked[2025].value(ODDS) > EVIDENCE.value(ODDS)


def test_what_was_learned_comes_with_its_own_range(replays):
    before, after = EVIDENCE[ODDS], replays.asked[2025][ODDS]
    assert after.high / after.low < before.high / before.low


def test_the_learned_chances_stand_beside_the_others(replays):
    learned = replays.rows.groupby("season")[["p_7d", "learned_7d", "learned_14d"]].first()
    assert learned.loc[2025].tolist() == [0.1, 0.7, 0.8]


def test_where_nothing_holds_the_score_stays_as_it_was(replays):
    kept = replays.rows[replays.rows["season"] < 2025]
    assert (kept["learned_7d"] == kept["p_7d"]).all()
    assert replays.rows.groupby("season")["learned"].all().tolist() == [False, False, True]


def test_the_rows_stay_what_they_were(replays):
    pd.testing.assert_frame_equal(replays.rows[KEPT], rows_of([2023, 2024, 2025])[KEPT])
