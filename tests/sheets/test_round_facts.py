"""What the round says has to be done, for hand-made scores and tables."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.sheets.round_facts import day_words, round_of
from swarmwatch.tables import TABLES, conform

ON = date(2026, 6, 5)
EVIDENCE = load_evidence()
READ = (
    *("apiaries", "colonies", "hives", "inspections", "events", "weather"),
    *("sources", "sites", "boxes", "hangings", "checks", "catches"),
)


def day(days):
    return (ON + timedelta(days=days)).isoformat()


def table(name, rows):
    names = list(TABLES[name].names)
    return conform(pd.DataFrame(rows, columns=names, dtype=object), TABLES[name])


def scores_of(*rows):
    """Make scores; what a row does not say is quiet and small."""
    quiet = {
        "apiary": "Orchard",
        "on": ON.isoformat(),
        "p_7d": 0.01,
        "p_7d_low": 0.005,
        "p_7d_high": 0.03,
        "p_14d": 0.05,
        "p_14d_low": 0.02,
        "p_14d_high": 0.09,
        "p_gone": 0.0,
        "p_after_7d": 0.0,
        "level": "quiet",
        "because": "11 days before the usual peak; bees fill 90 % of the room",
        "advice": "nothing now; open it next by then",
        "weather_kind": "observed to 2026-06-05",
    }
    return table("scores", [quiet | row for row in rows])


EMPTY = {name: table(name, []) for name in READ}
YARD = {"apiaries": table("apiaries", [{"apiary": "Orchard", "latitude": 52.0, "longitude": 5.0}])}


def tables(**rows):
    """All tables that a round reads: one yard, and the rows given."""
    return EMPTY | YARD | {name: table(name, some) for name, some in rows.items()}


def facts_of(*rows, **frames):
    return round_of(scores_of(*rows), tables(**frames), on=ON, evidence=EVIDENCE)


def hung(**check):
    """One bait box that hangs, looked at two days ago."""
    return {
        "sites": [{"site": "Shed", "latitude": 52.001, "longitude": 5.001, "permission": "yes"}],
        "boxes": [{"box": "B1"}],
        "hangings": [{"box": "B1", "site": "Shed", "hung_on": day(-30)}],
        "checks": [{"box": "B1", "date": day(-2)} | check],
    }


CAUGHT = hung(scouts=0) | {
    "catches": [
        {
            "box": "B1",
            "site": "Shed",
            "caught_on": day(-20),
            "moved_on": day(-18),
            "to_colony": "Wren",
        }
    ]
}


def test_first_comes_where_a_look_foresees_most_swarms():
    facts = facts_of(
        {"colony": "Low", "p_7d": 0.05},
        {"colony": "High", "p_7d": 0.6},
        {"colony": "Middle", "p_7d": 0.2},
    )
    assert [v.colony for v in facts.visits] == ["High", "Middle", "Low"]
    assert [v.rank for v in facts.visits] == [1, 2, 3]


def test_brood_that_looked_wrong_comes_last_whatever_its_chance():
    # common practice, no source: the hive that may be sick is opened after the well ones
    looks = [{"colony": "Ill", "date": day(-1), "brood_health": "suspect"}]
    facts = facts_of(
        {"colony": "Ill", "p_7d": 0.9}, {"colony": "Well", "p_7d": 0.01}, inspections=looks
    )
    assert [v.colony for v in facts.visits] == ["Well", "Ill"]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"p_7d": 0.3, "p_7d_low": 0.1, "p_7d_high": 0.5}, "30 % (10 % to 50 %) to swarm"),
        ({"p_7d": 1e-4, "p_7d_low": 1e-5, "p_7d_high": 2e-3}, "under 1 % to swarm"),
        ({"p_gone": 0.8}, "probably swarmed already (80 %)"),
        ({"p_gone": 1.0, "p_7d": 0.0}, "has swarmed"),
    ],
)
def test_what_may_come_is_said_in_one_breath(row, said):
    (visit,) = facts_of({"colony": "Ash"} | row).visits
    assert visit.chance.startswith(said)


def test_an_afterswarm_and_a_swarm_that_may_have_left_are_said_too():
    (visit,) = facts_of({"colony": "Ash", "p_gone": 0.2, "p_after_7d": 0.11}).visits
    assert "20 % that it has swarmed already" in visit.later
    assert "11 % that an afterswarm leaves in 7 days" in visit.later


def test_each_colony_falls_due_once_on_its_first_day_and_days_ascend():
    rng = np.random.default_rng(7)
    rows = [
        {"colony": f"C{i}"}
        | {k: day(int(rng.integers(14))) for k in ("do_by", "look_by")}
        | ({"do_by": None} if i % 3 == 0 else {})
        | ({"look_by": None} if i % 4 == 0 else {})
        for i in range(40)
    ]
    facts = facts_of(*rows)
    told = [(due.by, v.colony) for due in facts.due for v in (*due.act, *due.look)]
    wanted = {
        row["colony"]: min(d for d in (row["do_by"], row["look_by"]) if d)
        for row in rows
        if row["do_by"] or row["look_by"]
    }
    assert {colony: by.isoformat() for by, colony in told} == wanted
    assert len(told) == len(wanted)
    assert [due.by for due in facts.due] == sorted({due.by for due in facts.due})


def test_a_quiet_colony_with_nothing_to_do_only_waits_to_be_opened():
    facts = facts_of(
        {"colony": "Calm", "look_by": day(8)},
        {"colony": "Full", "do_by": day(7), "look_by": day(8)},
    )
    assert {v.colony: v.waits for v in facts.visits} == {"Calm": True, "Full": False}
    assert [(len(d.act), len(d.look)) for d in facts.due] == [(1, 0), (0, 1)]


@pytest.mark.parametrize(("level", "needs"), [("quiet", False), ("look-soon", False)])
def test_levels_below_act_do_not_need_the_keeper(level, needs):
    assert facts_of({"colony": "Ash", "level": level}).needs_keeper is needs


@pytest.mark.parametrize("level", ["act", "today"])
def test_act_and_today_need_the_keeper(level):
    assert facts_of({"colony": "Ash"}, {"colony": "Elm", "level": level}).needs_keeper


def test_yards_with_the_same_weather_are_said_together():
    facts = facts_of(
        {"colony": "Ash"},
        {"colony": "Elm", "apiary": "Mill"},
        {"colony": "Oak", "apiary": "Quay", "weather_kind": "usual weather only"},
    )
    assert facts.weather == ("Mill, Orchard: observed to 2026-06-05", "Quay: usual weather only")


@pytest.mark.parametrize(
    ("fetched", "said"),
    [
        ("2026-06-05T04:10:00Z", "; fetched 2026-06-05 04:10 UTC"),
        ("2026-06-04T04:10:00Z", "; fetched 2026-06-04 04:10 UTC, 1 day before this evening"),
        ("2026-05-20T04:10:00Z", "; fetched 2026-05-20 04:10 UTC, 16 days before this evening"),
        (None, ""),
    ],
)
def test_the_age_of_the_weather_is_said(fetched, said):
    warmth = {"date": day(0), "temp_max_c": 20, "temp_min_c": 9}
    rows = [
        warmth | {"kind": "observed", "fetched_at": fetched},
        warmth | {"kind": "normal", "fetched_at": "2026-06-05T05:00:00Z"},
    ]
    facts = facts_of({"colony": "Ash"}, weather=rows)
    assert facts.weather == (f"Orchard: observed to 2026-06-05{said}",)


def test_scouts_at_the_quorum_stand_at_act():
    quorum = int(EVIDENCE.value("levels.scouts_quorum"))
    (few,) = facts_of(**hung(scouts=quorum - 1)).boxes
    (many,) = facts_of(**hung(scouts=quorum)).boxes
    assert (few.level, many.level) == ("quiet", "act")
    assert many.state == f"{quorum} scouts at once on {day(-2)}"


def test_an_occupied_box_stands_at_today_and_says_by_when_to_move_it():
    facts = facts_of(**hung(occupied="yes"))
    (box,) = facts.boxes
    assert (box.level, box.occupied, box.site) == ("today", True, "Shed")
    assert facts.needs_keeper
    latest = ON - timedelta(days=2) + timedelta(days=round(EVIDENCE.value("levels.move_within")))
    assert box.do_by == latest
    assert [d.by for d in facts.due if d.boxes] == [latest]


def test_a_tenant_is_left_alone():
    facts = facts_of(**hung(tenant="bird"))
    (box,) = facts.boxes
    assert box.state == "tenant: bird"
    assert "leave it alone" in box.do
    assert not facts.needs_keeper


def test_a_caught_colony_is_kept_apart_until_its_brood_is_known_to_be_well():
    facts = facts_of({"colony": "Wren"}, **CAUGHT)
    (apart,) = facts.apart
    assert (apart.colony, apart.caught_on, apart.stop) == ("Wren", ON - timedelta(days=20), False)
    assert not facts.needs_keeper


def test_sick_brood_in_a_caught_colony_needs_the_keeper():
    looks = [{"colony": "Wren", "date": day(-1), "brood_health": "suspect"}]
    facts = facts_of({"colony": "Wren"}, inspections=looks, **CAUGHT)
    assert facts.apart[0].stop
    assert facts.needs_keeper


def test_rows_after_the_evening_are_not_read():
    before = hung(scouts=0)
    after = before | {"checks": [*before["checks"], {"box": "B1", "date": day(1), "scouts": 90}]}
    looks = [{"colony": "Ash", "date": day(1), "brood_health": "suspect"}]
    row = {"colony": "Ash", "p_7d": 0.4}
    assert facts_of(row, inspections=looks, **after) == facts_of(row, **before)


def test_the_order_of_rows_is_no_matter():
    rows = [{"colony": f"C{i}", "p_7d": 0.1 * (i % 4), "do_by": day(i)} for i in range(9)]
    assert facts_of(*rows) == facts_of(*rows[::-1])


def test_without_a_yard_there_is_neither_box_nor_fault():
    facts = round_of(scores_of({"colony": "Ash"}), tables(apiaries=[]), on=ON, evidence=EVIDENCE)
    assert (facts.boxes, facts.apart) == ((), ())


def test_without_colonies_there_is_nothing_to_do():
    facts = round_of(scores_of(), tables(), on=ON, evidence=EVIDENCE)
    assert (facts.visits, facts.due, facts.needs_keeper) == ((), (), False)


def test_days_are_named_by_their_weekday():
    for i in range(14):
        that = ON + timedelta(days=i)
        # Zeller's congruence, from memory: the weekday by arithmetic, 0 a Saturday
        month, year = (
            (that.month, that.year) if that.month > 2 else (that.month + 12, that.year - 1)
        )
        century, rest = divmod(year, 100)
        h = (that.day + 13 * (month + 1) // 5 + rest + rest // 4 + century // 4 + 5 * century) % 7
        name = ("Sat", "Sun", "Mon", "Tue", "Wed", "Thu", "Fri")[h]
        assert day_words(that) == f"{name} {that.isoformat()}"
