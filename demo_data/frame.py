"""Where does a spot of the invented ground lie on the globe?"""

from math import cos, radians

ORIGIN_LATITUDE = 57.9
ORIGIN_LONGITUDE = 25.6
METRES_A_DEGREE = 111_320.0

Spot = tuple[float, float]
"""Metres east and north of the town's square."""


def to_globe(spot: Spot) -> Spot:
    """Turn metres east and north into longitude and latitude, rounded to about 10 cm."""
    east_m, north_m = spot
    longitude = ORIGIN_LONGITUDE + east_m / (METRES_A_DEGREE * cos(radians(ORIGIN_LATITUDE)))
    return round(longitude, 6), round(ORIGIN_LATITUDE + north_m / METRES_A_DEGREE, 6)
