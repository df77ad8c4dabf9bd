"""What do the trade's words mean that the tool uses?"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib import resources


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One word of the trade, its other names and forms, and what it means."""

    word: str
    also: tuple[str, ...]
    means: str


@cache
def glossary() -> tuple[Word, ...]:
    """Return all words, in the order of the alphabet."""
    file = resources.files("swarmwatch.sheets") / "glossary.toml"
    entries = tomllib.loads(file.read_text(encoding="utf-8"))
    words = (
        Word(word=name, also=tuple(cells.get("also", ())), means=str(cells["means"]))
        for name, cells in entries.items()
    )
    return tuple(sorted(words, key=lambda w: w.word))


def word_for(asked: str) -> Word | None:
    """Return the entry of a word by any of its names, any case; None where there is none."""
    return _by_name().get(asked.strip().casefold())


def near_words(asked: str) -> list[str]:
    """Return names of the glossary that are written much like `asked`, the nearest first."""
    return get_close_matches(asked.strip().casefold(), _by_name(), n=3, cutoff=0.7)


@cache
def _by_name() -> Mapping[str, Word]:
    first = {name.casefold(): word for word in glossary() for name in word.also}
    return first | {word.word.casefold(): word for word in glossary()}
