"""What comes of putting colonies through the model, and what other odds make of it."""

from dataclasses import dataclass

import numpy as np

from swarmwatch.swarming.notes import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """What a replay gives, each array (n_draws, n) [-].

    `by` is (n_draws, n, n_targets): the chance that the prime swarm has left by each target
    evening; `after` the chance of an afterswarm within 7 days after `on`; `cells` the chance that
    swarm cells are there on the evening of the last note; `weight` how well each draw explains
    all that was seen of the colony, summing to 1 over the draws.
    """

    by: Floats
    after: Floats
    cells: Floats
    weight: Floats

    def within(self, target: int) -> Floats:
        """Return the chance (n,) that a colony still there on evening 0 swarms by a target.

        It is the ratio of sums over the draws, so that draws in which the colony has likely gone
        weigh less. `target` is the place of the evening among the targets, whose first is 0.
        """
        gone = self.by[..., 0]
        here = (self.weight * np.maximum(1 - gone, np.finfo(float).tiny)).sum(axis=0)
        coming = (self.weight * np.maximum(self.by[..., target] - gone, 0)).sum(axis=0)
        return np.asarray(np.clip(coming / here, 0, 1))


def at_odds(by: Floats, odds: Floats) -> Floats:
    """Move the odds that a colony still there swarms by each target, all by the same factor.

    Parameters
    ----------
    by
        (n_draws, n, n_targets) chance that the prime swarm has left by each target, of which the
        first is the evening of the score itself.
    odds
        (n_draws,) factor of the odds [-]; 1 leaves all as it is.

    Returns
    -------
    The chances moved, of the same shape; the first target keeps its own.

    Source: the proportional odds model, Bennett 1983, Statistics in Medicine 2:273-277.
    """
    if (odds == 1).all():
        return by
    gone = by[..., :1]
    here = 1 - gone
    coming = np.clip(by - gone, 0, None) / np.maximum(here, np.finfo(float).tiny)
    factor = odds[:, None, None]
    return np.asarray(gone + here * factor * coming / (1 - coming + factor * coming))
