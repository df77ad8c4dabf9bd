"""Season centres against places where swarms were counted.

Monthly means are climate normals written down from memory, to half a degree. Two weeks is the
width that the counts themselves leave open. The rule's two marks were read off the centres of
Louisiana, New Jersey, Ithaca and Norfolk: only Kansas and Australia are a test of it.
"""

import datetime as dt

import numpy as np
import pytest

from swarmwatch.swarming.season import season_curve

# place: latitude, monthly means [C] from memory, centre of the counts (month, day), source, grade
PLACES = {
    "south-east Louisiana": (
        30.4,
        [10.5, 12.5, 16.3, 19.7, 23.9, 26.9, 27.9, 27.8, 25.8, 20.6, 15.3, 11.6],
        (4, 20),  # most from early April to early May, each of 6 years
        "Villa 2004, Annals of the Entomological Society of America 97:111-116; published",
    ),
    "Kansas": (
        39.0,
        [-1.5, 0.9, 6.9, 12.8, 18.4, 23.8, 26.2, 25.2, 20.5, 13.9, 6.9, 0.4],
        (5, 14),  # first prime swarms from about then
        "Winston 1980, Insectes Sociaux 27:391; published, read in a summary",
    ),
    "New Jersey": (
        40.2,
        [0.2, 1.3, 5.3, 11.2, 16.6, 21.6, 24.4, 23.5, 19.8, 13.6, 8.0, 2.9],
        (5, 15),  # mean of 689 swarms in 4 years
        "Gilley, Courtright & Thom 2018, Environmental Entomology 47:603-608; published",
    ),
    "Ithaca, New York": (
        42.4,
        [-4.9, -4.2, 0.3, 7.0, 13.3, 18.3, 20.6, 19.7, 15.8, 9.7, 3.9, -1.6],
        (6, 9),  # read off a figure
        "Fell et al. 1977, Journal of Apicultural Research 16:170; published, read in a summary",
    ),
    "Norfolk, England": (
        52.7,
        [4.2, 4.4, 6.5, 8.9, 12.0, 14.8, 17.2, 17.1, 14.5, 11.0, 7.2, 4.7],
        (6, 5),  # late May to mid June
        "a local record; common practice, no source",
    ),
    # September to December; the middle of that span
    "south-east Australia": (
        -37.8,
        [21.0, 21.0, 19.0, 15.8, 12.8, 10.5, 9.9, 10.8, 12.7, 14.7, 17.0, 19.0],
        (10, 15),
        "season only; common practice, no source",
    ),
}


@pytest.mark.parametrize("place", PLACES)
def test_the_peak_is_within_two_weeks_of_the_counts(place):
    latitude, means, (month, day), _source = PLACES[place]
    counted = dt.date(2025, month, day).timetuple().tm_yday
    peak = season_curve(latitude, monthly_mean_c=means).peak_day
    assert abs(peak - counted) <= 14


def test_the_spread_is_that_of_the_new_jersey_counts():
    # 0.6 d standard error of 689 dates gives a standard deviation of 15.7 d (derived from
    # Gilley, Courtright & Thom 2018, taking +/- for a standard error)
    curve = season_curve(40.2)
    days = np.arange(1, 366)
    weight = curve.weight(days)
    mean = np.average(days, weights=weight)
    spread = np.sqrt(np.average((days - mean) ** 2, weights=weight))
    assert 0.6 * np.sqrt(689) == pytest.approx(15.7, abs=0.06)
    assert abs(spread - 15.7) < 3
