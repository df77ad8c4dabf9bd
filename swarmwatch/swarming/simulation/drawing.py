"""Which numbers hold in a simulated world, and which for each of its keepers?"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from swarmwatch.evidence import Entry, Evidence

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Integers = NDArray[np.int64]
Words = NDArray[np.object_]
Numbers = Mapping[str, float]

GUARD = 1e-6  # numerical: keeps a logarithm finite
_SUBJECT = "simulation."
_KEEPER = "keeper_"
# numerical: the outermost quantiles of an unbounded range hold nothing that a source speaks of
_OUTERMOST = 0.03


def world_numbers(evidence: Evidence, rng: np.random.Generator) -> dict[str, float]:
    """Draw the parameters of one world, each from its own range.

    Parameters
    ----------
    evidence
        The numbers; those of subject ``simulation`` that are not a keeper's are drawn.
    rng
        Where chance comes from.

    Returns
    -------
    One value an entry, by the part of its key after the dot, in the entry's unit.
    """
    return {
        name: float(_draw(entry, rng, 1)[0])
        for name, entry in _entries(evidence).items()
        if not name.startswith(_KEEPER)
    }


def keeper_numbers(
    evidence: Evidence, rng: np.random.Generator, *, keepers: int
) -> dict[str, Floats]:
    """Draw the habits of each keeper, (keepers,) values an entry, named without ``keeper_``."""
    return {
        name.removeprefix(_KEEPER): _draw(entry, rng, keepers)
        for name, entry in _entries(evidence).items()
        if name.startswith(_KEEPER)
    }


def lognormal(rng: np.random.Generator, sd: float, size: int) -> Floats:
    """Draw factors whose mean is 1 and whose log has the spread `sd`, (size,)."""
    return np.exp(rng.normal(-(sd**2) / 2, sd, size))


def logistic(at: Floats) -> Floats:
    """Rise from 0 to 1, half of it at 0."""
    return np.asarray((1 + np.tanh(at / 2)) / 2)


def ramp(at: Floats, *, start: float, end: float) -> Floats:
    """Rise straight from 0 at `start` to 1 at `end`."""
    return np.clip((at - start) / (end - start), 0.0, 1.0)


def _entries(evidence: Evidence) -> dict[str, Entry]:
    return {k.removeprefix(_SUBJECT): e for k, e in evidence.items() if k.startswith(_SUBJECT)}


def _draw(entry: Entry, rng: np.random.Generator, count: int) -> Floats:
    return entry.quantile(rng.uniform(_OUTERMOST, 1 - _OUTERMOST, count))
