"""How long is the day?"""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from swarmwatch.weather.arrays import Floats, Numbers, floats, like

# Forsythe et al. 1995, Ecol Model 80:87-95, the CBM model: revolution angle, declination, and
# the sun's top edge on the horizon with refraction (p, degrees)
_CBM = SimpleNamespace(
    start=0.2163108,
    stretch=0.9671396,
    rate=0.00860,
    day_zero=186,
    tilt=0.39795,
    horizon_deg=0.8333,
)
_HOURS = 24


def day_length_h(latitude: Numbers, day_of_year: Numbers) -> float | Floats | pd.Series:
    """Compute the time from sunrise to sunset.

    Parameters
    ----------
    latitude
        Scalar, array or Series [degrees north].
    day_of_year
        Scalar, array or Series, 1 to 366.

    Returns
    -------
    Hours of daylight [h]: 0 in the polar night, 24 under the midnight sun.

    Source
    ------
    Forsythe, Rykiel, Stahl, Wu & Schoolfield 1995, Ecological Modelling 80:87-95, eqs 1 to 3.

    Examples
    --------
    >>> round(day_length_h(42.4, 172), 3)
    15.29
    """
    lat, day = np.radians(floats(latitude)), floats(day_of_year)
    angle = _CBM.start + 2 * np.arctan(_CBM.stretch * np.tan(_CBM.rate * (day - _CBM.day_zero)))
    declination = np.arcsin(_CBM.tilt * np.cos(angle))
    horizon = np.sin(np.radians(_CBM.horizon_deg))
    cosine = (horizon + np.sin(lat) * np.sin(declination)) / (np.cos(lat) * np.cos(declination))
    hours = _HOURS - _HOURS / np.pi * np.arccos(np.clip(cosine, -1.0, 1.0))
    return like(day_of_year if isinstance(day_of_year, pd.Series) else latitude, np.asarray(hours))
