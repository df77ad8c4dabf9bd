import numpy as np
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.placement.dispersal import distances_m, kernels

KERNELS = kernels(load_evidence())


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda k: k.name)
def test_density_is_finite_and_not_negative_from_home_to_the_far_side(kernel):
    density = kernel.per_km2([0.0, 1e-9, 1.0, 1e3, 1e5, 2e7])
    assert (density >= 0).all()
    assert np.isfinite(density).all()


def test_nothing_settles_on_its_own_stand_in_the_usual_kernel():
    assert KERNELS[0].per_km2(0.0) == 0


def test_one_alternative_keeps_half_its_peak_close_to_home():
    near = KERNELS[3]
    peak = near.per_km2(near.peak_m())
    np.testing.assert_allclose(near.per_km2([0, 20, 60]), peak / 2, rtol=1e-12, atol=0)


def test_that_alternative_is_the_usual_one_beyond_the_peak():
    far = np.linspace(240, 9000, 50)
    np.testing.assert_array_equal(KERNELS[3].per_km2(far), KERNELS[0].per_km2(far))


def test_a_place_is_no_distance_from_itself():
    away = distances_m(from_latitude=[51], from_longitude=[0], to_latitude=[51], to_longitude=[0])
    assert away == [[0]]


def test_distances_come_sources_by_sites():
    away = distances_m(
        from_latitude=[51, 52], from_longitude=[0, 0], to_latitude=[51] * 3, to_longitude=[0] * 3
    )
    assert away.shape == (2, 3)
