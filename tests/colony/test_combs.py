import numpy as np
import pandas as pd
import pytest

from swarmwatch.colony import comb_brood, comb_capacity
from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence
from swarmwatch.hives import hive_types
from swarmwatch.tables import TABLES, conform


def test_blank_density_is_the_evidence_value():
    assert comb_capacity("national-deep", 11) == comb_capacity(
        "national-deep", 11, bees_per_cm2=1.25
    )


def test_capacity_of_many_counts_keeps_their_shape():
    combs = np.array([[0, 1], [2.25, 300]])
    np.testing.assert_allclose(
        comb_capacity("warre", combs), combs * comb_capacity("warre", 1), rtol=1e-12
    )


def test_one_number_gives_a_plain_number():
    assert isinstance(comb_capacity("warre", 8), float)


def test_unknown_comb_count_stays_unknown():
    assert np.isnan(comb_capacity("warre", np.nan))


def test_unknown_hive_type_is_refused_with_near_names():
    with pytest.raises(UsageError, match="Did you mean dadant-10"):
        comb_capacity("dadent-10", 5)


def test_own_types_are_understood():
    own = conform(
        pd.DataFrame(
            [{"hive_type": "m", "comb_length_mm": 400, "comb_height_mm": 250, "combs_a_box": 9}]
        ),
        TABLES["hives"],
    )
    table = hive_types(load_evidence(), own)
    np.testing.assert_allclose(comb_capacity("m", 1, types=table), 2500, rtol=1e-12)


def test_no_fill_no_brood():
    assert comb_brood("warre", 3, fill=0) == 0


def test_blank_fill_and_cells_are_the_evidence_values():
    assert comb_brood("warre", 3) == comb_brood("warre", 3, fill=0.85, cells_per_cm2=3.95)
