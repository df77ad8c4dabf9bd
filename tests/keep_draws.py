"""Keep the points of the score's draws anew: ``python tests/keep_draws.py``.

To be run where an uncertain number of the model came or went: a score then needs as many more or
fewer dimensions, and would draw them at every start, which takes longer than all its sums.
"""

from pathlib import Path

import numpy as np

from swarmwatch.evidence import load_evidence
from swarmwatch.evidence.spread import drawn_points, kept_name
from swarmwatch.swarming.parameters import uncertain
from swarmwatch.swarming.score import DRAWS, SEED

FOLDER = Path(__file__).parent.parent / "swarmwatch" / "evidence" / "points"


def keep(into: Path) -> None:
    """Write the points that the shipped numbers need, in the place of those that were kept."""
    into.mkdir(exist_ok=True)
    for old in into.iterdir():
        old.unlink()
    dimensions = len(uncertain(load_evidence()))
    points = drawn_points(dimensions, draws=DRAWS, seed=SEED)
    np.save(into / kept_name(dimensions, draws=DRAWS, seed=SEED), points)


if __name__ == "__main__":
    keep(FOLDER)
