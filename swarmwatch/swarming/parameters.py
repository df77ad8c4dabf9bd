"""Which sets of parameters does a score rest on? The central one, and the draws round it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence, spread_points

Floats = NDArray[np.float64]
SUBJECTS = (
    *("season", "preparation", "cells", "departure", "seeing", "afterswarm", "actions"),
    "calibration",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """Parameter sets: one array (n_draws,) an evidence key of the model.

    ``parameters["cells.sealing_age"]`` is an array whose length is the number of draws.
    """

    sets: Mapping[str, Floats]
    draws: int

    def __getitem__(self, key: str) -> Floats:
        return self.sets[key]

    def column(self, key: str) -> Floats:
        """Return one parameter as (n_draws, 1), to meet arrays over colonies."""
        return self.sets[key][:, None]

    def one(self, draw: int) -> "Parameters":
        """Return one of the sets alone."""
        return Parameters(sets={k: v[draw : draw + 1] for k, v in self.sets.items()}, draws=1)

    def numbers(self) -> dict[str, float]:
        """Return the first set as plain numbers."""
        return {k: float(v[0]) for k, v in self.sets.items()}


def central(evidence: Evidence) -> Parameters:
    """Return the one set in which each parameter has its central value."""
    return Parameters(
        sets={k: np.array([evidence.value(k)]) for k in _keys(evidence)},
        draws=1,
    )


def drawn(evidence: Evidence, *, draws: int, seed: int) -> Parameters:
    """Return `draws` sets spread evenly over the ranges by a scrambled Sobol sequence.

    The same evidence, number and seed give the same sets.
    """
    keys = uncertain(evidence)
    shares = spread_points(len(keys), draws=draws, seed=seed)
    sets = {k: np.full(draws, evidence.value(k)) for k in _keys(evidence)}
    # keep clear of 0 and 1, whose quantiles are infinite
    margin = 1 / (2 * draws)
    for i, key in enumerate(keys):
        sets[key] = evidence[key].quantile(np.clip(shares[:, i], margin, 1 - margin))
    return Parameters(sets=sets, draws=draws)


def uncertain(evidence: Evidence) -> list[str]:
    """Return the keys of the model whose values differ from draw to draw."""
    return [k for k in _keys(evidence) if evidence[k].distribution != "fixed"]


def _keys(evidence: Evidence) -> list[str]:
    return [k for k in evidence if k.partition(".")[0] in SUBJECTS]
