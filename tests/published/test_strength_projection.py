"""The projection of adults against tables worked out apart and the closed form."""

import math

import numpy as np
import pytest

from swarmwatch.colony import project_adults
from swarmwatch.evidence import load_evidence

EVIDENCE = load_evidence()
START = (15_400, 12_000, 9000)


# arithmetic of the cohort rule, worked out by hand apart from this program; survivals 0.99, 0.90
# and 0.85 and the life of 35 days are a judgement near Fukuda & Sakagami 1968
@pytest.mark.parametrize(
    ("life_d", "day_7", "day_14", "day_21", "day_28"),
    [
        (25, 17_724, 19_294, 20_091, 20_379),
        (35, 18_935, 21_644, 23_454, 24_610),
        (45, 19_643, 23_091, 25_625, 27_462),
    ],
)
def test_projection_table(life_d, day_7, day_14, day_21, day_28):
    got = project_adults(*START, days=28, eggs_per_day=1000, adult_life_d=life_d)
    np.testing.assert_allclose(got[7::7], [day_7, day_14, day_21, day_28], rtol=0, atol=0.5)


def test_projection_to_the_hundredth_of_a_bee():
    got = project_adults(*START, days=28, eggs_per_day=1000)
    np.testing.assert_allclose(
        got[[7, 14, 21, 28]], [18_935.27, 21_643.86, 23_453.95, 24_610.22], rtol=0, atol=0.01
    )


def test_projection_without_brood():
    got = project_adults(15_400, 0, 0, days=28)
    np.testing.assert_allclose(got[7::7], [12_572, 10_263, 8378, 6840], rtol=0, atol=0.5)


@pytest.mark.parametrize(("share", "day"), [(0.8, 5), (0.9, 9), (1.0, 15), (1.1, 25)])
def test_day_on_which_one_deep_box_fills(share, day):
    # the same case on ten Langstroth deep combs, 21,925 bees at 1.25 a cm2
    filled = project_adults(*START, days=28, eggs_per_day=1000) / 21_925
    assert int(np.argmax(filled > share)) == day


@pytest.mark.parametrize(("day", "adults"), [(14, 17_758.44), (28, 22_288.76)])
def test_projection_near_the_closed_form(day, adults):
    # N = N0 exp(-t/T) + E T (1 - exp(-t/T)), N0 11,000, E 900 a day, T 35; daily steps differ
    # from it by less than 1 %
    np.testing.assert_allclose(
        11_000 * math.exp(-day / 35) + 900 * 35 * (1 - math.exp(-day / 35)),
        adults,
        rtol=0,
        atol=0.01,
    )
    got = project_adults(
        11_000, 900 * 12 / 0.99, 900 * 9 / 0.90, days=day, eggs_per_day=900 / 0.85
    )[-1]
    np.testing.assert_allclose(got, adults, rtol=0.01)


def test_top_of_the_season_from_the_balance():
    # 1,500 eggs a day x 0.85 x 35 days: arithmetic; measured tops are 25,000 to 40,000
    # (Imdorf et al., from memory), popular ones 60,000
    got = project_adults(0, 0, 0, days=2000, eggs_per_day=1500)[-1]
    np.testing.assert_allclose(got, 44_625, rtol=1e-9)


def test_survival_of_brood_is_the_measured_one():
    # Fukuda & Sakagami 1968, published (read in its abstract): 85.1 of 100 eggs become adults;
    # Schmickl & Crailsheim 2007, published (read in a summary): daily deaths 0.03, 0.01, 0.001
    # over 3, 6 and 12 days
    modelled = 0.97**3 * 0.99**6 * 0.999**12
    np.testing.assert_allclose(modelled, 0.849009, rtol=0, atol=1e-6)
    entry = EVIDENCE["strength.survival_egg"]
    np.testing.assert_allclose(entry.value, [modelled, 0.851], rtol=0, atol=0.002)


def test_brood_a_daily_egg_keeps_up_and_its_capped_share():
    # the same daily deaths: cells alive of each day's age, summed over 3, 6 and 12 days
    eggs = np.sum(0.97 ** np.arange(3))
    larvae = 0.97**3 * np.sum(0.99 ** np.arange(6))
    capped = 0.97**3 * 0.99**6 * np.sum(0.999 ** np.arange(12))
    total = eggs + larvae + capped
    np.testing.assert_allclose(EVIDENCE.value("strength.brood_per_daily_egg"), total, rtol=0.005)
    np.testing.assert_allclose(EVIDENCE.value("strength.capped_share"), capped / total, rtol=0.005)
