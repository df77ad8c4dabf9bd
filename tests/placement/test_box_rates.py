"""A site's record moves its rate, and is counted once."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.evidence import load_evidence
from swarmwatch.placement.box_life import (
    box_season,
    prior_rate,
    rate_after,
    site_records,
    sites_with_records,
)
from swarmwatch.tables import TABLES, empty

EVIDENCE = load_evidence()
YARD = pd.DataFrame({"apiary": ["home"], "latitude": [52.0], "longitude": [5.0]})
SEASON = box_season(YARD, None, on=date(2026, 5, 1), evidence=EVIDENCE)
ON = date(2026, 6, 1)


def sites(**cells):
    return pd.DataFrame([{"site": "oak", "latitude": 52.0, "longitude": 5.0} | cells])


def hung(*spans):
    return pd.DataFrame(
        [{"box": "B1", "site": "oak", "hung_on": a, "taken_on": b} for a, b in spans]
    )


def caught(*days):
    rows = [{"box": "B1", "site": "oak", "caught_on": d} for d in days]
    return pd.DataFrame(rows) if rows else empty(TABLES["catches"])


def record(site, hangings, catches, on=ON):
    row = site_records(site, hangings, catches, season=SEASON, on=on).iloc[0]
    return row["catches"], row["seasons"]


@settings(max_examples=50, deadline=None)
@given(
    mean=st.floats(0.01, 5),
    catches=st.integers(0, 10),
    seasons=st.floats(0.1, 10),
    apart=st.floats(1.5, 30),
)
def test_more_catches_raise_a_rate_and_more_empty_seasons_lower_it(mean, catches, seasons, apart):
    low, high = mean / apart**0.5, mean * apart**0.5
    one = rate_after(mean, low, high, catches=catches, seasons=seasons)
    assert rate_after(mean, low, high, catches=catches + 1, seasons=seasons).mean > one.mean
    assert rate_after(mean, low, high, catches=catches, seasons=seasons + 1).mean < one.mean
    assert one.low < one.mean


def test_a_site_without_record_keeps_what_the_plan_expects():
    rate = rate_after(0.6, 0.2, 1.4, catches=np.nan, seasons=0.0)
    np.testing.assert_allclose(rate.mean, 0.6, rtol=1e-9)


def test_a_wide_range_gives_way_to_the_record_sooner():
    wide = rate_after(0.5, 0.05, 2.0, catches=3, seasons=2).mean
    narrow = rate_after(0.5, 0.4, 0.6, catches=3, seasons=2).mean
    assert narrow < wide


def test_a_range_of_no_width_and_one_from_nought_still_give_a_rate():
    assert prior_rate(0.5, 0.5, 0.5).mean == pytest.approx(0.5)
    assert prior_rate(0.5, 0.0, 2.0).mean == pytest.approx(0.5)


def test_a_box_that_hung_all_season_was_out_for_one():
    assert record(sites(), hung(("2025-04-01", "2025-09-15")), caught())[1] == pytest.approx(
        1.0, abs=0.01
    )


def test_a_box_that_hung_in_winter_only_was_out_for_none():
    assert record(sites(), hung(("2025-10-01", "2026-02-01")), caught())[1] < 0.01


def test_half_a_season_by_the_curve_is_half_a_season():
    half = SEASON.seasons_between(date(2025, 1, 1), date(2025, 12, 31))
    till = SEASON.seasons_between(date(2025, 1, 1), date(2025, 6, 22))
    assert half == pytest.approx(1.0, abs=0.01)
    assert 0.3 < till < 0.7


def test_the_tally_of_a_site_includes_what_is_recorded_and_counts_once():
    seen = record(
        sites(catches_before=2, seasons_before=3),
        hung(("2025-04-01", "2025-09-15")),
        caught("2025-06-10"),
    )
    assert seen == (2, pytest.approx(3.0))


def test_a_record_longer_than_the_tally_goes_before_it():
    spans = [(f"{year}-04-01", f"{year}-09-15") for year in (2023, 2024, 2025)]
    count, seasons = record(
        sites(catches_before=0, seasons_before=1), hung(*spans), caught("2024-06-10", "2025-06-10")
    )
    assert count == 2
    assert seasons == pytest.approx(3.0, abs=0.05)


def test_this_season_comes_on_top_of_the_tally():
    count, seasons = record(
        sites(catches_before=1, seasons_before=2), hung(("2026-04-20", None)), caught("2026-05-20")
    )
    assert count == 2
    assert 2 < seasons < 3


def test_what_happens_after_the_evening_is_not_known():
    assert record(sites(), hung(("2026-06-10", None)), caught("2026-06-12"))[1] == 0


def test_what_worked_last_year_lifts_a_site_this_year():
    from swarmwatch.placement.site_quality import site_attraction
    from swarmwatch.tables import conform

    lifted = sites_with_records(
        sites(),
        hung(("2025-04-01", "2025-09-15")),
        caught("2025-05-20", "2025-06-20"),
        season=SEASON,
        on=date(2026, 1, 15),
    )
    untried = site_attraction(conform(sites(), TABLES["sites"]), EVIDENCE)[0]
    assert untried == 1
    assert site_attraction(lifted, EVIDENCE)[0] > 1
