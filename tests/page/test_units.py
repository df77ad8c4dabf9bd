"""Measures in US units: the exact definitions, as exact as the metric number, names untouched."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swarmwatch.page.units import METRIC, US, in_units


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        # NIST Handbook 44 (2024), appendix C: 1 ft = 0.3048 m, 1 mi = 1609.344 m, 1 in = 2.54 cm,
        # 1 lb = 0.45359237 kg, 1 US gal = 3.785411784 l; 14 C = 57.2 F
        ("below 14 C", "below 57 F"),
        ("-40 C", "-40 F"),
        ("2.5 m high", "8.2 ft high"),
        ("290 m away", "950 ft away"),
        ("2400 m away", "1.5 mi away"),
        ("3.2 km", "2.0 mi"),
        ("11 kg or more", "24 lb or more"),
        ("40 l", "11 gal"),
        ("25 mm of rain", "0.98 in of rain"),
        ("10 m/s", "22 mph"),
        ("13 cm2", "2.0 sq in"),
        ("3 to 4 m", "9.8 to 13 ft"),
        ("0 m", "0 ft"),
    ],
)
def test_a_measure_is_turned(metric, us):
    assert in_units(metric, US) == us


@pytest.mark.parametrize(
    "text",
    [
        "58 % of it",
        "3 mice, 2 larvae, 5 combs",
        "2026-06-04: 9 capped",
        "400 C d above",
        "box B3 mm",
        "1 out for 4 up",
        "version 1.2.3 m",
        "3 m/week",
    ],
)
def test_what_is_no_measure_stays(text):
    assert in_units(text, US) == text


def test_the_keepers_own_names_stay_as_written():
    text = "from Post 5 m, 290 m away; Post 5 m holds it"
    assert in_units(text, US, names=["Post 5 m"]) == "from Post 5 m, 950 ft away; Post 5 m holds it"


@given(st.text())
def test_metric_is_left_alone(text):
    assert in_units(text, METRIC) == text


@given(st.floats(0.1, 900).map(lambda v: float(f"{v:.3g}")))
def test_a_turned_length_is_as_near_as_its_digits_say(metres):
    shown = re.fullmatch(r"about ([\d.]+) ft\.", in_units(f"about {metres:g} m.", US))
    # two digits at least: half a unit in the second digit is 5 % of the first at most
    assert float(shown[1]) == pytest.approx(metres / 0.3048, rel=0.05)


@given(st.text(alphabet="0123456789.,- mk/Cglcto", max_size=40))
def test_no_text_makes_it_fail(text):
    assert isinstance(in_units(text, US, names=[text[:7]]), str)
