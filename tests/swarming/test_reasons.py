import pandas as pd
from scene import NO_CELLS, ON, apiaries, colonies, frame, looks, weather

from swarmwatch import score_colonies


def because(*rows, colony=None, **more):
    scores = score_colonies(
        colonies(**(colony or {})),
        looks(*rows) if rows else None,
        weather(),
        ON,
        apiaries=apiaries(),
        **more,
    )
    return str(scores["because"].iloc[0])


def test_the_number_seen_and_its_date_are_named():
    text = because(NO_CELLS | {"queen_cells_larva": 7})
    assert "queen cells seen on 2026-05-27: 7 with larva (raises it" in text


def test_no_cells_found_is_said_to_lower_the_chance():
    assert "no occupied queen cell found on 2026-05-27 (lowers it" in because(NO_CELLS)


def test_crowding_is_given_as_a_share_of_the_room():
    assert "% of the comfortable room" in because(NO_CELLS | {"combs_bees": 24})


def test_an_old_queen_is_named():
    text = because(NO_CELLS, colony={"queen_year": 2023})
    assert "queen older than two seasons (raises it" in text


def test_an_uninspected_colony_says_so():
    assert "not inspected this season" in because()


def test_an_action_is_named_and_other_events_are_not():
    events = frame(
        {"colony": "A", "date": "2026-05-28", "event": "split", "queen_went": "moved"},
        {"colony": "A", "date": "2026-05-29", "event": "fed"},
    )
    text = because(NO_CELLS | {"queen_cells_larva": 7}, events=events)
    assert "split on 2026-05-28 (lowers it" in text
    assert "fed" not in text


def test_there_are_at_most_three_besides_the_season():
    text = because(
        NO_CELLS | {"queen_cells_larva": 7, "eggs_seen": "no", "combs_bees": 24},
        colony={"queen_year": 2023, "swarmed_last_year": "yes"},
    )
    assert 2 <= len(text.split("; ")) <= 4


def test_reasons_are_text_even_for_names_that_look_like_numbers():
    scores = score_colonies(
        pd.DataFrame({"colony": [7], "apiary": ["Home"], "hive_type": ["top-bar"]}), None, None, ON
    )
    assert scores["colony"].iloc[0] == "7"
