"""The desk works out no more than a change asks for, and hands out what the score says."""

import datetime as dt
import threading
import time
from functools import partial

import pandas as pd
import pytest
from served import NOW, Clock, small_records

from swarmwatch.page import desk as desk_module
from swarmwatch.page.desk import Desk
from swarmwatch.records import open_records
from swarmwatch.records.scoring import evidence_for, score_tables
from swarmwatch.swarming.visits import order_of_visits
from swarmwatch.swarming.what_if import brood_in_doubt

WAIT_S = 60


def look(colony="Birch", date="2026-06-04", **cells):
    return {"inspections": pd.DataFrame({"colony": [colony], "date": [date]} | cells)}


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """Records without a bait box that hangs: its sums are no matter here, and take long."""
    return small_records(tmp_path_factory.mktemp("small") / "bees.sqlite", hung=False)


@pytest.fixture
def records(template, tmp_path):
    path = tmp_path / "bees.sqlite"
    path.write_bytes(template.read_bytes())
    with open_records(path) as opened:
        yield opened


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def desk(records, clock):
    made = Desk(records, clock=clock, evidence_of=partial(evidence_for, None))
    yield made
    made.close()


@pytest.fixture(scope="module")
def scores(template):
    """True scores of the small records on one evening."""
    with open_records(template) as opened:
        return score_tables(opened.frames(), NOW.date(), evidence_for(None, None))


@pytest.fixture
def scored(monkeypatch, scores):
    """The colonies of each call of the score, which is answered at once from true scores."""
    calls = []

    def score(frames, _on, _evidence, *, words=True):
        assert words
        names = sorted(frames["colonies"]["colony"])
        calls.append(names)
        return scores[scores["colony"].isin(names)].reset_index(drop=True)

    monkeypatch.setattr(desk_module, "score_tables", score)
    return calls


def test_while_nothing_changes_nothing_is_worked_out(desk, scored):
    first, fresh = desk.standing()
    assert fresh
    assert desk.standing() == (first, True)
    assert scored == [["Alder", "Birch"]]


def test_a_note_has_its_colony_scored_anew_and_no_other(desk, records, scored):
    desk.standing()
    records.store(look(queen_cells_capped=["3"]), at=NOW, by="test")
    _, fresh = desk.standing()
    assert fresh
    assert scored == [["Alder", "Birch"], ["Birch"]]


def test_after_a_note_the_scores_are_those_of_all_scored_anew(desk, records):
    before, _ = desk.standing()
    records.store(look(queen_cells_capped=["3"]), at=NOW, by="test")
    standing, _ = desk.standing()
    assert not standing.scores.equals(before.scores)
    anew = score_tables(records.frames(), standing.on, standing.evidence)
    pd.testing.assert_frame_equal(standing.scores, anew, check_exact=False, rtol=1e-9)


def test_weather_has_all_scored_anew(desk, records, scored):
    desk.standing()
    day = {"date": ["2026-06-05"], "temp_max_c": ["21"], "temp_min_c": ["9"]}
    records.store({"weather": pd.DataFrame(day)}, at=NOW, by="test")
    desk.standing()
    assert scored == [["Alder", "Birch"]] * 2


def test_the_keepers_share_of_swarms_has_all_scored_anew(desk, records, scored):
    desk.standing()
    records.set_setting("yearly_swarm_chance", "0.8")
    standing, _ = desk.standing()
    assert scored == [["Alder", "Birch"]] * 2
    assert standing.evidence.value("season.yearly_chance_inspected") == 0.8


def test_a_page_that_has_no_patience_gets_what_there_was(desk, records, scored, monkeypatch):
    before, _ = desk.standing()
    assert len(scored) == 1
    hold, quick = threading.Event(), desk_module.score_tables

    def slow(*arguments, **options):
        hold.wait(WAIT_S)
        return quick(*arguments, **options)

    monkeypatch.setattr(desk_module, "score_tables", slow)
    records.store(look(combs_bees=["3"]), at=NOW, by="test")
    assert desk.standing(patience_s=0.01) == (before, False)
    hold.set()
    after, fresh = desk.standing()
    assert fresh
    assert after is not before


@pytest.mark.parametrize(
    ("hour", "noted", "spoken_of"),
    [
        (19, None, ("2026-06-05", False)),
        (9, None, ("2026-06-04", False)),
        (9, "2026-06-05", ("2026-06-05", True)),
        (9, "2026-06-04", ("2026-06-04", False)),
    ],
)
@pytest.mark.usefixtures("scored")
def test_before_evening_it_speaks_of_the_one_before_unless_something_was_noted_today(
    desk, hour, noted, spoken_of
):
    desk.clock.now = NOW.replace(hour=hour)
    if noted:
        desk.records.store(look(date=noted, combs_bees=["3"]), at=NOW, by="test")
    standing, _ = desk.standing()
    assert (standing.on.isoformat(), standing.noted_today) == spoken_of


@pytest.mark.usefixtures("scored")
def test_a_new_evening_makes_a_new_standing(desk, clock):
    desk.standing()
    clock.now += dt.timedelta(days=1)
    standing, fresh = desk.standing()
    assert fresh
    assert standing.on == dt.date(2026, 6, 6)


def test_a_past_chance_is_that_of_a_score_on_that_evening_and_outlives_a_later_note(desk, records):
    standing, _ = desk.standing()
    desk.histories.ask(standing, "Birch")
    points = wait_for(desk, standing, "Birch", evenings=4).set_index("on")
    on = dt.date(2026, 6, 3)
    row = score_tables(records.frames(), on, standing.evidence).set_index("colony").loc["Birch"]
    for column in ("p_7d", "p_7d_low", "p_7d_high", "p_gone"):
        assert points.loc[on, column] == pytest.approx(row[column], rel=1e-9)

    records.store(look(date="2026-06-03", queen_cells_capped=["3"]), at=NOW, by="test")
    after, _ = desk.standing()
    kept = set(desk.histories.points(after, "Birch")[0]["on"])
    assert {day for day in points.index if day < on} <= kept
    assert {dt.date(2026, 6, d) for d in (3, 4, 5)} & kept == set()


def wait_for(desk, standing, colony, *, evenings):
    give_up_at = time.monotonic() + WAIT_S
    while len(points := desk.histories.points(standing, colony)[0]) < evenings:
        assert time.monotonic() < give_up_at
        time.sleep(0.05)
    return points


def test_visits_and_brood_in_doubt_rest_on_the_last_looks_alone(desk, records):
    for date, cells in (
        ("2026-05-01", {"brood_health": ["suspect"], "queen_cells_egg": ["2"]}),
        ("2026-05-20", {"brood_health": ["unsure"]}),
        ("2026-06-03", {"queen_cells_capped": ["1"]}),
    ):
        records.store(look("Alder", date, **cells), at=NOW, by="test")
    standing, _ = desk.standing()
    whole = records.frame("inspections")
    anew = order_of_visits(
        standing.scores,
        len(standing.scores),
        inspections=whole,
        events=records.frame("events"),
        evidence=standing.evidence,
    )
    assert [dict(v) for v in standing.visits] == anew.to_dict("records")
    assert standing.sick == brood_in_doubt(whole, standing.on) == {"Alder": dt.date(2026, 5, 20)}
