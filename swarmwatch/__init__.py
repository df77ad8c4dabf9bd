"""Swarm-season risk scorer and bait-box planner.

The public functions are loaded on first use (PEP 562), so that ``import swarmwatch`` and
``swarmwatch --help`` stay fast and load no pandas.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from swarmwatch.evidence import load_evidence
    from swarmwatch.placement.plan import plan_boxes
    from swarmwatch.placement.sources import season_swarms
    from swarmwatch.swarming.score import score_colonies

__version__ = "0.1.0"

_HOMES = {
    "load_evidence": "swarmwatch.evidence",
    "plan_boxes": "swarmwatch.placement.plan",
    "score_colonies": "swarmwatch.swarming.score",
    "season_swarms": "swarmwatch.placement.sources",
}

__all__ = ["load_evidence", "plan_boxes", "score_colonies", "season_swarms"]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        message = f"module 'swarmwatch' has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
