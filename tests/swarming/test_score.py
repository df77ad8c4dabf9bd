import datetime as dt

import numpy as np
import pandas as pd
import pytest
from scene import COLONY, LOOK, NO_CELLS, ON, YARD, apiaries, colonies, frame, looks, weather

from swarmwatch import load_evidence, score_colonies
from swarmwatch.errors import RecordsError, UsageError
from swarmwatch.tables import TABLES

CHANCES = ("p_7d", "p_7d_low", "p_7d_high", "p_14d", "p_14d_low", "p_14d_high", "p_gone")


def score(*changes, on=ON, colony=None, yard=None, sky=None, **more):
    return score_colonies(
        colonies(**(colony or {})),
        looks(*changes) if changes else None,
        weather() if sky is None else sky,
        on,
        apiaries=apiaries(**(yard or {})),
        **more,
    ).iloc[0]


def side_by_side(*changes, each=None):
    """Score one colony for each look, in one call: a colony's score is its own in any crowd."""
    names = [f"A{i}" for i in range(len(changes))]
    mores = each or [{}] * len(names)
    homes = [COLONY | {"colony": n} | more for n, more in zip(names, mores, strict=True)]
    rows = [
        c | {"colony": n}
        for n, look in zip(names, changes, strict=True)
        for c in (look if isinstance(look, tuple) else (look,))
    ]
    scores = score_colonies(frame(*homes), looks(*rows), weather(), ON, apiaries=apiaries())
    assert scores["colony"].tolist() == names
    return [row for _, row in scores.iterrows()]


def coming(row):
    """The chance that it has left, or will within a week."""
    return row["p_gone"] + (1 - row["p_gone"]) * row["p_7d"]


def test_the_result_is_the_scores_table():
    scores = score_colonies(colonies(), looks({}), weather(), ON, apiaries=apiaries())
    assert tuple(scores.columns) == TABLES["scores"].names
    assert scores[list(CHANCES)].notna().all(axis=None)


def test_equal_input_gives_equal_output():
    pd.testing.assert_series_equal(score({}), score({}))


def test_later_stages_of_cells_raise_the_chance():
    stages = [{}, *({f"queen_cells_{stage}": 8} for stage in ("egg", "larva", "capped"))]
    by_stage = [coming(row) for row in side_by_side(*(NO_CELLS | stage for stage in stages))]
    assert by_stage == sorted(by_stage)
    assert by_stage[0] < 0.3
    assert by_stage[-1] > 0.7


def test_the_range_holds_a_chance_that_lies_beyond_its_draws():
    # a young queen, no eggs and many sealed cells: few draws explain all of it
    told = NO_CELLS | {"eggs_seen": "no", "queen_seen": pd.NA, "combs_brood": 1}
    cells = [told | {"queen_cells_capped": 12, "combs_bees": b} for b in np.arange(4, 14, 0.25)]
    rows = side_by_side(*cells, each=[{"queen_year": 2026}] * len(cells))
    for horizon in ("p_7d", "p_14d"):
        for row in rows:
            assert row[f"{horizon}_low"] <= row[horizon] <= row[f"{horizon}_high"]


def test_a_later_stage_never_lowers_the_chance_whatever_the_number_of_cells():
    stages = ("egg", "larva", "capped")
    kinds = [(number, bees) for number in (1, 2, 3, 5, 8, 15) for bees in (5, 9, 14)]
    cells = [{f"queen_cells_{s}": n, "combs_bees": b} for n, b in kinds for s in stages]
    chances = [coming(row) for row in side_by_side(*(NO_CELLS | c for c in cells))]
    falls = np.diff(np.reshape(chances, (len(kinds), len(stages)))) < 0
    assert [kind for kind, fell in zip(kinds, falls.any(axis=1), strict=True) if fell] == []


@pytest.mark.parametrize("stage", ["larva", "capped"])
def test_more_cells_never_lower_the_chance_that_cells_end_in_a_swarm(stage):
    numbers = [{f"queen_cells_{stage}": n} for n in range(1, 21)]
    chances = [coming(row) for row in side_by_side(*(NO_CELLS | n for n in numbers))]
    assert (chances >= np.maximum.accumulate(chances) - 1e-3).all()


def test_looked_and_none_is_not_the_same_as_not_looked():
    none, not_looked = side_by_side(NO_CELLS, {})
    assert none["p_7d"] < not_looked["p_7d"]


def test_none_found_in_part_of_the_brood_says_less():
    partly = [NO_CELLS | {"combs_looked": n} for n in (8, 2)]
    whole, part, not_looked = (row["p_7d"] for row in side_by_side(*partly, {}))
    assert whole < part < not_looked


def test_more_crowding_never_lowers_the_chance():
    rows = side_by_side(*(NO_CELLS | {"combs_bees": b} for b in np.arange(4, 30, 0.25)))
    chances = [row["p_14d"] for row in rows]
    assert (chances >= np.maximum.accumulate(chances) - 1e-9).all()


def test_capped_cells_without_queen_and_eggs_say_that_it_has_gone():
    cells = NO_CELLS | {"date": "2026-05-30", "queen_cells_capped": 8}
    rows = side_by_side(*(cells | {"eggs_seen": s, "queen_seen": s} for s in ("yes", "no")))
    there, gone = (row["p_gone"] for row in rows)
    assert gone > 0.5 > there


def test_a_fall_in_bees_raises_gone():
    before = {"date": "2026-05-18", **NO_CELLS}
    cells = NO_CELLS | {"queen_cells_capped": 8}
    rows = side_by_side(*((before, cells | {"combs_bees": b}) for b in (16, 5)))
    steady, fallen = (row["p_gone"] / (1 - row["p_gone"]) for row in rows)
    assert fallen > 5 * steady


def test_an_old_queen_raises_and_a_new_one_lowers_the_chance():
    queens = [{"queen_year": year} for year in (2026, 2025, 2024)]
    new, first, second = (row["p_14d"] for row in side_by_side(*[NO_CELLS] * 3, each=queens))
    assert new < first < second


def test_a_clipped_queen_moves_the_swarm_later():
    cells = NO_CELLS | {"queen_cells_larva": 8}
    queens = [{"queen_clipped": c} for c in ("no", "yes")]
    flying, clipped = side_by_side(cells, cells, each=queens)
    assert clipped["p_7d"] < flying["p_7d"]
    assert clipped["likely_date"] > flying["likely_date"]


def test_cold_days_hold_a_swarm_back():
    cells = NO_CELLS | {"queen_cells_capped": 8, "date": "2026-05-30"}
    warm, cold = (score(cells, sky=weather(temp_max_c=t))["p_7d"] for t in (23.0, 9.0))
    assert cold < warm


def test_without_weather_there_is_a_score_that_says_so():
    row = score(NO_CELLS, sky=weather().head(0))
    assert 0 < row["p_7d"] < 1
    assert "normal" in row["weather_kind"]


def test_without_weather_the_range_is_wider():
    cells = NO_CELLS | {"queen_cells_capped": 8, "date": "2026-05-30", "eggs_seen": "yes"}
    with_it, without = (score(cells, sky=w) for w in (weather(), weather().head(0)))
    assert _width(without) > _width(with_it)


def _width(row):
    return row["p_7d_high"] - row["p_7d_low"]


@pytest.mark.parametrize(
    "rows",
    [
        (),
        ({},),
        ({"date": "2025-09-01"},),
        (NO_CELLS | {"queen_cells_capped": 3, "oldest_queen_cell": "egg"},),
        (NO_CELLS, {"queen_cells_capped": 5}),
        ({"date": "2026-05-29"}, {"date": "2026-04-29"}),
        ({"combs": None, "combs_bees": None, "combs_brood": None, "combs_looked": None},),
        ({"combs": 0, "combs_bees": 0, "combs_brood": 0, "combs_looked": 0},),
    ],
    ids=[
        "never inspected",
        "no word of cells",
        "last autumn",
        "contradiction",
        "two a day",
        "out of order",
        "all blank",
        "all zero",
    ],
)
def test_odd_notes_get_a_score_and_a_reason(rows):
    row = score(*rows)
    values = row[list(CHANCES)].astype(float)
    assert np.isfinite(values).all()
    assert ((values >= 0) & (values <= 1)).all()
    assert row["because"]
    assert row["advice"]


@pytest.mark.parametrize("day", ["2026-01-15", "2026-04-15", "2026-07-15", "2026-10-30"])
def test_every_place_and_season_gets_a_score(day):
    yards = {f"At {latitude}": latitude for latitude in (-78.0, -37.0, 0.0, 30.0, 64.0, 78.0)}
    scores = score_colonies(
        frame(*(COLONY | {"colony": name, "apiary": name} for name in yards)),
        looks(*({"colony": name, "date": day} for name in yards)),
        weather(),
        day,
        apiaries=frame(
            *(
                YARD | {"apiary": name, "latitude": latitude, "season_peak": None}
                for name, latitude in yards.items()
            )
        ),
    )
    assert set(scores["colony"]) == set(yards)
    assert np.isfinite(scores[list(CHANCES)].astype(float)).all(axis=None)


def test_ranges_hold_the_chance():
    for row in side_by_side(NO_CELLS, {"queen_cells_capped": 8}, {}):
        for p in ("p_7d", "p_14d"):
            assert row[f"{p}_low"] <= row[p] <= row[f"{p}_high"]
        assert row["p_7d"] <= row["p_14d"]


@pytest.mark.parametrize("event", ["died", "united", "absconded"])
def test_a_colony_that_is_no_more_gets_no_row(event):
    events = frame({"colony": "A", "date": "2026-05-28", "event": event})
    scores = score_colonies(
        colonies(), looks({}), weather(), ON, apiaries=apiaries(), events=events
    )
    assert scores.empty
    assert tuple(scores.columns) == TABLES["scores"].names


def test_a_recorded_swarm_leaves_only_afterswarms_to_fear():
    events = frame({"colony": "A", "date": "2026-05-24", "event": "swarmed"})
    row = score({"date": "2026-05-20"}, events=events)
    assert (row["p_gone"], row["p_7d"], row["p_14d"]) == (1, 0, 0)
    assert row["p_after_7d"] > 0.4
    assert "2026-05-24" in row["because"]


def test_a_swarm_within_a_span_is_gone_too():
    events = frame(
        {"colony": "A", "date": "2026-05-28", "date_from": "2026-05-21", "event": "swarmed"}
    )
    assert score({"date": "2026-05-20"}, events=events)["p_gone"] == 1


def test_long_after_the_swarm_no_afterswarm_is_feared():
    events = frame({"colony": "A", "date": "2026-05-01", "event": "swarmed"})
    assert score({"date": "2026-04-28"}, events=events)["p_after_7d"] == 0


def test_a_split_lowers_the_chance():
    cells = NO_CELLS | {"queen_cells_larva": 8, "date": "2026-05-29"}
    events = frame({"colony": "A", "date": "2026-05-29", "event": "split", "queen_went": "moved"})
    assert score(cells, events=events)["p_7d"] < score(cells)["p_7d"] / 3


def test_removing_cells_lowers_the_chance_but_not_to_nothing():
    cells = NO_CELLS | {"queen_cells_larva": 8, "date": "2026-05-29"}
    events = frame({"colony": "A", "date": "2026-05-29", "event": "queen-cells-removed"})
    removed, left = score(cells, events=events)["p_14d"], score(cells)["p_14d"]
    assert 0.05 < removed < left


def test_room_added_lowers_the_chance_of_a_crowded_hive():
    crowded = NO_CELLS | {"combs": 10, "combs_bees": 12, "date": "2026-05-24"}
    events = frame({"colony": "A", "date": "2026-05-24", "event": "room-added"})
    assert score(crowded, events=events)["p_14d"] < score(crowded)["p_14d"]


def test_a_requeened_colony_is_no_longer_gone():
    events = frame(
        {"colony": "A", "date": "2026-05-10", "event": "swarmed"},
        {"colony": "A", "date": "2026-05-25", "event": "requeened"},
    )
    row = score({"date": "2026-05-01"}, events=events)
    assert row["p_gone"] < 0.1
    assert row["p_7d"] > 0


def test_nothing_known_after_the_evening_is_used():
    later = {"date": "2026-06-02", "queen_cells_capped": 9}
    events = frame({"colony": "A", "date": "2026-06-01", "event": "swarmed"})
    seen = weather().assign(kind="observed")
    warm = seen.assign(temp_max_c=seen["temp_max_c"].where(seen["date"] <= pd.Timestamp(ON), 35.0))
    known = score(NO_CELLS, sky=seen)
    pd.testing.assert_series_equal(score(NO_CELLS, later, sky=warm, events=events), known)


def test_order_of_rows_and_index_do_not_matter():
    rows = looks(NO_CELLS | {"date": "2026-05-10"}, NO_CELLS, {"date": "2026-05-18", "colony": "B"})
    both = pd.concat([colonies(), colonies(colony="B")])
    sky = weather()
    first = score_colonies(both, rows, sky, ON, apiaries=apiaries())
    second = score_colonies(
        both.iloc[::-1],
        rows.iloc[::-1],
        sky.sample(frac=1, random_state=1),
        ON,
        apiaries=apiaries(),
    )
    pd.testing.assert_frame_equal(first, second.iloc[::-1].reset_index(drop=True))


def test_a_colony_scored_alone_or_in_a_crowd_gets_the_same():
    many = pd.concat(
        [colonies(colony=f"C{i}", apiary="Home" if i % 2 else "Away") for i in range(6)]
    )
    rows = pd.concat([looks(NO_CELLS | {"colony": f"C{i}", "combs_bees": 8 + i}) for i in range(6)])
    yards = pd.concat([apiaries(), apiaries(apiary="Away", latitude=60.0, season_peak="06-20")])
    crowd = score_colonies(many, rows, weather(), ON, apiaries=yards).set_index("colony")
    alone = score_colonies(
        many[many["colony"] == "C3"], rows, weather(), ON, apiaries=yards
    ).set_index("colony")
    chances = list(CHANCES)
    np.testing.assert_allclose(
        crowd.loc["C3", chances].astype(float),
        alone.loc["C3", chances].astype(float),
        rtol=1e-9,
        atol=1e-12,
    )


def test_frames_may_lack_columns_and_hold_any_blank():
    rows = looks({}).assign(queen_seen=pd.NA, queen_cups=None, drones=np.nan, made_up="x")
    rows["date"] = [dt.date(2026, 5, 27)]
    scores = score_colonies(colonies(), rows, None, ON)
    assert len(scores) == 1


def test_supersedure_cells_are_never_called_quiet_in_season():
    few = NO_CELLS | {"queen_cells_capped": 2, "combs_bees": 6, "eggs_seen": "yes"}
    row = score(few)
    assert row["level"] != "quiet"
    assert "unclear" in row["advice"]


def test_sick_brood_stops_all_moving_and_widens_the_range():
    well, sick = side_by_side(*(NO_CELLS | {"brood_health": h} for h in ("normal", "suspect")))
    assert "bee inspector" in sick["advice"]
    assert sick["p_7d_high"] - sick["p_7d_low"] > well["p_7d_high"] - well["p_7d_low"]


def test_nobody_is_told_to_remove_all_cells_without_having_seen_the_queen():
    cells = NO_CELLS | {"queen_cells_larva": 9, "date": "2026-05-29"}
    rows = side_by_side(*(cells | {"queen_seen": q} for q in ("no", "yes")))
    unseen, seen = (row["advice"] for row in rows)
    assert "remove cells" not in unseen
    assert "leave one or two good cells" in unseen
    assert "remove cells and look again" in seen


def test_out_of_season_no_look_is_asked_for():
    row = score({"date": "2026-01-10"}, on="2026-01-15")
    assert pd.isna(row["look_by"])
    assert row["level"] == "quiet"


def test_a_broken_cell_is_named():
    with pytest.raises(RecordsError, match=r"inspections row 2, combs_bees: 'many'"):
        score({"combs_bees": "many"})


def test_a_broken_date_is_named():
    with pytest.raises(UsageError, match="31 May"):
        score({}, on="31 May?")


def test_an_own_base_rate_moves_every_chance():
    low, high = (
        score({}, evidence=load_evidence().with_values({"season.yearly_chance_inspected": p}))[
            "p_14d"
        ]
        for p in (0.1, 0.8)
    )
    assert low < score({})["p_14d"] < high


SWARMED = {"colony": "A", "date": ON - dt.timedelta(days=2), "event": "swarmed"}


@pytest.mark.parametrize("event", ["queen-cells-thinned", "afterswarmed"])
@pytest.mark.parametrize("days", [3, 365])
def test_what_came_before_the_swarm_says_nothing_of_its_afterswarms(event, days):
    before = {"colony": "A", "date": ON - dt.timedelta(days=days), "event": event}
    plain, also = (score({}, events=frame(*e)) for e in ([SWARMED], [before, SWARMED]))
    assert also["p_after_7d"] == pytest.approx(plain["p_after_7d"])


@pytest.mark.parametrize("event", ["queen-cells-thinned", "afterswarmed"])
def test_what_followed_the_swarm_lowers_its_afterswarms(event):
    after = {"colony": "A", "date": ON - dt.timedelta(days=1), "event": event}
    plain, also = (score({}, events=frame(*e)) for e in ([SWARMED], [SWARMED, after]))
    assert also["p_after_7d"] < plain["p_after_7d"]


def test_cells_torn_before_the_swarm_say_nothing_of_its_afterswarms():
    torn = {"date": ON - dt.timedelta(days=4), "queen_cells_torn": 2}
    whole = torn | {"queen_cells_torn": None}
    later = torn | {"date": ON - dt.timedelta(days=1)}
    plain, also, lower = (
        score(look, events=frame(SWARMED))["p_after_7d"] for look in (whole, torn, later)
    )
    assert also > 0.9 * plain
    assert lower < 0.7 * plain


def test_more_colonies_than_anybody_reads_are_scored_without_words(monkeypatch):
    monkeypatch.setattr("swarmwatch.swarming.score.MOST_IN_WORDS", 0)
    plain, asked = score(NO_CELLS), score(NO_CELLS, words=True)
    assert pd.isna(plain["because"])
    assert asked["because"]
    assert plain["p_14d"] == pytest.approx(asked["p_14d"], rel=1e-9)


def test_a_weak_colony_noted_with_much_brood_is_not_called_swarmed():
    # few bees at every look against what so much brood would give; eggs, no cells
    days = [
        {"date": f"2026-04-{d}", "combs_bees": 2, "eggs_seen": "yes"}
        for d in ("01", "11", "20", "28")
    ]
    row = score(*(NO_CELLS | d for d in days), on=dt.date(2026, 4, 30))
    assert row["p_gone"] < 0.1


def test_every_chance_stays_a_chance_after_many_looks():
    rng = np.random.default_rng(4)
    names = [f"C{i}" for i in range(60)]
    dates = ("2026-05-01", "2026-05-10", "2026-05-19", "2026-05-28")
    rows = [
        LOOK
        | NO_CELLS
        | {
            "colony": name,
            "date": date,
            "combs_bees": round(rng.uniform(0, 40), 2),
            "queen_cells_capped": int(rng.integers(0, 4)) if date == dates[-1] else 0,
            "eggs_seen": str(rng.choice(["yes", "no"])),
        }
        for name in names
        for date in dates
    ]
    table = score_colonies(
        frame(*(COLONY | {"colony": name} for name in names)),
        frame(*rows),
        weather(),
        ON,
        apiaries=apiaries(),
        words=False,
    )
    chances = table[[*CHANCES, "p_after_7d"]]
    assert ((chances >= 0) & (chances <= 1)).all(axis=None)
