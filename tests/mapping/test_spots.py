import numpy as np
import pandas as pd
import pytest

from swarmwatch.mapping.spots import expected, facing, spots
from swarmwatch.wording import amount, per_cent


@pytest.mark.parametrize(
    ("degrees", "words"),
    [(0, "north (0°)"), (150, "south-east (150°)"), (359, "north (359°)"), (360, "north (0°)")],
)
def test_a_direction_is_said_in_words(degrees, words):
    assert facing(degrees) == words


@pytest.mark.parametrize(
    ("swarms", "words"), [(0.96, "1.0"), (0.04, "under 0.1"), (0, "0.0"), (np.nan, "")]
)
def test_swarms_are_said_as_exactly_as_they_are_known(swarms, words):
    assert amount(swarms) == words


def test_a_range_is_said_in_words():
    assert expected(0.9, 0.4, 1.7) == "0.9 (likely 0.4 to 1.7)"


@pytest.mark.parametrize(
    ("chance", "words"), [(0.004, "under 1 %"), (0.46, "46 %"), (0.999, "over 99 %"), (0, "0 %")]
)
def test_a_chance_never_rounds_to_certainty(chance, words):
    assert per_cent(chance) == words


def test_spots_come_in_the_order_of_rank(map_tables):
    shuffled = map_tables["plan"].iloc[::-1]
    assert [s.rank for s in spots(shuffled, map_tables["sites"])] == [1, 2, 3, 4, 5]


@pytest.mark.parametrize("word", ["asked", "no", None])
def test_only_a_yes_is_a_permission(map_tables, word):
    sites = map_tables["sites"].assign(permission=word)
    assert all(s.permission.startswith("ask first") for s in spots(map_tables["plan"], sites))


def test_without_a_table_of_sites_every_spot_is_one_to_ask_about(map_tables):
    assert not any(s.allowed for s in spots(map_tables["plan"]))


def test_a_yes_allows(map_tables):
    sites = map_tables["sites"].assign(permission="yes")
    assert all(s.allowed for s in spots(map_tables["plan"], sites))


def test_reasons_are_taken_apart(map_tables):
    spot = spots(map_tables["plan"], map_tables["sites"])[0]
    assert spot.because == (
        "320 m from the home yard",
        "entrance to the south",
        "a catch here in 2024",
    )


def test_a_warning_to_ask_first_is_not_said_twice(map_tables):
    plan = map_tables["plan"].assign(warnings="ask first: no answer yet; roof: mind the edge")
    assert spots(plan)[0].warnings == ("roof: mind the edge",)


def test_a_blank_height_says_nothing(map_tables):
    assert spots(map_tables["plan"].assign(height_m=pd.NA))[0].height == ""


def test_a_blank_direction_says_nothing():
    assert facing(np.nan) == ""


def test_a_blank_chance_says_nothing():
    assert per_cent(np.nan) == ""


def test_a_number_without_a_range_stands_alone():
    assert expected(0.9, np.nan, 1.7) == "0.9"


def test_a_source_without_a_distance_is_named_alone(map_tables):
    plan = map_tables["plan"].assign(distance_m=pd.NA)
    assert spots(plan)[0].nearest == "Home yard"
