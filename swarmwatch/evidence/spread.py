"""Spread draws evenly over the ranges of many numbers at once."""

from importlib import resources

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# the points that a score asks for at every start, each file named by `kept_name`
KEPT = resources.files("swarmwatch.evidence") / "points"


def spread_points(dimensions: int, *, draws: int, seed: int) -> Floats:
    """Return (draws, dimensions) points of the unit cube: a Sobol net, scrambled by the seed.

    They are read where they are kept: to load what draws them takes longer than a score.
    """
    kept = KEPT / kept_name(dimensions, draws=draws, seed=seed)
    if not kept.is_file():
        return drawn_points(dimensions, draws=draws, seed=seed)
    with kept.open("rb") as file:
        return np.asarray(np.load(file, allow_pickle=False), dtype=np.float64)


def drawn_points(dimensions: int, *, draws: int, seed: int) -> Floats:
    """Return the points of `spread_points`, drawn now."""
    from scipy.stats import qmc

    rng = np.random.default_rng(seed)
    return np.asarray(qmc.Sobol(dimensions, scramble=True, rng=rng).random(draws))


def kept_name(dimensions: int, *, draws: int, seed: int) -> str:
    """Return the name of the file in which such points are kept."""
    return f"{dimensions}x{draws}-{seed}.npy"
