from datetime import date

import pytest

from swarmwatch.mapping.spots import spots
from swarmwatch.sheets.letters import requests


@pytest.fixture(scope="module")
def pages(village_paper, pages_of):
    return pages_of(village_paper["letters.pdf"])


def test_each_owner_without_a_yes_gets_one_letter_and_the_neighbours_one(pages):
    # of the five: two said yes, one said no
    assert len(pages) == 3
    assert "Dear the parish," in pages[0]
    assert "Dear Mrs Żółkiewska," in pages[1]
    assert "To our neighbours" in pages[2]


@pytest.mark.parametrize(
    "words",
    [
        "From (name)",
        "Phone",
        "UK: bait hive, US: swarm trap",
        "Churchyard lime tree, its base 2.0 m above the ground",
        "It should hang from",
        "allergic to stings",
        "Local rules",
        "Registration",
        "You may change your mind at any time",
        "Yes, you may hang a bait box at Churchyard lime tree",
        "No, please not",
    ],
)
def test_the_owner_reads(pages, words):
    assert words in pages[0]


@pytest.mark.parametrize(
    "words",
    [
        "Keep away from the hole",
        "spray nothing",
        "call the emergency number at once",
        "Emergency number here",
        "Local rules",
    ],
)
def test_the_neighbour_reads(pages, words):
    assert words in pages[-1]


def test_the_neighbours_are_not_told_whose_places_are_asked_for(pages, map_tables):
    said = [*map_tables["sites"]["site"], *map_tables["sites"]["owner"].dropna()]
    assert not [name for name in said if name in pages[-1]]


def test_two_places_of_one_owner_are_asked_for_in_one_letter(map_tables):
    sites = map_tables["sites"].assign(permission="asked", owner="the parish")
    (request,) = requests(spots(map_tables["plan"], sites))
    assert len(request.spots) == 5


def test_places_without_an_owners_name_are_asked_for_one_by_one(map_tables):
    sites = map_tables["sites"].assign(permission=None, owner=None)
    found = requests(spots(map_tables["plan"], sites))
    assert [(r.owner, len(r.spots)) for r in found] == [("", 1)] * 5


def test_an_owner_whom_nobody_named_can_find_the_place_on_a_map(paper, map_tables, pages_of):
    sites = map_tables["sites"].assign(permission=None, owner=None)
    pages = pages_of(paper(frames={"sites": sites})["letters.pdf"])
    first = map_tables["plan"].iloc[0]
    place = f"({first['latitude']:.5f}, {first['longitude']:.5f} on a map)"
    assert f"{first['site']} {place}, its base" in pages[0]


def test_an_owner_who_said_no_is_not_asked_again(map_tables):
    sites = map_tables["sites"].assign(permission="no")
    assert requests(spots(map_tables["plan"], sites)) == []


def test_where_all_said_yes_there_is_a_letter_with_blanks(paper, map_tables, pages_of):
    sites = map_tables["sites"].assign(permission="yes")
    pages = pages_of(paper(frames={"sites": sites})["letters.pdf"])
    assert len(pages) == 2
    assert "Dear I keep" in pages[0]
    assert "I would like to hang one here:" in pages[0]


def test_known_dates_are_in_the_letters(paper, pages_of):
    files = paper(put_out_on=date(2026, 4, 20), take_down_on=date(2026, 8, 1))
    pages = pages_of(files["letters.pdf"])
    assert all("from 2026-04-20 to 2026-08-01" in page for page in pages)


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_a_letter_is_one_page(paper, size, pages_of):
    assert len(pages_of(paper(paper=size)["letters.pdf"])) == 3
