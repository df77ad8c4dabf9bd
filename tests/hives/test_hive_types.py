import numpy as np
import pandas as pd
import pytest

from swarmwatch.errors import RecordsError
from swarmwatch.evidence import load_evidence
from swarmwatch.hives import closest_hive_types, hive_types, is_long
from swarmwatch.tables import TABLES, conform

# the keys that the table contract promises
PROMISED = (
    "langstroth-deep-10",
    "langstroth-deep-8",
    "langstroth-medium-10",
    "langstroth-medium-8",
    "langstroth-shallow-10",
    "langstroth-jumbo-10",
    "national-deep",
    "national-shallow",
    "national-14x12",
    "commercial-11",
    "smith-11",
    "wbc-10",
    "dadant-10",
    "dadant-12",
    "dadant-super-10",
    "zander-10",
    "deutsch-normal-11",
    "layens-14",
    "warre",
    "top-bar",
)


def types(**own):
    if not own:
        return hive_types(load_evidence())
    return hive_types(load_evidence(), conform(pd.DataFrame([own]), TABLES["hives"]))


@pytest.mark.parametrize("name", PROMISED)
def test_every_promised_type_is_there(name):
    assert name in types().index


def test_there_are_at_least_25_types():
    assert len(types()) >= 25


def test_types_have_one_row_each():
    assert types().index.is_unique


def test_columns_are_those_of_the_contract():
    assert list(types().columns) == [
        "comb_area_cm2",
        "combs_a_box",
        "volume_l",
        "frames",
        "default_super",
        "family",
    ]


def test_every_shipped_measure_is_positive():
    assert (types()[["comb_area_cm2", "combs_a_box", "volume_l"]] > 0).all(axis=None)


def test_the_usual_super_is_a_type_itself():
    table = types()
    usual = table["default_super"].dropna()
    assert usual.isin(table.index).all()


def test_the_usual_super_of_a_super_is_itself():
    table = types()
    usual = table["default_super"].dropna()
    assert (table["default_super"].loc[usual].to_numpy() == usual.to_numpy()).all()


def test_the_usual_super_has_no_more_comb_than_the_brood_box():
    table = types()
    comb = table["comb_area_cm2"] * table["combs_a_box"]
    usual = table["default_super"].dropna()
    # a shallow box stands under a medium as often as the other way round; none is a brood box
    assert (comb.loc[usual].to_numpy() <= comb.loc[usual.index].to_numpy()).all()


def test_only_warre_and_top_bar_hang_combs_without_frames():
    table = types()
    assert set(table.index[~table["frames"]]) == {"warre", "top-bar"}


def test_layens_and_top_bar_are_the_long_hives():
    table = types()
    assert set(table.index[is_long(table)]) == {"layens-14", "top-bar"}


def test_own_evidence_changes_a_measure(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[hives.warre_comb_area_cm2]\nvalue = 570\n", encoding="utf-8")
    assert hive_types(load_evidence(own)).loc["warre", "comb_area_cm2"] == 570


def test_own_comb_that_tapers_is_a_trapezoid():
    table = types(
        hive_type="mine", comb_length_mm=400, comb_bottom_mm=130, comb_height_mm=250, combs_a_box=24
    )
    # (400 + 130) / 2 x 250 mm2 = 66,250 mm2
    np.testing.assert_allclose(table.loc["mine", "comb_area_cm2"], 662.5, rtol=1e-12)


def test_own_comb_without_bottom_is_a_rectangle():
    table = types(hive_type="mine", comb_length_mm=400, comb_height_mm=250, combs_a_box=24)
    np.testing.assert_allclose(table.loc["mine", "comb_area_cm2"], 1000, rtol=1e-12)


def test_own_hive_has_no_usual_super():
    table = types(hive_type="mine", comb_length_mm=400, comb_height_mm=250, combs_a_box=24)
    assert table.loc["mine", "default_super"] is None


def test_own_volume_may_be_blank():
    table = types(hive_type="mine", comb_length_mm=400, comb_height_mm=250, combs_a_box=24)
    assert np.isnan(table.loc["mine", "volume_l"])


@pytest.mark.parametrize(
    ("frames", "bottom_mm", "framed"),
    [
        ("yes", None, True),
        ("no", None, False),
        (None, None, True),
        (None, 130, False),
        ("yes", 130, True),
    ],
)
def test_own_combs_that_taper_hang_without_frames_unless_said(frames, bottom_mm, framed):
    table = types(
        hive_type="mine",
        comb_length_mm=400,
        comb_bottom_mm=bottom_mm,
        comb_height_mm=250,
        combs_a_box=24,
        frames=frames,
    )
    assert table.loc["mine", "frames"] == framed
    assert is_long(table)[-1] != framed


def test_own_measures_replace_shipped_ones():
    table = types(hive_type="top-bar", comb_length_mm=300, comb_height_mm=200, combs_a_box=20)
    assert table.loc["top-bar", "comb_area_cm2"] == 600
    assert table.index.is_unique


def test_missing_measures_are_all_named_at_once():
    with pytest.raises(RecordsError) as caught:
        types(hive_type="mine", comb_length_mm=400)
    assert {p.column for p in caught.value.problems} == {"comb_height_mm", "combs_a_box"}


def test_the_problem_names_the_hive_and_the_row():
    with pytest.raises(RecordsError, match=r"hives row 2, comb_height_mm: .*'mine'"):
        types(hive_type="mine", comb_length_mm=400, combs_a_box=9)


def test_a_measure_of_0_is_refused():
    with pytest.raises(RecordsError, match="this measure is 0"):
        types(hive_type="mine", comb_length_mm=400, comb_height_mm=250, combs_a_box=0)


def test_empty_own_table_changes_nothing():
    own = conform(pd.DataFrame({"hive_type": []}), TABLES["hives"])
    pd.testing.assert_frame_equal(hive_types(load_evidence(), own), types())


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Langstroth", "langstroth-deep-10"),
        ("langstroth deep 10", "langstroth-deep-10"),
        ("dadent-10", "dadant-10"),
        ("topbar", "top-bar"),
        ("zander", "zander-10"),
        ("warré", "warre"),
    ],
)
def test_near_names_are_offered(written, meant):
    assert meant in closest_hive_types(written)


def test_a_name_like_no_other_gets_no_offer():
    assert closest_hive_types("qqqqqq") == []


def test_own_names_are_offered_too():
    assert closest_hive_types("my hve", ["my-hive", "warre"]) == ["my-hive"]


def test_count_limits_the_offer():
    assert len(closest_hive_types("langstroth", count=2)) == 2
