"""What a change does to a colony's chances, and what is refused."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scene import NO_CELLS, ON, apiaries, colonies, frame, looks, weather

from swarmwatch import score_colonies
from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.what_if import CHANGES, COLUMNS, brood_in_doubt, read_change, what_if
from swarmwatch.tables.inputs import EVENTS

CROWDED = {"combs_bees": 20, "queen_cells_capped": 4}
FETCHED = ("2026-05-29T18:00:00Z", "2026-06-02T06:00:00Z")
CHANCES = [f"p_{d}d{e}{a}" for d in (7, 14) for e in ("", "_low", "_high") for a in ("", "_after")]


def tried(change, *notes, events=None, sky=None, on=ON):
    table = what_if(
        colonies(),
        looks(*(notes or (NO_CELLS,))),
        weather() if sky is None else sky,
        on,
        change,
        events=events,
        apiaries=apiaries(),
    )
    return table.iloc[0]


def floats(row, columns):
    return row[columns].to_numpy(dtype=float, na_value=np.nan)


def tried_on_each(change, notes):
    """Return what the change does to colonies that differ by their note alone."""
    homes = [colonies(colony=str(i)) for i in range(len(notes))]
    seen = looks(*(note | {"colony": str(i)} for i, note in enumerate(notes)))
    return what_if(pd.concat(homes), seen, weather(), ON, change, apiaries=apiaries())


@settings(max_examples=8, deadline=None)
@given(change=st.sampled_from([*CHANGES, "wait-1", "wait-14"]))
def test_every_chance_stays_between_0_and_1_inside_its_range(change):
    notes = [
        {"combs_bees": bees, "queen_cells_capped": capped}
        for bees in range(2, 21, 3)
        for capped in (0, 1, 3, 8)
    ]
    table = tried_on_each(change, notes)
    assert len(table) == len(notes)
    for _, row in table.iterrows():
        assert ((floats(row, CHANCES) >= 0) & (floats(row, CHANCES) <= 1)).all()
        for days in (7, 14):
            low, p, high = floats(row, [f"p_{days}d{e}_after" for e in ("_low", "", "_high")])
            assert low <= p <= high


def test_a_split_never_raises_the_chance_of_a_crowded_colony_with_cells():
    notes = [
        {"combs_bees": bees, f"queen_cells_{stage}": 6}
        for bees in range(14, 21)
        for stage in ("egg", "larva", "capped")
    ]
    table = tried_on_each("split", notes)
    assert len(table) == len(notes)
    for days in (7, 14):
        before, after = (floats(table, f"p_{days}d{when}") for when in ("", "_after"))
        assert (after <= before).all()


def test_the_columns_before_are_those_of_the_score():
    row = tried("split", CROWDED)
    score = score_colonies(colonies(), looks(CROWDED), weather(), ON, apiaries=apiaries()).iloc[0]
    assert row["p_7d"] == score["p_7d"]
    assert row["likely_date"] == score["likely_date"]


def test_a_change_gives_what_the_score_gives_once_it_is_noted():
    event = frame({"colony": "A", "date": ON, "event": "combs-added"})
    score = score_colonies(
        colonies(), looks(CROWDED), weather(), ON, events=event, apiaries=apiaries()
    ).iloc[0]
    assert tried("combs-added", CROWDED)["p_14d_after"] == score["p_14d"]


def test_waiting_counts_the_swarms_of_the_days_waited():
    row = tried("wait-7", CROWDED)
    by_then = row["p_gone"] + (1 - row["p_gone"]) * row["p_7d"]
    # the wait takes the forecast for true, the score lets it err: near, not the same
    np.testing.assert_allclose(row["p_gone_after"], by_then, rtol=0, atol=0.15)


def test_a_longer_wait_never_makes_a_swarm_less_likely_to_have_left():
    gone = [tried(f"wait-{n}", CROWDED)["p_gone_after"] for n in (1, 4, 7, 9, 12)]
    assert gone == sorted(gone)


def test_a_wait_does_not_use_looks_or_events_of_later_days():
    later = {"date": "2026-06-02", "queen_cells_capped": 9}
    swarmed = frame({"colony": "A", "date": "2026-06-03", "event": "swarmed"})
    known = tried("wait-7", NO_CELLS)["p_gone_after"]
    assert tried("wait-7", NO_CELLS, later, events=swarmed)["p_gone_after"] == known


def test_a_wait_does_not_use_weather_that_is_seen_later():
    sky = weather(kind="observed")
    cold = sky.assign(temp_max_c=sky["temp_max_c"].where(sky["date"] <= pd.Timestamp(ON), 5.0))
    known = tried("wait-7", CROWDED, sky=sky)["p_gone_after"]
    assert tried("wait-7", CROWDED, sky=cold)["p_gone_after"] == known


def test_a_wait_goes_by_the_forecast():
    sky = weather()
    ahead = sky["date"] > pd.Timestamp(ON)
    cold = sky.assign(temp_max_c=sky["temp_max_c"].where(~ahead, 8.0))
    warm = tried("wait-5", CROWDED, sky=sky)["p_gone_after"]
    assert tried("wait-5", CROWDED, sky=cold)["p_gone_after"] < warm


def test_a_wait_takes_the_newest_forecast_known_that_evening():
    sky = weather()
    ahead = sky[sky["date"] > pd.Timestamp(ON)]
    old, late = (ahead.assign(kind="forecast", temp_max_c=8.0, fetched_at=f) for f in FETCHED)
    new = ahead.assign(kind="forecast", fetched_at="2026-05-30T18:00:00Z")
    known = tried("wait-5", CROWDED, sky=sky)["p_gone_after"]
    three = pd.concat([late, new, old, sky[sky["date"] <= pd.Timestamp(ON)]])
    assert tried("wait-5", CROWDED, sky=three)["p_gone_after"] == known


def test_a_wait_needs_no_weather():
    row = what_if(colonies(), None, None, ON, "wait-3", apiaries=apiaries()).iloc[0]
    assert 0 <= row["p_gone_after"] <= 1


@pytest.mark.parametrize("change", CHANGES)
def test_nothing_is_moved_where_the_brood_looks_sick(change):
    homes = pd.concat([colonies(colony="A"), colonies(colony="B")])
    notes = [{"colony": c, "brood_health": h} for c, h in (("A", "unsure"), ("B", "suspect"))]
    sick = looks(*(NO_CELLS | note for note in notes))
    table = what_if(homes, sick, weather(), ON, change, apiaries=apiaries())
    assert table["colony"].tolist() == ["A", "B"]
    assert table["p_7d_after"].isna().all()
    assert table["difference"].str.contains("2026-05-27 the brood did not look right").all()
    assert table["caution"].str.contains("bee inspector").all()


def test_a_later_look_without_a_word_on_brood_leaves_the_doubt():
    notes = ({"date": "2026-05-20", "brood_health": "suspect"}, NO_CELLS)
    assert list(brood_in_doubt(looks(*notes), ON)) == ["A"]


def test_brood_that_looks_normal_again_ends_the_doubt():
    notes = ({"date": "2026-05-20", "brood_health": "suspect"}, {"brood_health": "normal"})
    assert brood_in_doubt(looks(*notes), ON) == {}


def test_waiting_is_tried_where_the_brood_looks_sick():
    assert tried("wait-3", {"brood_health": "suspect"})["p_gone_after"] >= 0


def test_removing_cells_is_said_to_fail_often_and_to_need_a_look_in_4_to_5_days():
    caution = tried("queen-cells-removed", CROWDED)["caution"]
    missed = load_evidence().value("actions.cells_removed_missed")
    assert "often fails and is no advice" in caution
    assert f"{missed * 100:.0f} %" in caution
    assert "look again in 4 to 5 days" in caution


def test_a_recorded_swarm_leaves_nothing_to_prevent():
    swarmed = frame({"colony": "A", "date": "2026-05-28", "event": "swarmed"})
    assert "no prime swarm is left" in tried("split", events=swarmed)["difference"]


def test_a_change_already_noted_that_day_is_made_once_more():
    noted = frame({"colony": "A", "date": ON, "event": "room-added"})
    assert tried("room-added", CROWDED, events=noted)["p_14d_after"] >= 0


def test_a_colony_that_died_has_no_row():
    died = frame({"colony": "A", "date": "2026-05-01", "event": "died"})
    table = what_if(colonies(), None, weather(), ON, "split", events=died, apiaries=apiaries())
    assert table.empty
    assert tuple(table.columns) == COLUMNS


def test_every_change_is_an_event_that_can_be_noted():
    assert set(CHANGES) <= set(EVENTS)


@pytest.mark.parametrize("written", ["Room added", " room_added ", "ROOM-ADDED"])
def test_a_change_is_read_in_any_case_and_with_spaces(written):
    assert read_change(written) == "room-added"


@pytest.mark.parametrize("wrong", ["wait-0", "wait-15", "wait-x", "wait", "wait-1.5"])
def test_a_wait_outside_1_to_14_days_is_refused(wrong):
    with pytest.raises(UsageError, match="wait-1 to wait-14"):
        read_change(wrong)


@pytest.mark.parametrize(
    ("wrong", "meant"), [("splitt", "split"), ("room", "room-added"), ("requeen", "requeened")]
)
def test_an_unknown_change_names_the_nearest(wrong, meant):
    with pytest.raises(UsageError, match=rf"Did you mean .*{meant}"):
        read_change(wrong)


@pytest.mark.parametrize("wrong", ["swarmed", "fed", "", "dance"])
def test_what_the_score_cannot_try_is_refused_with_the_list(wrong):
    with pytest.raises(UsageError, match=r"It can try room-added, .*wait-14"):
        read_change(wrong)


def test_a_day_that_is_no_date_is_refused():
    with pytest.raises(UsageError, match="is not a date"):
        tried("split", on="soon")
