"""A thing of OpenStreetMap is of one kind, and what may hurt someone comes first."""

import pytest

from data_sources.land.kinds import KINDS, facts_of, kind_of


@pytest.mark.parametrize(
    ("tags", "kind"),
    [
        ({"natural": "tree"}, "tree"),
        ({"natural": "tree_row"}, "tree-row"),
        ({"barrier": "hedge"}, "hedge"),
        ({"landuse": "forest"}, "wood"),
        ({"natural": "wood"}, "wood"),
        ({"building": "garage"}, "building"),
        ({"waterway": "stream"}, "water"),
        ({"power": "minor_line"}, "power-line"),
        ({"power": "tower"}, "power-line"),
        ({"leisure": "playground"}, "play-area"),
        ({"amenity": "kindergarten"}, "school"),
        ({"highway": "footway"}, "path"),
        ({"highway": "residential"}, "road"),
        ({"railway": "tram"}, "railway"),
    ],
)
def test_tags_tell_the_kind(tags, kind):
    assert kind_of(tags) == kind
    assert kind in KINDS


def test_a_school_building_is_a_school_before_it_is_a_wall():
    assert kind_of({"building": "yes", "amenity": "school"}) == "school"


def test_a_pole_in_a_row_of_trees_is_a_power_line():
    assert kind_of({"power": "pole", "natural": "tree"}) == "power-line"


@pytest.mark.parametrize(
    "tags",
    [
        {},
        {"name": "nothing"},
        {"highway": "footway", "tunnel": "yes"},
        {"power": "line", "location": "underground"},
        {"waterway": "stream", "tunnel": "culvert"},
        {"building": "roof"},
        {"building": "no"},
        {"highway": "service", "service": "driveway"},
        {"shop": "bakery"},
    ],
)
def test_what_is_of_no_use_and_in_no_ones_way_is_left_out(tags):
    assert kind_of(tags) is None


def test_facts_are_the_few_worth_telling():
    assert facts_of({"natural": "tree", "genus": "Tilia", "height": "", "source": "x"}) == {
        "genus": "Tilia"
    }
