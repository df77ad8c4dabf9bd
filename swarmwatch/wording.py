"""How do numbers and names read? One way for terminal, map, paper and alert."""

import math
import unicodedata

_TO_PER_CENT = 100
# definition: a number of swarms is shown to one decimal
_SMALLEST_SHOWN = 0.1
_JOINERS = "\u200c\u200d"
# control, format, surrogate, private and unassigned characters
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})


def per_cent(chance: float) -> str:
    """Return a chance in whole per cent, never 0 or 100 for what is only likely; "" for a blank."""
    if math.isnan(chance):
        return ""
    if 0 < chance < 1 / _TO_PER_CENT:
        return "under 1 %"
    if 1 - 1 / _TO_PER_CENT < chance < 1:
        return "over 99 %"
    return f"{chance * _TO_PER_CENT:.0f} %"


def amount(swarms: float) -> str:
    """Return a number of swarms to one decimal, as exact as it is known; "" for a blank."""
    if math.isnan(swarms):
        return ""
    if 0 < swarms < _SMALLEST_SHOWN:
        return f"under {_SMALLEST_SHOWN}"
    return f"{swarms:.1f}"


def one_line(text: object) -> str:
    """Return a text on one line, without characters that steer, hide or that XML refuses.

    A name is data, never layout; joiners that scripts need stay.
    """
    text = str(text)
    if text.isascii() and text.isprintable():
        return " ".join(text.split())
    shown = (" " if c.isspace() else c for c in text if c.isspace() or _shows(c))
    return " ".join("".join(shown).split())


def _shows(character: str) -> bool:
    return character in _JOINERS or unicodedata.category(character) not in _HIDDEN
