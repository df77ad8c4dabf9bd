import pytest

from swarmwatch.mapping.levels import MARKS, NOT_SCORED
from swarmwatch.mapping.yards import origins, yards


def test_a_yard_bears_the_mark_of_its_most_urgent_colony(map_tables):
    home, mill = yards(map_tables["apiaries"], map_tables["scores"])
    assert (home.mark, mill.mark) == (MARKS["today"], MARKS["look-soon"])


def test_a_yard_counts_the_colonies_at_its_level(map_tables):
    home, _ = yards(map_tables["apiaries"], map_tables["scores"])
    assert home.summary == "1 of 2: today"


def test_a_colony_that_probably_swarmed_is_not_said_to_be_at_no_risk(map_tables):
    scores = map_tables["scores"].assign(p_gone=0.97, p_7d=0, p_after_7d=0.2)
    home, _ = yards(map_tables["apiaries"], scores)
    assert home.colonies[0].chance == "probably swarmed: check; afterswarm 20 % in 7 days"


def test_the_most_urgent_colony_is_named_first(map_tables):
    scores = map_tables["scores"].iloc[::-1]
    home, _ = yards(map_tables["apiaries"], scores)
    assert [c.name for c in home.colonies] == ["Amber", "Birch"]


def test_without_scores_a_yard_is_not_called_quiet(map_tables):
    assert {y.mark for y in yards(map_tables["apiaries"])} == {NOT_SCORED}


def test_no_two_levels_share_a_shape_a_word_or_a_colour():
    for part in ("shape", "word", "colour"):
        assert len({getattr(m, part) for m in MARKS.values()}) == len(MARKS)


def test_sources_on_one_spot_are_one_circle_with_their_sum(map_tables):
    found = {o.name: o.swarms for o in origins(map_tables["sources"], map_tables["apiaries"])}
    assert found["Home yard"] == pytest.approx(0.8)


def test_a_neighbour_is_not_the_keepers_own(map_tables):
    found = {o.name: o.own for o in origins(map_tables["sources"], map_tables["apiaries"])}
    assert found == {"Neighbour's hives": False, "Home yard": True, "Mill yard": True}


def test_a_lone_source_keeps_its_range(map_tables):
    found = {o.name: o.expected for o in origins(map_tables["sources"], map_tables["apiaries"])}
    assert found["Neighbour's hives"] == "2.1 (likely 0.9 to 3.6)"


@pytest.mark.parametrize(
    ("blank", "said"), [(["p_7d_low"], "46 % in 7 days"), (["p_7d", "p_7d_low"], "")]
)
def test_what_is_not_known_of_a_colony_is_not_said(map_tables, blank, said):
    scores = map_tables["scores"].assign(**dict.fromkeys(blank))
    home, _ = yards(map_tables["apiaries"], scores)
    assert {c.name: c.chance for c in home.colonies}["Amber"] == said
