"""What does a keeper ask of a plan, and what is taken where nothing is asked?"""

from dataclasses import dataclass

BOXES = 5
# judgement: no experiment says how far boxes should hang apart, so a keeper's own sites are only
# warned of
SPACING_M: float = 500
LURE = "nasonov-lure"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the keeper asks of a plan; `boxes` None means all that hang nowhere yet."""

    boxes: int | None = None
    spacing_m: float = SPACING_M
    lure: str = LURE
    allow_high: bool = False
