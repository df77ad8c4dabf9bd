"""The chart draws what the points say, and says in words what it draws."""

import datetime as dt

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swarmwatch.page.chart import chart_of

START = dt.date(2026, 5, 1)


def points(chances, gone=0.0):
    return pd.DataFrame(
        {
            "on": [START + dt.timedelta(days=k) for k in range(len(chances))],
            "p_7d": chances,
            "p_7d_low": [c / 2 for c in chances],
            "p_7d_high": [min(1.0, 1.5 * c) for c in chances],
            "p_gone": gone,
        }
    )


def pairs(text):
    return [tuple(map(float, p.split(","))) for p in text.split()]


def test_one_evening_is_no_chart():
    assert chart_of(points([0.2]), looks=[], deeds=[]) is None


@given(st.lists(st.floats(0, 1), min_size=2, max_size=42))
def test_line_and_band_lie_in_the_frame_and_the_line_in_the_band(chances):
    chart = chart_of(points(chances), looks=[], deeds=[])
    line, band = pairs(chart.line), pairs(chart.band)
    high, low = band[: len(line)], band[len(line) :][::-1]
    assert [x for x, _ in line] == [x for x, _ in high] == [x for x, _ in low]
    for (x, y), (_, top), (_, bottom) in zip(line, high, low, strict=True):
        assert chart.left <= x <= chart.right
        assert chart.top <= top <= y <= bottom <= chart.bottom
    assert [line[0][0], line[-1][0]] == [chart.left, chart.right]


def test_the_scale_is_the_lowest_round_one_that_holds_the_range():
    tops = [
        chart_of(points([p, p]), looks=[], deeds=[]).scale[-1].text for p in (0.01, 0.12, 0.3, 0.9)
    ]
    assert tops == ["10 %", "25 %", "50 %", "100 %"]


def test_looks_and_events_outside_are_left_out_and_those_inside_stand_at_their_day():
    day = dt.timedelta(days=1)
    looks = [START - day, START, START + 2 * day]
    chart = chart_of(points([0.1] * 3), looks=looks, deeds=[(START + day, "split")])
    assert list(chart.looks) == [chart.left, chart.right]
    assert chart.deeds[0] == pytest.approx((chart.left + chart.right) / 2, abs=0.1)


def test_the_table_says_all_that_the_chart_draws_newest_first():
    chart = chart_of(points([0.1, 0.4]), looks=[START], deeds=[(START, "split")])
    assert [(r.day, r.p, r.span, r.what) for r in chart.rows] == [
        ("2026-05-02", "40 %", "20 % to 60 %", ""),
        ("2026-05-01", "10 %", "5 % to 15 %", "inspected, split"),
    ]


def test_the_summary_names_first_last_and_highest():
    text = chart_of(points([0.1, 0.4, 0.2]), looks=[START], deeds=[]).summary
    assert "from 2026-05-01 (10 %) to 2026-05-03 (20 %)" in text
    assert "highest on 2026-05-02 (40 %)" in text
    assert "1 inspection, 0 events" in text


def test_once_the_swarm_has_left_the_table_says_so():
    chart = chart_of(points([0.0, 0.0], gone=1.0), looks=[], deeds=[])
    assert {r.p for r in chart.rows} == {"left"}
