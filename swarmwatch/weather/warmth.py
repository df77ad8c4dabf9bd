"""How much warmth above a base did a day bring?"""

from collections.abc import Callable

import numpy as np
import pandas as pd

from swarmwatch.errors import Problem, RecordsError, UsageError
from swarmwatch.weather.arrays import Floats, Numbers, floats, like

# definition: the default that the public contract fixes, 50 F, the base held acceptable for all
# plants and insects of the Ohio phenology calendar
BASE_C = 10.0


def degree_days(
    temp_min_c: Numbers,
    temp_max_c: Numbers,
    *,
    base_c: float = BASE_C,
    upper_c: float | None = None,
    method: str = "single-sine",
) -> float | Floats | pd.Series:
    """Compute each day's warmth above a base temperature.

    Parameters
    ----------
    temp_min_c, temp_max_c
        Scalars, (n_days,) arrays or Series, lowest and highest temperature of the day [C].
    base_c
        Temperature below which warmth does not count [C].
    upper_c
        Horizontal cutoff [C]: warmth above it does not count more. None means no cutoff.
    method
        ``single-sine`` or ``single-triangle`` (a day's course through its two extremes), or
        ``mean`` (the mean of the extremes less the base, not below 0).

    Returns
    -------
    Degree-days of each day [C d], not below 0; NaN where a temperature is NaN. A float for
    scalars, a Series for Series, else an array.

    Raises
    ------
    RecordsError
        A day's lowest temperature is above its highest.
    UsageError
        The method is not known, or the cutoff is not above the base.

    Notes
    -----
    With M = (max + min) / 2, W = (max - min) / 2 and t = asin((base - M) / W), the sine gives
    [(M - base)(pi/2 - t) + W cos t] / pi between the extremes. The cutoff subtracts the
    degree-days above `upper_c`.

    Source
    ------
    Baskerville & Emin 1969, Ecology 50:514-517.

    Examples
    --------
    >>> degree_days(12.0, 24.0)
    8.0
    """
    if method not in _METHODS:
        message = f"degree-day method {method!r} is not known. Use one of {', '.join(_METHODS)}."
        raise UsageError(message)
    if upper_c is not None and not upper_c > base_c:
        message = f"the upper cutoff {upper_c:g} C is not above the base {base_c:g} C. Raise it."
        raise UsageError(message)
    low, high = np.broadcast_arrays(floats(temp_min_c), floats(temp_max_c))
    _refuse_crossed(low, high)
    above = _METHODS[method]
    result = above(low, high, base_c)
    if upper_c is not None:
        result = result - above(low, high, upper_c)
    # the subtraction may leave a rounding error below 0
    result = np.maximum(result, 0.0)
    return like(temp_max_c if isinstance(temp_max_c, pd.Series) else temp_min_c, result)


def _refuse_crossed(low: Floats, high: Floats) -> None:
    crossed = np.flatnonzero(np.ravel(low > high))
    if crossed.size:
        raise RecordsError(
            Problem(
                table="weather",
                row=int(i) + 2,
                column="temp_max_c",
                what=f"{high.flat[i]:g} C is below the lowest temperature {low.flat[i]:g} C",
                mend="Check which column is which, and the sign.",
            )
            for i in crossed
        )


def _sine(low: Floats, high: Floats, base_c: float) -> Floats:
    middle, swing = (high + low) / 2, (high - low) / 2
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        angle = np.arcsin(np.clip((base_c - middle) / swing, -1.0, 1.0))
        between = ((middle - base_c) * (np.pi / 2 - angle) + swing * np.cos(angle)) / np.pi
    return _pieces(low, high, base_c, between)


def _triangle(low: Floats, high: Floats, base_c: float) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        between = (high - base_c) ** 2 / (2 * (high - low))
    return _pieces(low, high, base_c, between)


def _mean(low: Floats, high: Floats, base_c: float) -> Floats:
    return np.maximum((high + low) / 2 - base_c, 0.0)


def _pieces(low: Floats, high: Floats, base_c: float, between: Floats) -> Floats:
    whole = np.where(low >= base_c, (high + low) / 2 - base_c, between)
    some = np.where(high <= base_c, 0.0, whole)
    return np.where(np.isnan(low) | np.isnan(high), np.nan, some)


_METHODS: dict[str, Callable[[Floats, Floats, float], Floats]] = {
    "single-sine": _sine,
    "single-triangle": _triangle,
    "mean": _mean,
}
