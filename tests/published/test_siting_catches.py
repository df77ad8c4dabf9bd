"""Catches, their update and what becomes of them, against values and libraries from outside."""

import math
from datetime import date

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from swarmwatch.evidence import load_evidence
from swarmwatch.placement._box_catches import boxes_at_sites, sent_to
from swarmwatch.placement._forecast_ranges import binomial_range, poisson_range
from swarmwatch.placement.box_life import box_season, prior_rate, rate_after
from swarmwatch.swarming.season import curve_at
from swarmwatch.tables import TABLES, conform, empty

EVIDENCE = load_evidence()
NO_YARD = empty(TABLES["sources"])


def among_unknown(lure, latitude=51.2, longitude=0.5, **cells):
    """Return the catches (1 + draws,) of a box of 40 l at 2.5 m among unknown colonies only."""
    site = pd.DataFrame([{"site": "s", "latitude": latitude, "longitude": longitude} | cells])
    box = pd.DataFrame([{"box": "b", "volume_l": 40, "entrance_cm2": 12.5}])
    hung = conform(
        pd.DataFrame([{"box": "b", "site": "s", "hung_on": "2026-04-01", "lure": lure}]),
        TABLES["hangings"],
    )
    placed = boxes_at_sites(hung.assign(height_m=2.5), site, box)
    return sent_to(placed, NO_YARD, None, yards=None, evidence=EVIDENCE, seed=0).catches[:, 0]


@pytest.mark.parametrize("lure", ["lemongrass-oil", "nasonov-lure"])
def test_a_lured_box_among_unknown_colonies_catches_what_boxes_are_said_to_catch(lure):
    """0.1 to 1.2 swarms a box and season: range set from field rates, our judgement.

    Rubink et al. 1996 (published, read in a summary): 0.14 to 0.56 swarms a site and month over
    many sites in Mexico and Texas; no survey of European boxes was found.
    """
    assert 0.1 <= among_unknown(lure)[0] <= 1.2


def test_a_box_without_lure_catches_about_the_least_of_them():
    """0.1 for a new box without lure where bees are few: our judgement, good to a factor of two."""
    assert 0.05 <= among_unknown("none")[0] <= 0.2


def test_the_best_published_share_of_boxes_that_caught_lies_within_the_range():
    """Seeley, Morse & Nowogrodzki 1987: 80 % of boxes, the best case; read in a summary.

    80 % with at least one are 1.6 swarms a box; North America, comb and lure, a proven site.
    """
    caught = among_unknown("nasonov-lure", 42.4, -76.5, catches_before=4, seasons_before=3)
    low, high = np.quantile(caught[1:], [0.1, 0.9])
    assert low <= -math.log(1 - 0.80) <= high


def test_the_gamma_poisson_update_is_that_of_the_library():
    prior = prior_rate(0.5, 0.15, 1.0)
    rate = rate_after(0.5, 0.15, 1.0, catches=3, seasons=2.4)
    grid = np.linspace(1e-6, 12, 400_001)
    weight = stats.gamma.pdf(grid, a=prior.shape, scale=1 / prior.seasons) * stats.poisson.pmf(
        3, grid * 2.4
    )
    weight /= weight.sum()
    np.testing.assert_allclose(rate.mean, (weight * grid).sum(), rtol=1e-4)
    by = weight.cumsum()
    np.testing.assert_allclose([rate.low, rate.high], np.interp([0.1, 0.9], by, grid), rtol=1e-3)


def test_the_prior_is_the_gamma_whose_percentiles_are_as_far_apart():
    rate = prior_rate(0.6, 0.2, 1.2)
    reference = stats.gamma(a=rate.shape, scale=1 / rate.seasons)
    np.testing.assert_allclose(reference.mean(), 0.6, rtol=1e-9)
    np.testing.assert_allclose(reference.ppf(0.9) / reference.ppf(0.1), 6.0, rtol=1e-6)
    np.testing.assert_allclose(
        [rate.low, rate.high], [reference.ppf(0.1), reference.ppf(0.9)], rtol=1e-9
    )


@pytest.mark.parametrize("seasons", [0.3, 1.0, 3.0])
def test_the_chance_of_any_is_the_librarys_negative_binomial(seasons):
    rate = prior_rate(0.6, 0.2, 1.2)
    none = stats.nbinom.pmf(0, rate.shape, rate.seasons / (rate.seasons + seasons))
    np.testing.assert_allclose(rate.p_any(seasons), 1 - none, rtol=1e-9)


def test_the_site_history_of_the_quality_is_the_same_update_for_a_usual_site():
    """Gamma of mean 0.5 a season that weighs 2 seasons: our judgement of a site's own record."""
    from swarmwatch.placement.site_quality import history_score

    usual = stats.gamma(a=1.0, scale=0.5)
    rate = rate_after(0.5, usual.ppf(0.1), usual.ppf(0.9), catches=3, seasons=4)
    score = float(history_score([3], [4], EVIDENCE)[0])
    np.testing.assert_allclose(rate.mean, 0.5 * score, rtol=1e-6)


def test_a_month_of_the_season_holds_the_published_chances():
    """Rubink et al. 1996: 0.138 to 0.555 swarms a site and month are 13 to 43 % for at least one.

    Read in a summary; a rate of that size, Gamma, comes to the same within its width.
    """
    for monthly, chance in ((0.138, 0.13), (0.555, 0.43)):
        rate = prior_rate(monthly, monthly * 0.999, monthly * 1.001)
        np.testing.assert_allclose(rate.p_any(), chance, atol=0.006)


@pytest.mark.parametrize("days", [-40, -14, 0, 10, 35])
def test_the_season_by_date_is_the_integral_of_its_curve(days):
    yard = pd.DataFrame({"apiary": ["a"], "latitude": [52.0], "longitude": [5.0]})
    season = box_season(yard, None, on=date(2026, 4, 1), evidence=EVIDENCE)
    line = np.arange(-182, 183, 0.01)
    weight = curve_at(180.0, EVIDENCE).weight_from_peak(line)
    share = weight[line <= days].sum() / weight.sum()
    np.testing.assert_allclose(season.prime_by(days), share, atol=2e-4)


def test_counts_have_the_percentiles_of_the_librarys():
    low, high = poisson_range(np.full((7, 1), 3.0))
    assert (low[0], high[0]) == (stats.poisson.ppf(0.1, 3.0), stats.poisson.ppf(0.9, 3.0))
    assert binomial_range(12, np.full(5, 0.7)) == (
        stats.binom.ppf(0.1, 12, 0.7), stats.binom.ppf(0.9, 12, 0.7),
    )  # fmt: skip


def test_boxes_go_out_and_come_down_when_keepers_say():
    """UK: out in mid-April, useful May to the end of July; practice pages, no trial.

    Norfolk's peak of the swarm season is late May and most of June (web page, read in a summary).
    """
    yard = pd.DataFrame(
        {"apiary": ["a"], "latitude": [52.7], "longitude": [1.3], "season_peak": ["06-05"]}
    )
    season = box_season(yard, None, on=date(2026, 1, 15), evidence=EVIDENCE)
    assert date(2026, 4, 8) <= season.put_out_on <= date(2026, 4, 22)
    assert date(2026, 7, 25) <= season.take_down_on <= date(2026, 8, 15)


def test_wild_founders_and_established_colonies_live_as_published():
    """Seeley 2017, Apidologie 48:743-754 (published): 97 % of summers; winters 84 and 23 %."""
    keys = ("summer_survival", "winter_established", "winter_founder")
    assert [EVIDENCE.value(f"boxes.{k}") for k in keys] == [0.97, 0.84, 0.23]
    assert all(EVIDENCE[f"boxes.{k}"].grade == "published" for k in keys)


def test_a_kept_swarm_is_judged_between_a_wild_founder_and_an_established_colony():
    kept = EVIDENCE["boxes.winter_kept_swarm"]
    assert 0.23 < kept.low < kept.high <= 0.86
    assert kept.grade == "judgement"


def test_every_region_has_the_swarms_of_its_published_densities():
    """Visick & Ratnieks 2023 (published): wild and managed colonies per km2 of five continents.

    Swarms: 0.2 to 0.4 a managed colony (from memory), 0.3 to 0.87 a wild one (Seeley 2017 for
    established ones; founders send next to none).
    """
    densities = {
        "north_america": (1.4, 0.2), "oceania": (4.4, 0.2), "latin_america": (6.7, 0.5),
        "africa": (6.8, 1.0), "asia": (0.0, 2.2),
    }  # fmt: skip
    for region, (wild, managed) in densities.items():
        entry = EVIDENCE[f"boxes.unknown_swarms_{region}"]
        assert 0.3 * wild + 0.2 * managed <= entry.value <= 0.87 * wild + 0.4 * managed, region
