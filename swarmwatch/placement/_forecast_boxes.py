"""How many swarms do boxes take day by day, when each holds one and is full until it is moved?"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def taken_by_day(own: Floats, other: Floats, *, full_d: int) -> tuple[Floats, Floats]:
    """Thin what would come by what finds the box full, and add it up over days and boxes.

    Parameters
    ----------
    own, other
        (draws, boxes, days) swarms that would settle in each box on each day, were it always free.
    full_d
        Days from a catch until the box is moved and hangs again [d].

    Returns
    -------
    Own and other swarms taken by each evening (draws, days).

    Notes
    -----
    With r the swarms that come and n the catches of a day, ``n_t = (1 - exp(-r_t)) A_t`` where
    ``A_t = 1 - (n_{t-1} + ... + n_{t-full_d})`` is the chance that the box is free.
    """
    come = own + other
    caught = np.zeros_like(come)
    first = -np.expm1(-come)
    for t in range(come.shape[2]):
        full = caught[:, :, max(t - full_d, 0) : t].sum(axis=2)
        caught[:, :, t] = first[:, :, t] * np.maximum(1.0 - full, 0.0)
    share = np.divide(own, come, out=np.zeros_like(come), where=come > 0)
    mine = np.cumsum((caught * share).sum(axis=1), axis=1)
    return mine, np.cumsum(caught.sum(axis=1), axis=1) - mine
