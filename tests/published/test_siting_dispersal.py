"""Dispersal against the log-normal of a statistics library, published ranges and pyproj."""

import numpy as np
import pytest
from pyproj import Geod
from scipy import integrate, stats

from swarmwatch.evidence import load_evidence
from swarmwatch.placement.dispersal import distances_m, kernels
from swarmwatch.placement.sources import background_sources

EVIDENCE = load_evidence()
USUAL, WOODLAND, OPEN, NEAR = kernels(EVIDENCE)
REFERENCE = stats.lognorm(s=0.9, scale=1200)


@pytest.mark.parametrize("share", [0.05, 0.25, 0.5, 0.75, 0.95, 0.99])
def test_the_usual_kernel_has_the_percentiles_of_its_log_normal(share):
    np.testing.assert_allclose(USUAL.share_within(REFERENCE.ppf(share)), share, rtol=1e-9, atol=0)


def test_the_published_extremes_are_the_extremes_of_such_a_sample():
    """Visick et al. 2024: sites advertised at 0.1 to 11.2 km, some 77 of them (14 x 5.5)."""
    nearest, farthest = USUAL.share_within([100, 11_200])
    assert 0.1 < 77 * nearest < 2
    assert 0.1 < 77 * (1 - farthest) < 2


def test_the_density_per_area_peaks_where_traps_caught_most():
    """A talk of 1990, quoted in an extension treatise: 250 to 500 yards, 229 to 457 m."""
    assert 229 <= USUAL.peak_m() <= 457


@pytest.mark.parametrize("kernel", [USUAL, WOODLAND, OPEN], ids=lambda k: k.name)
def test_the_density_over_the_plane_sums_to_one(kernel):
    total, _ = integrate.quad(
        lambda z: float(kernel.per_km2(np.exp(z)) * 2 * np.pi * (np.exp(z) / 1000) ** 2), -5, 16
    )
    np.testing.assert_allclose(total, 1, rtol=1e-6, atol=0)


# k(r) = p(r) / (2 pi r), worked out by hand from the log-normal density
BY_HAND = [
    (25, 0.011), (50, 0.055), (100, 0.156), (200, 0.243), (300, 0.239), (500, 0.176),
    (800, 0.100), (1200, 0.049), (2000, 0.015), (3000, 0.0047), (5000, 0.0008),
]  # fmt: skip


@pytest.mark.parametrize(("distance_m", "per_km2"), BY_HAND)
def test_weights_per_area_are_those_worked_out_by_hand(distance_m, per_km2):
    np.testing.assert_allclose(USUAL.per_km2(distance_m), per_km2, rtol=0.02, atol=5e-5)


@pytest.mark.parametrize("distance_m", [30, 237, 1000, 6000])
def test_weights_per_area_are_the_librarys_density_over_the_ring(distance_m):
    ring = REFERENCE.pdf(distance_m) / (2 * np.pi * distance_m) * 1e6
    np.testing.assert_allclose(USUAL.per_km2(distance_m), ring, rtol=1e-9, atol=0)


# share of a swarm that one box takes among 3 natural cavities per km2, in per cent; by hand
SHARES = [
    (50, [1.8, 5, 8, 16]), (100, [5, 14, 21, 34]), (250, [7.5, 19, 29, 45]),
    (500, [5.5, 15, 23, 37]), (1000, [2.3, 6.5, 10, 19]), (2000, [0.5, 1.5, 2.4, 4.8]),
]  # fmt: skip


@pytest.mark.parametrize(("distance_m", "per_cent"), SHARES)
def test_shares_of_a_swarm_are_those_worked_out_by_hand(distance_m, per_cent):
    pull = np.array([1, 3, 5, 10]) * USUAL.per_km2(distance_m)
    cavities = EVIDENCE.value("dispersal.natural_cavities")
    np.testing.assert_allclose(100 * pull / (cavities + pull), per_cent, rtol=0.06, atol=0.1)


# swarms a box and season among uniform sources of 0.45 per km2; integrated by hand
UNIFORM = [
    (USUAL, [0.15, 0.42, 0.67, 1.23]),
    (WOODLAND, [0.13, 0.33, 0.49, 0.80]),
    (OPEN, [0.15, 0.44, 0.71, 1.37]),
]


@pytest.mark.parametrize(("kernel", "swarms"), UNIFORM, ids=lambda v: getattr(v, "name", ""))
def test_catches_among_unknown_colonies_agree_with_the_integral(kernel, swarms):
    grid = background_sources([51.2], [0.5], EVIDENCE)
    away = distances_m(
        from_latitude=grid["latitude"].to_numpy(dtype=float),
        from_longitude=grid["longitude"].to_numpy(dtype=float),
        to_latitude=[51.2],
        to_longitude=[0.5],
    )
    within = np.sqrt(away**2 + 500**2 / 6)  # colonies lie anywhere in a cell of 500 m
    pull = kernel.per_km2(within) * np.array([1, 3, 5, 10])
    sent = grid["swarms_expected"].to_numpy(dtype=float)
    caught = sent @ (pull / (EVIDENCE.value("dispersal.natural_cavities") + pull))
    np.testing.assert_allclose(caught, swarms, rtol=0.16, atol=0)


@pytest.mark.parametrize("latitude", [-34.0, 0.0, 51.0, 68.0])
def test_distances_are_those_of_the_geodesic(latitude):
    """Karney's geodesic (J. Geodesy 2013) in pyproj, up to some 60 km."""
    rng = np.random.default_rng(7)
    lat = latitude + rng.uniform(-0.3, 0.3, 40)
    lon = 179.9 + rng.uniform(-0.4, 0.4, 40)  # over the date line, too
    ours = distances_m(
        from_latitude=lat[:20],
        from_longitude=lon[:20],
        to_latitude=lat[20:],
        to_longitude=lon[20:],
    )
    a, b = np.meshgrid(np.arange(20), np.arange(20, 40), indexing="ij")
    *_, theirs = Geod(ellps="WGS84").inv(lon[a], lat[a], lon[b], lat[b])
    np.testing.assert_allclose(ours, theirs, rtol=1e-6, atol=0.01)


def test_the_africanized_kernel_has_the_published_mean_and_spread():
    """Schneider 1995, Apidologie 26:395-406: chosen sites at 4,693 m on average, SD 1,728 m."""
    value = EVIDENCE.value
    kernel = stats.lognorm(
        s=value("dispersal.africanized_spread"), scale=value("dispersal.africanized_median_m")
    )
    np.testing.assert_allclose([kernel.mean(), kernel.std()], [4693, 1728], rtol=0.02, atol=0)


def test_the_expected_catch_of_a_usual_box_lies_in_the_range_seen_in_the_field():
    """0.1 to 1.2 swarms a box and season: Rubink et al. 1996 per site, Ithaca's 80 %, judgement."""
    swarms = np.array([s for _, row in UNIFORM for s in row[:3]])
    assert ((swarms >= 0.1) & (swarms <= 1.2)).all()
