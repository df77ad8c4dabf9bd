import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.mapping.safety import safety_lines

SAID = " ".join(f"{heading}: {text}" for heading, text in safety_lines())


@pytest.mark.parametrize(
    "words",
    [
        "allergies",
        "second person",
        "Avoid height first",
        "1 out for 4 up",
        "never for a swarm",
        "overhead line",
        "kg",
        "owner's yes",
        "local authority or bee inspector",
        "inspected, disease-free source",
        "no amateur catching",
        "Odds, not promises",
    ],
)
def test_each_danger_is_named(words):
    assert words in SAID


def test_the_ladder_angle_is_the_published_one():
    # UK Health and Safety Executive, leaflet INDG402: one out for four up
    assert load_evidence().value("safety.ladder_up_per_out") == 4


def test_the_distance_to_lines_is_the_published_one():
    # 29 CFR 1910.269: 10 ft up to 50 kV
    clear_m = load_evidence().value("safety.power_line_clear_m")
    assert clear_m == pytest.approx(10 * 0.3048, abs=0.005)


def test_an_own_number_is_what_is_said():
    own = load_evidence().with_values({"safety.power_line_clear_m": 6.0})
    assert "at least 6 m away" in " ".join(text for _, text in safety_lines(own))
