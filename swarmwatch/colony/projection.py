"""Adults of the days to come, from the adults and brood seen today."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence

Floats = NDArray[np.float64]

# worker: 3 days egg, 6 open larva, 12 capped (Winston 1987); all ages equally many at steady laying
_CAPPED_D = 12
_OPEN_D = 9


def project_adults(
    adults: ArrayLike,
    brood_capped: ArrayLike,
    brood_open: ArrayLike,
    *,
    days: int,
    eggs_per_day: ArrayLike = 0.0,
    adult_life_d: ArrayLike | None = None,
    survival_capped: ArrayLike | None = None,
    survival_open: ArrayLike | None = None,
    survival_egg: ArrayLike | None = None,
) -> Floats:
    """Carry adults and brood seen today to the number of adults on each day to come.

    Parameters
    ----------
    adults, brood_capped, brood_open
        () or (n,) adult bees, capped and open worker brood cells (eggs among the open) on day 0.
    days
        Days to look ahead, 0 or more.
    eggs_per_day
        () or (n,) eggs laid a day from day 1 on; they tell from day 22 on.
    adult_life_d
        () or (n,) mean life of an adult [d], 1 or more; None is the evidence value, 35.
    survival_capped, survival_open, survival_egg
        () or (n,) share of capped brood, open brood and eggs that emerges [-]; None is the
        evidence value: 0.99, 0.90, 0.85.

    Returns
    -------
    (days + 1,) or (n, days + 1) adults, day 0 first. NaN where an input is NaN.

    Raises
    ------
    UsageError
        `days` is negative or a life is shorter than a day.

    Notes
    -----
    ``N[t+1] = N[t] (1 - 1/T) + E[t+1]``, E = capped x survival / 12 on days 1 to 12, open x
    survival / 9 on days 13 to 21, eggs x survival after. Up to day 21 only brood already there
    counts.

    Source: cohorts by the worker's development times (Winston 1987); evidence
    ``strength.adult_life_d`` and ``strength.survival_*``.
    """
    response = response_by_day(
        days,
        adult_life_d=adult_life_d,
        survival=(survival_capped, survival_open, survival_egg),
    )
    starts = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (adults, brood_capped, brood_open, eggs_per_day))
    )
    if response.ndim == 2:
        return np.stack(starts, axis=-1) @ response
    return np.asarray(
        sum(start[..., None] * part for start, part in zip(starts, response, strict=True))
    )


def response_by_day(
    days: int,
    *,
    adult_life_d: ArrayLike | None,
    survival: tuple[ArrayLike | None, ArrayLike | None, ArrayLike | None],
) -> Floats:
    """Return (4, ..., days + 1) adults by day for one adult, capped cell, open cell, egg a day.

    The projection is linear in its four starts, so that one response serves every colony.
    """
    evidence = load_evidence()
    names = ("adult_life_d", "survival_capped", "survival_open", "survival_egg")
    life, capped, opened, egg = np.broadcast_arrays(
        *(
            np.asarray(evidence.value(f"strength.{n}") if v is None else v, dtype=np.float64)
            for n, v in zip(names, (adult_life_d, *survival), strict=True)
        )
    )
    if days < 0 or (life < 1).any():
        message = "a projection needs days of 0 or more and an adult life of 1 day or more"
        raise UsageError(message)
    response = np.zeros((4, *life.shape, days + 1))
    response[0, ..., 0] = 1.0
    for day in range(1, days + 1):
        response[..., day] = response[..., day - 1] * (1 - 1 / life)
        if day <= _CAPPED_D:
            response[1, ..., day] += capped / _CAPPED_D
        elif day <= _CAPPED_D + _OPEN_D:
            response[2, ..., day] += opened / _OPEN_D
        else:
            response[3, ..., day] += egg
    return response
