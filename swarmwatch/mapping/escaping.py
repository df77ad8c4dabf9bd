"""Getting a keeper's text onto a page, a sheet or into a file without harm."""

import html
import json
import unicodedata
from collections.abc import Container

from swarmwatch.wording import one_line

_FOR_TEMPLATES = str.maketrans(
    {"\\": "&#92;", "`": "&#96;", "$": "&#36;", "{": "&#123;", "}": "&#125;"}
)
_FOR_SCRIPTS = str.maketrans({c: f"\\u{ord(c):04x}" for c in "<>&'{}"})
_SYMBOLS = frozenset({"So", "Sk", "Sm", "Sc"})
_SKIN_TONES = range(0x1F3FB, 0x1F400)
NO_GLYPH = "?"


def safe(text: object) -> str:
    """Return `text` so that it is only ever text, in HTML and inside a script's template string.

    HTML escaping alone does not stop ``${...}``, a backtick or a backslash where a library
    copies a name into a JavaScript template literal, nor ``{{...}}`` or ``{%...%}`` where it
    reads its own output as a template again.
    """
    return html.escape(one_line(text), quote=True).translate(_FOR_TEMPLATES)


def script_text(text: object) -> str:
    """Return `text` as a JavaScript string, quotes included, that is only ever text in a page.

    Braces are escaped, too: a library reads the finished script as a template again.
    """
    return json.dumps(one_line(text)).translate(_FOR_SCRIPTS)


def printable(text: object, glyphs: Container[int]) -> str:
    """Return `text` with only characters that a font has.

    A symbol that the font lacks is named in brackets, such as ``[honeybee]``; a letter that it
    lacks becomes `NO_GLYPH`.

    Parameters
    ----------
    text
        What should be printed.
    glyphs
        Code points that the font has.
    """
    return "".join(_glyph(c, glyphs) for c in one_line(text)).strip()


def _glyph(character: str, glyphs: Container[int]) -> str:
    if ord(character) in glyphs:
        return character
    category = unicodedata.category(character)
    if ord(character) in _SKIN_TONES or category in {"Mn", "Me"}:
        return ""
    if category in _SYMBOLS:
        return f"[{unicodedata.name(character, 'sign').lower()}]"
    return NO_GLYPH
