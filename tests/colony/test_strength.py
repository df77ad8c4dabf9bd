import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swarmwatch.colony import comb_brood, comb_capacity, strength_of
from swarmwatch.errors import RecordsError
from swarmwatch.evidence import load_evidence
from swarmwatch.hives import hive_types
from swarmwatch.tables import TABLES, conform

EVIDENCE = load_evidence()
TYPES = hive_types(EVIDENCE)
COLONY = {"colony": "a", "apiary": "yard", "hive_type": "langstroth-deep-10"}
quarters = st.integers(0, 160).map(lambda n: n / 4)
blank_or_quarters = st.one_of(st.none(), quarters)
bounded = settings(max_examples=50, deadline=None)


def strength(*rows, colonies=None, evidence=EVIDENCE, types=TYPES, **colony):
    notes = conform(
        pd.DataFrame([{"colony": "a", "date": "2026-05-01"} | r for r in rows]),
        TABLES["inspections"],
    )
    homes = colonies or [COLONY | colony] * len(rows)
    return strength_of(notes, conform(pd.DataFrame(homes), TABLES["colonies"]), types, evidence)


def value(name):
    return EVIDENCE.value(f"strength.{name}")


# --- bees ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("how", "density"), [("packed", 1.25), ("seams", 1.10), ("loose", 0.80), (None, 1.10)]
)
def test_bees_follow_the_way_they_were_counted(how, density):
    got = strength({"combs": 10, "combs_bees": 7, "bees_how": how}).adults
    want = comb_capacity("langstroth-deep-10", 7, bees_per_cm2=density)
    np.testing.assert_allclose(got, [want], rtol=1e-12)


def test_no_bees_noted_means_adults_unknown():
    got = strength({"combs": 10})
    assert np.isnan(got.adults[0])
    assert np.isnan(got.adults_sd[0])
    assert np.isnan(got.crowding[0])


def test_no_bees_found_means_no_adults():
    assert strength({"combs": 10, "combs_bees": 0}).adults[0] == 0


def test_combs_packed_solid_are_the_surest_count():
    got = strength(*[{"combs_bees": 5, "bees_how": h} for h in ("packed", "seams", "loose", None)])
    assert (got.adults_sd[0] < got.adults_sd[1:]).all()


def test_count_unstated_is_the_least_sure():
    got = strength(*[{"combs_bees": 5, "bees_how": h} for h in (None, "seams", "loose", "packed")])
    assert (got.adults_sd[0] > got.adults_sd[1:]).all()


def test_bees_beyond_the_brood_box_hang_on_the_smaller_combs_of_the_super():
    got = strength({"combs": 10, "supers": 1, "combs_bees": 14, "bees_how": "packed"}).adults
    want = comb_capacity("langstroth-deep-10", 10) + comb_capacity("langstroth-medium-10", 4)
    np.testing.assert_allclose(got, [want], rtol=1e-12)


# --- brood --------------------------------------------------------------------------------------


def brood(*rows, **colony):
    got = strength(*rows, **colony)
    return got.brood_capped, got.brood_open


def test_no_brood_noted_means_brood_unknown():
    capped, opened = brood({"combs": 10})
    assert np.isnan(capped[0])
    assert np.isnan(opened[0])


def test_no_brood_found_means_none():
    capped, opened = brood({"combs": 10, "combs_brood": 0})
    assert (capped[0], opened[0]) == (0, 0)


def test_a_comb_with_brood_holds_two_thirds_of_a_comb_full_of_brood():
    capped, opened = brood({"combs": 10, "combs_brood": 6})
    want = comb_brood("langstroth-deep-10", 6) * value("brood_nest_share")
    np.testing.assert_allclose(capped + opened, [want], rtol=1e-12)


def test_brood_is_split_as_under_steady_laying_where_no_capped_combs_were_noted():
    capped, opened = brood({"combs_brood": 6})
    np.testing.assert_allclose(capped / (capped + opened), [value("capped_share")], rtol=1e-12)


def test_capped_combs_noted_split_the_brood():
    capped, opened = brood({"combs_brood": 6, "combs_brood_capped": 4.5})
    np.testing.assert_allclose(capped / (capped + opened), [0.75], rtol=1e-12)


def test_more_capped_combs_than_brood_combs_count_as_all_capped():
    capped, opened = brood({"combs_brood": 6, "combs_brood_capped": 7})
    assert opened[0] == 0
    assert capped[0] > 0


def test_drone_combs_are_no_worker_brood():
    with_drone = sum(brood({"combs_brood": 6, "combs_drone": 1}))
    np.testing.assert_allclose(with_drone, sum(brood({"combs_brood": 5})), rtol=1e-12)


def test_more_drone_than_brood_leaves_no_worker_brood():
    assert sum(brood({"combs_brood": 2, "combs_drone": 3}))[0] == 0


def test_laying_is_read_from_the_brood():
    got = strength({"combs_brood": 2})
    want = (got.brood_capped + got.brood_open) / value("brood_per_daily_egg")
    np.testing.assert_allclose(got.eggs_per_day, want, rtol=1e-12)


def test_laying_is_at_most_what_a_queen_lays():
    assert strength({"combs_brood": 20}).eggs_per_day[0] == value("eggs_per_day_most")


def test_brood_share_is_of_the_drawn_combs():
    assert strength({"combs": 8, "combs_brood": 6}).brood_share[0] == 0.75


# --- room ---------------------------------------------------------------------------------------


def room_of(hive_type, combs):
    return comb_capacity(hive_type, combs, bees_per_cm2=value("bees_per_cm2_comfortable"))


def test_room_is_the_drawn_comb():
    np.testing.assert_allclose(
        strength({"combs": 8}).capacity_bees, [room_of("langstroth-deep-10", 8)], rtol=1e-12
    )


def test_foundation_counts_half():
    np.testing.assert_allclose(
        strength({"combs": 6, "combs_foundation": 4}).capacity_bees,
        [room_of("langstroth-deep-10", 8)],
        rtol=1e-12,
    )


def test_a_super_adds_its_own_combs():
    got = strength({"combs": 10, "supers": 2}).capacity_bees
    want = room_of("langstroth-deep-10", 10) + room_of("langstroth-medium-10", 20)
    np.testing.assert_allclose(got, [want], rtol=1e-12)


def test_a_named_super_type_is_used():
    got = strength({"combs": 10, "supers": 1}, super_type="langstroth-shallow-10").capacity_bees
    want = room_of("langstroth-deep-10", 10) + room_of("langstroth-shallow-10", 10)
    np.testing.assert_allclose(got, [want], rtol=1e-12)


def test_a_super_on_a_top_bar_hive_counts_six_tenths_of_its_brood_combs():
    got = strength({"combs": 12, "supers": 1}, hive_type="top-bar").capacity_bees
    np.testing.assert_allclose(got, [room_of("top-bar", 12 * 1.6)], rtol=1e-12)


def test_a_super_on_an_own_hive_counts_six_tenths_of_one_box():
    own = conform(
        pd.DataFrame(
            [{"hive_type": "m", "comb_length_mm": 400, "comb_height_mm": 250, "combs_a_box": 9}]
        ).assign(frames="yes"),
        TABLES["hives"],
    )
    types = hive_types(EVIDENCE, own)
    got = strength({"combs": 18, "supers": 1}, hive_type="m", types=types).super_capacity_bees
    np.testing.assert_allclose(got, [0.6 * 9 * 2 * 1000 * 0.80], rtol=1e-12)


def test_blank_supers_count_as_none_and_are_flagged():
    got = strength({"combs": 10}, {"combs": 10, "supers": 0})
    assert got.capacity_bees[0] == got.capacity_bees[1]
    assert got.supers_known.tolist() == [False, True]


def test_blank_combs_count_as_a_full_box_and_are_flagged():
    got = strength({}, {"combs": 10})
    assert got.capacity_bees[0] == got.capacity_bees[1]
    assert got.drawn_known.tolist() == [False, True]


def test_blank_combs_take_the_colonys_own_number():
    got = strength({}, combs_max=7).capacity_bees
    np.testing.assert_allclose(got, [room_of("langstroth-deep-10", 7)], rtol=1e-12)


def test_blank_combs_leave_out_the_foundation_noted():
    got = strength({"combs_foundation": 4}, {"combs": 6, "combs_foundation": 4})
    assert got.capacity_bees[0] == got.capacity_bees[1]


def test_brood_over_two_boxes_shows_two_boxes():
    got = strength({"combs_brood": 12}).capacity_bees
    np.testing.assert_allclose(got, [room_of("langstroth-deep-10", 20)], rtol=1e-12)


def test_bees_on_more_combs_than_a_box_holds_show_more_combs():
    got = strength({"combs_bees": 16}).capacity_bees
    np.testing.assert_allclose(got, [room_of("langstroth-deep-10", 16)], rtol=1e-12)


def test_bees_in_the_supers_show_no_more_brood_combs():
    got = strength({"combs_bees": 16, "supers": 1}).capacity_bees
    want = room_of("langstroth-deep-10", 10) + room_of("langstroth-medium-10", 10)
    np.testing.assert_allclose(got, [want], rtol=1e-12)


def test_a_long_hive_with_blank_combs_is_not_taken_for_full():
    got = strength({"combs_bees": 8}, hive_type="top-bar").capacity_bees
    np.testing.assert_allclose(got, [room_of("top-bar", 10)], rtol=1e-12)


def test_a_hive_without_any_comb_has_room_for_some_bees():
    got = strength({"combs": 0, "combs_bees": 1})
    assert np.isfinite(got.crowding[0])


def test_unknown_hive_type_is_refused_with_colony_and_near_names():
    with pytest.raises(RecordsError, match=r"'dadent-10' of colony 'a'.*Did you mean dadant-10"):
        strength({}, hive_type="dadent-10")


def test_every_unknown_type_is_named_at_once():
    with pytest.raises(RecordsError) as caught:
        strength({}, hive_type="box", super_type="bix")
    assert [p.column for p in caught.value.problems] == ["hive_type", "super_type"]


# --- congestion -----------------------------------------------------------------------------------


def congestion(**notes):
    return strength({"combs": 10} | notes).congestion[0]


def test_congestion_is_unknown_where_nothing_was_noted():
    assert np.isnan(congestion())


def test_more_nectar_in_the_brood_nest_is_more_congestion():
    none, some, heavy = (congestion(nectar_in_brood=w) for w in ("none", "some", "heavy"))
    assert 0 == none < some < heavy <= 1


def test_no_comb_to_lay_in_is_full_congestion():
    assert congestion(combs_empty=0) == 1


def test_a_fifth_of_the_combs_free_is_no_congestion():
    assert congestion(combs_empty=2) == 0


def test_two_signs_meet_in_the_middle():
    both = congestion(combs_empty=0, nectar_in_brood="none")
    assert both == (congestion(combs_empty=0) + congestion(nectar_in_brood="none")) / 2


# --- laws -----------------------------------------------------------------------------------------


def test_more_bees_never_lower_the_crowding():
    # twenty thousand hives at once: rows stand for themselves, so one call tries them all
    generator = np.random.default_rng(20_260_501)
    n = 20_000

    def counts(most, blank_share):
        blank = generator.random(n) < blank_share
        return np.where(blank, np.nan, generator.integers(0, 4 * most, n) / 4)

    notes = pd.DataFrame({"colony": ["a"] * n, "date": "2026-05-01"}).assign(
        combs=counts(30, 0.7),
        combs_foundation=counts(20, 0.4),
        supers=generator.choice([np.nan, 0, 1, 3], n),
        combs_brood=counts(20, 0.5),
    )
    homes = pd.DataFrame({"colony": ["a"] * n, "apiary": "yard"}).assign(
        hive_type=generator.choice(TYPES.index.to_numpy(dtype=object), n),
        combs_max=counts(30, 0.6),
    )
    bees = counts(40, 0)
    less, full = (
        strength_of(
            conform(notes.assign(combs_bees=covered), TABLES["inspections"]),
            conform(homes, TABLES["colonies"]),
            TYPES,
            EVIDENCE,
        ).crowding
        for covered in (bees, bees + generator.uniform(0.1, 10, n))
    )
    assert (full >= less * (1 - 1e-12)).all()


@bounded
@given(st.lists(st.tuples(blank_or_quarters, blank_or_quarters, blank_or_quarters), min_size=1))
def test_no_count_is_ever_negative_or_boundless(rows):
    got = strength(*[{"combs": c, "combs_bees": b, "combs_brood": d} for c, b, d in rows])
    for name in ("adults", "brood_capped", "brood_open", "eggs_per_day", "capacity_bees"):
        numbers = getattr(got, name)
        assert (np.isnan(numbers) | ((numbers >= 0) & np.isfinite(numbers))).all()
    assert (got.capacity_bees > 0).all()


def test_each_row_stands_for_itself():
    rows = [{"combs": 10, "combs_bees": 7, "combs_brood": 4}, {"supers": 1, "combs_bees": 2}]
    homes = [COLONY, COLONY | {"colony": "b", "hive_type": "warre"}]
    together = strength(*rows, colonies=homes)
    for i in range(2):
        alone = strength(rows[i], colonies=[homes[i]])
        for name in together.__slots__:
            np.testing.assert_array_equal(getattr(together, name)[i], getattr(alone, name)[0])


def test_no_rows_give_no_strength():
    got = strength_of(
        conform(pd.DataFrame({"colony": [], "date": []}), TABLES["inspections"]),
        conform(pd.DataFrame({"colony": [], "apiary": [], "hive_type": []}), TABLES["colonies"]),
        TYPES,
        EVIDENCE,
    )
    assert got.crowding.shape == (0,)
