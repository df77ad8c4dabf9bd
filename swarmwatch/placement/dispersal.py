"""How likely a swarm settles at a place, by its distance from home."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from swarmwatch.evidence import Evidence

Floats = NDArray[np.float64]

_M_PER_KM = 1000.0
# WGS 84 ellipsoid: equatorial radius [m] and flattening; NIMA TR8350.2, table 3.1
_EQUATOR_M = 6378137.0
_FLATTENING = 1 / 298.257223563
# mean radius of the same ellipsoid (2a + b) / 3 [m], to turn chords of a few km into arcs
_MEAN_RADIUS_M = _EQUATOR_M * (1 - _FLATTENING / 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kernel:
    """Distance from home to the new nest: log-normal, the same in every direction.

    `median_m` [m]; `spread` log-scale standard deviation [-]; `near_floor` the share of the peak
    density per area that is kept nearer than the peak [-], 0 for the plain log-normal.
    """

    name: str
    median_m: float
    spread: float
    near_floor: float = 0.0

    def peak_m(self) -> float:
        """Return the distance of the greatest density per area [m]."""
        return self.median_m * math.exp(-2 * self.spread**2)

    def share_within(self, distance_m: ArrayLike) -> Floats:
        """Return the chance that a swarm settles within a distance [m] of home [-]."""
        from scipy.special import ndtr  # late: scipy is slow to load

        r = np.asarray(distance_m, dtype=np.float64)
        with np.errstate(divide="ignore"):
            return np.asarray(ndtr(np.log(r / self.median_m) / self.spread), dtype=np.float64)

    def per_km2(self, distance_m: ArrayLike) -> Floats:
        """Return the density per area at a distance from home.

        Parameters
        ----------
        distance_m
            Any shape, >= 0 [m].

        Returns
        -------
        Same shape, ``k(r) = p(r) / (2 pi r)`` with p the log-normal density [1/km2].
        """
        r = np.asarray(distance_m, dtype=np.float64)
        density = self._plain(r)
        if self.near_floor:
            peak_m = self.peak_m()
            floor = self.near_floor * float(self._plain(np.asarray(peak_m)))
            density = np.where(r < peak_m, np.maximum(density, floor), density)
        return density

    def _plain(self, distance_m: Floats) -> Floats:
        r = np.maximum(distance_m, np.finfo(np.float64).tiny) / _M_PER_KM
        z = np.log(r * _M_PER_KM / self.median_m) / self.spread
        # p(r) / (2 pi r), the two r taken into the exponent so that r -> 0 gives 0, not 0 / 0
        exponent = -(z**2) / 2 - 2 * np.log(r)
        return np.asarray(
            np.exp(exponent) / (self.spread * math.sqrt(2 * math.pi) * 2 * math.pi),
            dtype=np.float64,
        )


def kernels(evidence: Evidence) -> tuple[Kernel, ...]:
    """Return the usual kernel first, then the alternatives that a plan is tried under."""
    value, spread = evidence.value, evidence.value("dispersal.spread")
    median = value("dispersal.median_m")
    return (
        Kernel(name="usual", median_m=median, spread=spread),
        Kernel(name="woodland", median_m=value("dispersal.woodland_median_m"), spread=spread),
        Kernel(name="open country", median_m=value("dispersal.open_median_m"), spread=spread),
        Kernel(
            name="close to home",
            median_m=median,
            spread=spread,
            near_floor=value("dispersal.near_floor"),
        ),
    )


def distances_m(
    *,
    from_latitude: ArrayLike,
    from_longitude: ArrayLike,
    to_latitude: ArrayLike,
    to_longitude: ArrayLike,
) -> Floats:
    """Measure every distance on the WGS 84 ellipsoid.

    Parameters
    ----------
    from_latitude, from_longitude
        (n,) [deg].
    to_latitude, to_longitude
        (m,) [deg].

    Returns
    -------
    (n, m) [m]. Chords through the earth turned into arcs: true to a few parts in a million up to
    some 100 km.
    """
    a = geocentric_m(from_latitude, from_longitude)
    b = geocentric_m(to_latitude, to_longitude)
    squared = np.zeros((a.shape[1], b.shape[1]))
    for axis in range(3):
        squared += (a[axis][:, None] - b[axis][None, :]) ** 2
    half = np.sqrt(squared) / (2 * _MEAN_RADIUS_M)
    return np.asarray(2 * _MEAN_RADIUS_M * np.arcsin(np.minimum(half, 1.0)), dtype=np.float64)


def geocentric_m(latitude: ArrayLike, longitude: ArrayLike) -> Floats:
    """Return (3, n) geocentric coordinates of points on the ellipsoid [m]."""
    phi = np.radians(np.atleast_1d(np.asarray(latitude, dtype=np.float64)))
    lam = np.radians(np.atleast_1d(np.asarray(longitude, dtype=np.float64)))
    eccentricity2 = _FLATTENING * (2 - _FLATTENING)
    normal = _EQUATOR_M / np.sqrt(1 - eccentricity2 * np.sin(phi) ** 2)
    return np.vstack(
        [
            normal * np.cos(phi) * np.cos(lam),
            normal * np.cos(phi) * np.sin(lam),
            normal * (1 - eccentricity2) * np.sin(phi),
        ]
    )
