"""The temperature gate against swarm reports of one city.

Portland OR, April 2015, 104 reports on 28 days, from a raw table on a public web page (common
practice, no source): one city, one month, report dates. The gate should lie within the error of
each bin's count, no nearer.
"""

import numpy as np
import pytest
from scipy.stats import chi2

from swarmwatch.weather import departure_weather

# daily maximum [C]: reports, days; the lowest bin's floor is where swarming is called rare
BINS = {(12.0, 15.0): (7, 7), (15.0, 18.0): (11, 11), (18.0, 19.0): (9, 2)}
WARM_RATE = 77 / 8  # 22 C and more: 9.63 reports a day


@pytest.mark.parametrize("edges", BINS)
def test_the_gate_lies_within_the_counting_error_of_the_bin(edges):
    reports, days = BINS[edges]
    low = chi2.ppf(0.1, 2 * reports) / 2 / days / WARM_RATE
    high = chi2.ppf(0.9, 2 * (reports + 1)) / 2 / days / WARM_RATE
    gate = departure_weather(np.linspace(*edges, 101), 0.0, 0.0).mean()
    assert low <= gate <= high


def test_from_22_c_on_the_gate_is_open():
    assert departure_weather(22.0, 0.0, 0.0) == pytest.approx(1.0, rel=1e-12)


def test_rain_adds_little_once_the_temperature_is_known():
    # below 18 C 0.75 reports a day both with 1 mm or more and without
    wet, dry = departure_weather(16.0, 3.0, 2.0), departure_weather(16.0, 0.0, 2.0)
    assert wet / dry > 0.8
