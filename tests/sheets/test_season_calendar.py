"""An average year by weeks: when swarms come at a place, and what is done when."""

import datetime as dt
from itertools import pairwise

import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.sheets.season_calendar import KEYS, season_calendars
from swarmwatch.tables import TABLES, conform

EVIDENCE = load_evidence()
ON = dt.date(2026, 4, 1)


def calendars(*yards, on=ON):
    rows = [{"apiary": f"Yard {i}"} | yard for i, yard in enumerate(yards)]
    table = TABLES["apiaries"]
    frame = conform(pd.DataFrame(rows, columns=list(table.names), dtype=object), table)
    return season_calendars(frame, None, on=on, evidence=EVIDENCE)


def day_of(calendar, words):
    (line,) = [d for w in calendar.weeks for d in w.to_do if words in d]
    return dt.date.fromisoformat(line.split()[1].rstrip(":"))


COLD = {"latitude": 59.0, "longitude": 25.0, "elevation_m": 50.0}
MILD = {"latitude": 43.0, "longitude": 5.0, "elevation_m": 50.0}
SOUTH = {"latitude": -38.0, "longitude": 145.0, "elevation_m": 50.0}


@pytest.fixture(scope="module")
def cold():
    return calendars(COLD)[0]


def test_what_is_done_comes_in_its_order(cold):
    days = [day_of(cold, words) for words in ("begin looking", "the first prime", "most prime")]
    assert days == sorted(days)
    assert day_of(cold, "bait boxes hang") < day_of(cold, "the first prime")
    assert day_of(cold, "take the bait") > day_of(cold, "the last prime")


def test_each_thing_stands_in_its_own_week(cold):
    for week in cold.weeks:
        for line in week.to_do:
            day = dt.date.fromisoformat(line.split()[1].rstrip(":"))
            assert week.monday <= day < week.monday + dt.timedelta(days=7)
            assert line.startswith(f"{day:%a} ")


def test_weeks_follow_each_other_and_their_shares_sum_to_the_season(cold):
    mondays = [w.monday for w in cold.weeks]
    assert all(day.weekday() == 0 for day in mondays)
    assert all((b - a).days == 7 for a, b in pairwise(mondays))
    assert sum(w.share for w in cold.weeks) == pytest.approx(1, rel=0, abs=0.02)
    assert cold.weeks[-1].by_then == pytest.approx(1, rel=0, abs=0.01)
    running = 0.0
    for week in cold.weeks:
        running += week.share
        assert week.by_then == pytest.approx(running, rel=0, abs=0.01)


def test_most_swarms_leave_in_the_weeks_round_the_peak(cold):
    best = max(cold.weeks, key=lambda w: w.share)
    assert abs((best.monday + dt.timedelta(days=3) - cold.peak_on).days) <= 10
    assert cold.early < cold.peak_on < cold.late


def test_a_mild_place_has_its_season_earlier_than_a_cold_one(cold):
    # as Ithaca (Fell et al. 1977) comes after Louisiana (Villa 2004)
    assert calendars(MILD)[0].peak_on < cold.peak_on - dt.timedelta(days=14)


def test_the_south_swarms_in_its_own_spring():
    # spring of the southern half of the earth: September to December, astronomy
    assert calendars(SOUTH, on=dt.date(2026, 8, 1))[0].peak_on.month in {9, 10, 11, 12}


def test_a_keepers_own_peak_is_used_and_narrows_its_range(cold):
    own = calendars(COLD | {"season_peak": "06-20"})[0]
    assert own.peak_on == dt.date(2026, 6, 20)
    assert own.late - own.early < cold.late - cold.early


def test_after_the_boxes_came_down_the_next_year_is_shown(cold):
    after = calendars(COLD, on=day_of(cold, "take the bait") + dt.timedelta(days=1))[0]
    assert after.peak_on.year == cold.peak_on.year + 1


def test_each_yard_has_its_own():
    both = calendars(COLD, MILD)
    assert [c.apiary for c in both] == ["Yard 0", "Yard 1"]
    assert both[0].peak_on != both[1].peak_on


def test_the_numbers_behind_it_have_source_and_grade():
    assert all(EVIDENCE[key].grade and EVIDENCE[key].source for key in KEYS)


def test_weeks_move_with_the_evidence(cold):
    wider = EVIDENCE.with_values({"season.sd_before": 28.0})
    frame = conform(pd.DataFrame([{"apiary": "Yard 0"} | COLD]), TABLES["apiaries"])
    (other,) = season_calendars(frame, None, on=ON, evidence=wider)
    assert day_of(other, "the first prime") < day_of(cold, "the first prime")
