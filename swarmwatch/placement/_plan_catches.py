"""How many swarms each chosen site catches, under the usual assumptions and under others.

Share of a swarm from source s that box j takes: ``q_j k(r_sj) / (D + sum_i q_i k(r_si))``, D the
natural cavities per km2, k the density of settling per km2, q how much more attractive than a
natural hole a box is.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence
from swarmwatch.placement._capture_problem import prepare
from swarmwatch.placement._capture_search import fill
from swarmwatch.placement.dispersal import Kernel, kernels
from swarmwatch.placement.site_quality import capped, lure_entry

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

DRAWS = 200
ROBUST_DRAWS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Who sends swarms, and how far from every site.

    `distance_m` (sources, sites) [m]; `swarms`, `swarms_low`, `swarms_high` (sources,) a season;
    `unknown` (sources,) flags the background; their cells are wide, so `distance_m` of them is
    the root mean square over the cell.
    """

    distance_m: Floats
    swarms: Floats
    swarms_low: Floats
    swarms_high: Floats
    unknown: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """`place` (sites,) box, height, direction; `attraction` (sites,) comb, history, land [-]."""

    place: Floats
    attraction: Floats

    def with_lure(self, factor: float, evidence: Evidence) -> Floats:
        """Return the whole quality (sites,), a natural hole being 1."""
        return np.asarray(self.place * capped(self.attraction * factor, evidence), np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """One set of numbers that the sources allow: kernel, cavities [1/km2], lure factor, scales."""

    kernel: Kernel
    cavities: float
    lure: float
    background: float
    season: float

    def swarms(self, field: Field) -> Floats:
        """Return swarms a season (sources,): `season` is a standard score between low and high."""
        side = np.where(
            self.season < 0, field.swarms - field.swarms_low, field.swarms_high - field.swarms
        )
        drawn = np.maximum(field.swarms + self.season * side, 0.0)
        return np.where(field.unknown, field.swarms * self.background, drawn)


def usual(evidence: Evidence, *, lure: float) -> Assumption:
    """Return the assumption with every number at its middle."""
    return Assumption(
        kernel=kernels(evidence)[0],
        cavities=evidence.value("dispersal.natural_cavities"),
        lure=lure,
        background=1.0,
        season=0.0,
    )


def others(
    evidence: Evidence, rng: np.random.Generator, *, lure: str, count: int
) -> list[Assumption]:
    """Draw assumptions: every kernel equally often, the numbers from their ranges."""
    from scipy.special import ndtri  # late: scipy is slow to load

    shares = (rng.permuted(np.tile(np.arange(count)[:, None], (1, 4)), axis=0) + 0.5) / count
    choice = kernels(evidence)
    key = lure_entry(lure)
    lures = np.ones(count) if key is None else evidence[key].quantile(shares[:, 1])
    cavities = evidence["dispersal.natural_cavities"].quantile(shares[:, 0])
    background = evidence["placement.background_swarms"]
    scales = background.quantile(shares[:, 2]) / background.value
    scores = ndtri(shares[:, 3]) / ndtri(_HIGH_SHARE)
    return [
        Assumption(
            kernel=choice[i % len(choice)],
            cavities=float(cavities[i]),
            lure=float(lures[i]),
            background=float(scales[i]),
            season=float(scores[i]),
        )
        for i in range(count)
    ]


# tables.md: low and high are the 10th and 90th percentile
_LOW_SHARE, _HIGH_SHARE = 0.1, 0.9


def contributions(field: Field, density: Floats, quality: Floats, assumption: Assumption) -> Floats:
    """Return the swarms from each source in each site's box (sources, sites) a season.

    `density` is the assumption's kernel at the field's distances; every site holds a box.
    """
    pull = density * quality
    share = pull / (assumption.cavities + pull.sum(axis=1, keepdims=True))
    return np.asarray(assumption.swarms(field)[:, None] * share, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Catches a season of each site and of all: middle, 10th and 90th percentile, chance of any."""

    middle: Floats
    low: Floats
    high: Floats
    p_any: Floats
    total: float
    total_low: float
    total_high: float
    total_p_any: float


def catch_range(
    field: Field,
    quality: Quality,
    *,
    evidence: Evidence,
    lure: str,
    central: Assumption,
    new: NDArray[np.bool_],
    rng: np.random.Generator,
) -> Range:
    """Return catches with their range over other assumptions.

    `field` and `quality` hold the chosen and the hung sites only; `new` flags those to report.
    """
    densities = {k: k.per_km2(field.distance_m) for k in kernels(evidence)}

    def caught(assumption: Assumption) -> Floats:
        whole = quality.with_lure(assumption.lure, evidence)
        sent = contributions(field, densities[assumption.kernel], whole, assumption)
        return np.asarray(sent.sum(axis=0)[new], dtype=np.float64)

    middle = caught(central)
    drawn = np.stack([caught(a) for a in others(evidence, rng, lure=lure, count=DRAWS)])
    low, high = np.quantile(drawn, [_LOW_SHARE, _HIGH_SHARE], axis=0)
    total_low, total_high = np.quantile(drawn.sum(axis=1), [_LOW_SHARE, _HIGH_SHARE])
    total = float(middle.sum())
    return Range(
        middle=middle,
        low=np.minimum(low, middle),
        high=np.maximum(high, middle),
        p_any=(1.0 - np.exp(-drawn)).mean(axis=0),
        total=total,
        total_low=min(float(total_low), total),
        total_high=max(float(total_high), total),
        total_p_any=float((1.0 - np.exp(-drawn.sum(axis=1))).mean()),
    )


def chosen_again(
    field: Field,
    quality: Quality,
    *,
    count: int,
    forced: Ints,
    conflicts: NDArray[np.int64],
    evidence: Evidence,
    lure: str,
    rng: np.random.Generator,
) -> NDArray[np.bool_]:
    """Return which sites are chosen under other assumptions (assumptions, sites).

    The choice is greedy there: near the best, and fast enough to repeat.
    """
    densities = {k: k.per_km2(field.distance_m) for k in kernels(evidence)}
    drawn = others(evidence, rng, lure=lure, count=ROBUST_DRAWS)
    again = np.zeros((len(drawn), field.distance_m.shape[1]), dtype=bool)
    for row, assumption in zip(again, drawn, strict=True):
        problem = prepare(
            assumption.swarms(field),
            densities[assumption.kernel] * quality.with_lure(assumption.lure, evidence),
            np.full(field.swarms.size, assumption.cavities),
            count=count,
            forced=forced,
            conflicts=conflicts,
        )
        if problem.size:
            row[problem.sites[fill(problem, [])]] = True
    return again
