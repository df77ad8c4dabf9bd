"""Say measures in the keeper's units: the texts are metric, a setting turns them into US ones."""

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

METRIC, US = "metric", "us"
UNITS = {METRIC: "Metric: metres, degrees Celsius, kilograms", US: "US: feet, Fahrenheit, pounds"}

# definitions of 1 July 1959 and of the US gallon: exact
_M_PER_FOOT = 0.3048
_M_PER_MILE = 1609.344
_M_PER_INCH = 0.0254
_KG_PER_POUND = 0.45359237
_L_PER_GALLON = 3.785411784
# from here on feet are hard to picture [m]
_MILES_FROM_M = 1000.0
_LEAST_DIGITS = 2


@dataclass(frozen=True, slots=True)
class _Unit:
    name: str
    turn: Callable[[float], float]


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


_INCHES = 1 / _M_PER_INCH
_UNITS = {
    "m": _Unit("ft", _times(1 / _M_PER_FOOT)),
    "km": _Unit("mi", _times(1000 / _M_PER_MILE)),
    "mm": _Unit("in", _times(_INCHES / 1000)),
    "cm": _Unit("in", _times(_INCHES / 100)),
    "cm2": _Unit("sq in", _times((_INCHES / 100) ** 2)),
    "m/s": _Unit("mph", _times(3600 / _M_PER_MILE)),
    "kg": _Unit("lb", _times(1 / _KG_PER_POUND)),
    "l": _Unit("gal", _times(1 / _L_PER_GALLON)),
    "C": _Unit("F", lambda celsius: celsius * 9 / 5 + 32),
}
_MILES = _Unit("mi", _times(1 / _M_PER_MILE))
_NUMBER = r"-?\d{1,3}(?:,\d{3})+(?:\.\d+)?|-?\d+(?:\.\d+)?"
# one number or two, such as "3.0 m", "40 to 60 l"; never the middle of a longer word or number
MEASURE = re.compile(
    rf"(?<![\w.,/-])(?:({_NUMBER})( to | or |-))?({_NUMBER})([ \u00a0])"
    rf"({'|'.join(sorted(map(re.escape, _UNITS), key=len, reverse=True))})(?![\w/]| d\b)"
)


def in_units(text: str, units: str, *, names: Iterable[str] = ()) -> str:
    """Return a text with its measures in the keeper's units.

    Parameters
    ----------
    text
        A text of the product, its measures metric with a space before the unit.
    units
        `METRIC` leaves it as it is.
    names
        Names and notes of the keeper's own that stay as they are where they stand in the text.
    """
    if units != US:
        return text
    kept = [n for n in dict.fromkeys(names) if MEASURE.search(n)]
    if not kept:
        return MEASURE.sub(_turned, text)
    own = re.compile("|".join(map(re.escape, sorted(kept, key=len, reverse=True))))
    parts, at = [], 0
    for name in own.finditer(text):
        parts += [MEASURE.sub(_turned, text[at : name.start()]), name[0]]
        at = name.end()
    return "".join([*parts, MEASURE.sub(_turned, text[at:])])


def _turned(found: re.Match[str]) -> str:
    first, between, second, gap, name = found.groups()
    unit = _UNITS[name]
    values = [float(v.replace(",", "")) for v in (first, second) if v is not None]
    if name == "m" and max(values) >= _MILES_FROM_M:
        unit = _MILES
    turned = [
        _rounded(unit.turn(v), like=text)
        for v, text in zip(values, (t for t in (first, second) if t is not None), strict=True)
    ]
    return f"{(between or '').join(turned)}{gap}{unit.name}"


def _rounded(value: float, *, like: str) -> str:
    """Round to as many digits as the metric number shows, two at least."""
    digits = max(_LEAST_DIGITS, len(re.sub(r"\D", "", like).strip("0")))
    if value == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, places):.{max(0, places)}f}"
