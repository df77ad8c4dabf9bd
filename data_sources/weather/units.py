"""In which units may weather come, and how does it become ours?"""

from data_sources.errors import SourceMalformed

# factor and offset: ours = (theirs - offset) * factor; all exact by definition but the knot
_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "temperature": {"c": (1.0, 0.0), "f": (5 / 9, 32.0)},
    "depth": {"mm": (1.0, 0.0), "cm": (10.0, 0.0), "in": (25.4, 0.0)},
    "speed": {
        "m/s": (1.0, 0.0),
        "km/h": (1 / 3.6, 0.0),
        "mph": (0.44704, 0.0),
        "kn": (1852 / 3600, 0.0),
    },
    "duration": {"h": (1.0, 0.0), "min": (1 / 60, 0.0), "s": (1 / 3600, 0.0)},
}
_SPELLINGS = {
    "°c": "c", "celsius": "c", "degc": "c", "°f": "f", "fahrenheit": "f", "degf": "f",
    "inch": "in", "inches": "in", '"': "in", "ms": "m/s", "kmh": "km/h", "kph": "km/h",
    "mp/h": "mph", "mi/h": "mph", "kt": "kn", "kts": "kn", "knots": "kn", "hours": "h",
    "minutes": "min", "seconds": "s", "km_h-1": "km/h", "m_s-1": "m/s", "mm/day": "mm",
}  # fmt: skip
MEASURE = {
    "temp_max_c": "temperature",
    "temp_min_c": "temperature",
    "rain_mm": "depth",
    "wind_max_m_s": "speed",
    "sunshine_h": "duration",
}
OURS = {
    "temp_max_c": "C",
    "temp_min_c": "C",
    "rain_mm": "mm",
    "wind_max_m_s": "m/s",
    "sunshine_h": "h",
}


def converter(column: str, unit: object, where: str) -> tuple[float, float]:
    """Return (factor, offset) that turn `unit` into the unit of `column`.

    Raises
    ------
    SourceMalformed
        The unit is not known for this column.
    """
    known = _UNITS[MEASURE[column]]
    name = str(unit).strip().lower()
    name = _SPELLINGS.get(name, name)
    if name not in known:
        message = f"{where}: unit {unit!r} of {column} is not known. Use one of {', '.join(known)}."
        raise SourceMalformed(message)
    return known[name]
