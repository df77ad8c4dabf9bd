"""Between which whole numbers does a count lie in eight seasons of ten?"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# tables.md: low and high are the 10th and 90th percentile
_LOW, _HIGH = 0.1, 0.9
# numerical bound: counts above are not told apart
_MOST = 400


def poisson_range(means: Floats) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Return the 10th and 90th percentile of a Poisson count whose mean is itself uncertain.

    Parameters
    ----------
    means
        (draws, n) equally likely means.

    Returns
    -------
    Two (n,) whole numbers: the smallest counts that 10 and 90 % of the mixture do not pass.
    """
    from scipy.special import pdtr  # late: scipy is slow to load

    counts = np.arange(_counts(means))
    by = pdtr(counts[:, None, None], means[None]).mean(axis=1)
    return _first(by, _LOW), _first(by, _HIGH)


def binomial_range(number: int, chances: Floats) -> tuple[int, int]:
    """Return the same of a count out of `number`, each with an uncertain chance (draws,) [-]."""
    from scipy.stats import binom

    by = binom.cdf(np.arange(number + 1)[:, None], number, chances[None]).mean(axis=1)[:, None]
    return int(_first(by, _LOW)[0]), int(_first(by, _HIGH)[0])


def _counts(means: Floats) -> int:
    top = float(means.max(initial=0.0))
    return min(int(top + 10 * np.sqrt(top)) + 10, _MOST)


def _first(by: Floats, share: float) -> NDArray[np.int_]:
    # the last count is taken where rounding leaves the sum a hair short
    found = by >= share
    return np.asarray(np.where(found.any(axis=0), found.argmax(axis=0), by.shape[0] - 1))
