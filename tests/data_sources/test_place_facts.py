import pytest

from data_sources.errors import SourceMalformed
from data_sources.weather.place_facts import look_swapped, place_facts


def ask(session, server):
    return place_facts(session, latitude=51.5, longitude=-0.12, base_url=server.url)


def test_height_and_zone_come_from_the_answer(quick, server):
    facts = ask(quick(), server)
    assert (facts.elevation_m, facts.time_zone) == (31.0, "Europe/London")


@pytest.mark.parametrize("height", [None, True, "31", 1e9])
def test_a_height_that_is_none_stays_unknown(quick, server, good_payload, height):
    server.payload = {**good_payload, "elevation": height}
    assert ask(quick(), server).elevation_m is None


@pytest.mark.parametrize("zone", [None, 3, "Nowhere/Invented", "../secret"])
def test_a_zone_that_is_none_stays_unknown(quick, server, good_payload, zone):
    server.payload = {**good_payload, "timezone": zone}
    assert ask(quick(), server).time_zone is None


def test_another_shape_is_refused(quick, server):
    server.mode = "list"
    with pytest.raises(SourceMalformed, match="one place"):
        ask(quick(), server)


@pytest.mark.parametrize(
    ("place", "offset_h", "swapped"),
    [
        ((57.9, 25.6), 3, False),
        ((45.5, -122.7), -8, False),
        ((-122.7 + 90, 45.5), -3, True),
        ((-36.8, 174.8), 13, False),
        ((25.6, 57.9), 2, False),  # near both ways: nothing can be said
    ],
)
def test_swapped_coordinates_are_far_from_the_clock(place, offset_h, swapped):
    assert look_swapped(*place, utc_offset_h=offset_h) is swapped
