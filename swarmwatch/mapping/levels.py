"""The look of each level: a word, a shape and a colour, so that none stands alone."""

from dataclasses import dataclass

from swarmwatch.tables.outputs import LEVELS

# Okabe and Ito (2008), colours told apart by people who see colours differently
BLACK = "#000000"
ORANGE = "#E69F00"
SKY_BLUE = "#56B4E9"
GREEN = "#009E73"
YELLOW = "#F0E442"
BLUE = "#0072B2"
VERMILION = "#D55E00"
PURPLE = "#CC79A7"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """The look of a level: `corners` as (x, y) in -1..1, y up; none means a round mark."""

    word: str
    shape: str
    colour: str
    corners: tuple[tuple[float, float], ...]


_DIAMOND = ((0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0))
_TRIANGLE = ((0.0, 1.0), (1.0, -0.8), (-1.0, -0.8))
_SQUARE = ((-0.85, 0.85), (0.85, 0.85), (0.85, -0.85), (-0.85, -0.85))

MARKS = {
    "quiet": Mark(word="quiet", shape="circle", colour=SKY_BLUE, corners=()),
    "look-soon": Mark(word="look soon", shape="square", colour=YELLOW, corners=_SQUARE),
    "act": Mark(word="act", shape="triangle", colour=ORANGE, corners=_TRIANGLE),
    "today": Mark(word="today", shape="diamond", colour=VERMILION, corners=_DIAMOND),
}
NOT_SCORED = Mark(word="not scored", shape="circle", colour="#FFFFFF", corners=())


def worst(levels: list[str]) -> str:
    """Return the most urgent of `levels`, "" when there is none."""
    known = [level for level in levels if level in LEVELS]
    return max(known, key=LEVELS.index) if known else ""
