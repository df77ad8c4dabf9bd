"""How full a hive gets in the days after an inspection."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from swarmwatch.colony.projection import response_by_day
from swarmwatch.colony.strength import Strength

Floats = NDArray[np.float64]


def crowding_by_day(
    strength: Strength,
    *,
    days: ArrayLike,
    extra_capacity_bees: ArrayLike | None = None,
    eggs_per_day: ArrayLike | None = None,
    adult_life_d: float | None = None,
    survival_capped: float | None = None,
    survival_open: float | None = None,
    survival_egg: float | None = None,
) -> Floats:
    """Return how full each hive is on days after its inspection.

    Parameters
    ----------
    strength
        Strength at the inspections, n colonies.
    days
        (n_days,) or (n, n_days) whole days since the inspection; days before it count as it.
    extra_capacity_bees
        (n, n_days) comfortable room added since by boxes or combs [bees], or None. A removal is
        negative; room never falls below that of one comb.
    eggs_per_day
        () or (n,) laying from the inspection on; None goes on as the brood shows it.
    adult_life_d, survival_capped, survival_open, survival_egg
        As for `project_adults`.

    Returns
    -------
    (n, n_days) crowding [-]. Where no brood was noted the adults stay as they were seen; NaN
    where no bees were noted.
    """
    ahead = np.maximum(np.asarray(days, dtype=np.int64), 0)
    response = response_by_day(
        int(ahead.max(initial=0)),
        adult_life_d=adult_life_d,
        survival=(survival_capped, survival_open, survival_egg),
    )
    no_brood = np.isnan(strength.brood_capped)
    laid = strength.eggs_per_day if eggs_per_day is None else eggs_per_day
    starts = (
        strength.adults,
        strength.brood_capped,
        strength.brood_open,
        np.broadcast_to(np.asarray(laid, dtype=np.float64), strength.adults.shape),
    )
    adults = np.zeros((len(strength.adults), ahead.shape[-1]))
    for start, part in zip(starts, response, strict=True):
        adults += start[:, None] * part[ahead]
    adults[no_brood] = strength.adults[no_brood, None]
    room = strength.capacity_bees[:, None]
    if extra_capacity_bees is not None:
        room = np.maximum(
            room + np.asarray(extra_capacity_bees, dtype=np.float64),
            strength.comb_capacity_bees[:, None],
        )
    return adults / room
