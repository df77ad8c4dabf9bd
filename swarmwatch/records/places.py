"""Read a place as a keeper writes it."""

import re
from typing import NamedTuple

from swarmwatch.errors import UsageError

_MEND = "Write degrees north and degrees east, such as 60.17,24.94 (south and west are negative)."


class Place(NamedTuple):
    """A place in WGS 84 [degrees]."""

    latitude: float
    longitude: float

    def __str__(self) -> str:
        north = "north" if self.latitude >= 0 else "south"
        east = "east" if self.longitude >= 0 else "west"
        return f"{abs(self.latitude):g} {north}, {abs(self.longitude):g} {east}"


def parse_place(text: str) -> Place:
    """Read ``LAT,LON``.

    Parameters
    ----------
    text
        Two decimal numbers, degrees north and degrees east.

    Returns
    -------
    The place.

    Raises
    ------
    UsageError
        It is not two numbers, off the globe, swapped for certain, or 0, 0.
    """
    found = re.fullmatch(r"\s*([-+]?\d+(?:\.\d+)?)\s*[,; ]\s*([-+]?\d+(?:\.\d+)?)\s*", text)
    if found is None:
        message = f"'{text}' is not a place. {_MEND}"
        raise UsageError(message)
    latitude, longitude = float(found[1]), float(found[2])
    if abs(latitude) > 90 and abs(latitude) <= 180 and abs(longitude) <= 90:
        message = f"'{text}': latitude and longitude look swapped. {_MEND}"
        raise UsageError(message)
    if abs(latitude) > 90 or abs(longitude) > 180:
        message = f"'{text}' is not on the globe. {_MEND}"
        raise UsageError(message)
    if latitude == 0 and longitude == 0:
        message = f"'{text}' is a place in the Atlantic. {_MEND}"
        raise UsageError(message)
    return Place(latitude, longitude)
