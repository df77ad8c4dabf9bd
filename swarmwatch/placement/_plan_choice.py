"""Which sites make the best set, in which order, and whether it stands otherwise, too."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from swarmwatch.evidence import Evidence
from swarmwatch.placement._capture_problem import prepare
from swarmwatch.placement._capture_search import fill
from swarmwatch.placement._plan_candidates import Candidates
from swarmwatch.placement._plan_catches import (
    Assumption,
    Field,
    Quality,
    chosen_again,
    usual,
)
from swarmwatch.placement.capture import Capture, maximum_capture
from swarmwatch.placement.dispersal import distances_m, geocentric_m
from swarmwatch.placement.site_quality import (
    hanging_heights_m,
    lure_factor,
    place_quality,
    reference_box_quality,
    site_attraction,
)
from swarmwatch.placement.sources import background_sources

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# by definition, mean square distance from the middle of a square of side 1
_MEAN_SQUARE = 1 / 6
_FURTHER = 3  # boxes beyond those asked for: enough to see where the gain levels off


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """All that the choice rests on. `place` (sites,) is the quality without the box."""

    candidates: Candidates
    names: list[str]
    field: Field
    heights_m: Floats
    place: Floats
    quality: Quality
    central: Assumption
    lure: str
    evidence: Evidence

    @property
    def held(self) -> Ints:
        """The sites that hold a box already."""
        return np.flatnonzero(self.candidates.hung)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """`order` the new sites, best first; `robust` (new sites,) flags; how sure the set is best.

    `further` is what one box more would add, then another, each at its best place [1/season].
    `crowded` counts the sites that only the spacing keeps out.
    """

    order: Ints
    robust: NDArray[np.bool_]
    solved: Capture
    further: Floats
    crowded: int


def setting_of(
    sources: pd.DataFrame,
    found: Candidates,
    *,
    evidence: Evidence,
    lure: str,
    allow_high: bool,
    background: bool,
) -> Setting:
    """Measure distances and score the sites for the reference box."""
    sites = found.sites
    names, field = _field(sources, sites, evidence, background=background)
    heights_m = hanging_heights_m(sites, evidence, allow_high=allow_high)
    place = place_quality(sites, heights_m, evidence)
    return Setting(
        candidates=found,
        names=names,
        field=field,
        heights_m=heights_m,
        place=place,
        quality=Quality(
            place=place * reference_box_quality(evidence),
            attraction=site_attraction(sites, evidence),
        ),
        central=usual(evidence, lure=lure_factor(lure, evidence)),
        lure=lure,
        evidence=evidence,
    )


def _field(
    sources: pd.DataFrame, sites: pd.DataFrame, evidence: Evidence, *, background: bool
) -> tuple[list[str], Field]:
    lat, lon = (sites[c].to_numpy(dtype=float) for c in ("latitude", "longitude"))
    frames = [sources]
    if background:
        frames.append(background_sources(lat, lon, evidence))
    everyone = pd.concat(frames, ignore_index=True)
    unknown = np.arange(len(everyone)) >= len(sources)
    away_m = distances_m(
        from_latitude=everyone["latitude"].to_numpy(dtype=float),
        from_longitude=everyone["longitude"].to_numpy(dtype=float),
        to_latitude=lat,
        to_longitude=lon,
    )
    # colonies lie anywhere in a cell of the mesh: mean square distance within a square, step^2 / 6
    step_m = evidence.value("placement.background_step_m")
    away_m[unknown] = np.sqrt(away_m[unknown] ** 2 + step_m**2 * _MEAN_SQUARE)
    swarms = everyone["swarms_expected"].to_numpy(dtype=float)
    low, high = (
        everyone[c].to_numpy(dtype=float, na_value=np.nan) for c in ("swarms_low", "swarms_high")
    )
    field = Field(
        distance_m=away_m,
        swarms=swarms,
        swarms_low=np.where(np.isnan(low), swarms, low),
        swarms_high=np.where(np.isnan(high), swarms, high),
        unknown=unknown,
    )
    return everyone["source"].tolist(), field


def choose(
    setting: Setting,
    *,
    count: int,
    spacing_m: float,
    time_limit_s: float,
    rng: np.random.Generator,
) -> Choice:
    """Choose the new sites, put them in the order of what each adds, and try other assumptions."""
    held = setting.held
    conflicts = _conflicts(setting.candidates.sites, spacing_m, setting.evidence)
    field, central = setting.field, setting.central
    pull = central.kernel.per_km2(field.distance_m) * setting.quality.with_lure(
        central.lure, setting.evidence
    )
    solved = maximum_capture(
        field.swarms,
        pull,
        np.full(field.swarms.size, central.cavities),
        count=count + held.size,
        forced=held.tolist(),
        conflicts=conflicts,
        time_limit_s=time_limit_s,
    )
    new = np.setdiff1d(np.asarray(solved.chosen, dtype=np.intp), held)
    order = _by_gain(field.swarms, pull, central.cavities, held, new)
    again = chosen_again(
        field,
        setting.quality,
        count=count + held.size,
        forced=held,
        conflicts=conflicts,
        evidence=setting.evidence,
        lure=setting.lure,
        rng=rng,
    )
    robust = _robust(setting.candidates.sites, order, again, setting.evidence)
    further = _further(
        field.swarms, pull, central.cavities, taken=np.r_[held, order], conflicts=conflicts
    )
    crowded = _beside(conflicts, new, held) - _beside(
        _conflicts(setting.candidates.sites, 0, setting.evidence), new, held
    )
    return Choice(order=order, robust=robust, solved=solved, further=further, crowded=len(crowded))


def _beside(conflicts: NDArray[np.int64], new: Ints, held: Ints) -> set[int]:
    """Return the sites that a pair of `conflicts` keeps from being chosen, too."""
    taken = np.r_[new, held]
    first, second = np.isin(conflicts, taken).T
    return set(conflicts[first & ~second, 1].tolist()) | set(conflicts[second & ~first, 0].tolist())


def _robust(
    sites: pd.DataFrame, order: Ints, again: NDArray[np.bool_], evidence: Evidence
) -> NDArray[np.bool_]:
    """Flag the new sites that are chosen, or have a chosen neighbour, under most assumptions."""
    places = _places(sites)
    tree, reach_m = cKDTree(places), evidence.value("placement.same_place_m")
    shares = []
    for place in places[order]:
        around = np.asarray(tree.query_ball_point(place, reach_m), dtype=np.intp)
        shares.append(again[:, around].any(axis=1).mean())
    return np.asarray(shares, dtype=np.float64) >= evidence.value("placement.robust_share")


def _places(sites: pd.DataFrame) -> Floats:
    """Return (sites, 3) geocentric coordinates [m]; near each other, chords are distances."""
    lat, lon = (sites[c].to_numpy(dtype=float) for c in ("latitude", "longitude"))
    return np.ascontiguousarray(geocentric_m(lat, lon).T)


def _by_gain(swarms: Floats, pull: Floats, cavities: float, held: Ints, new: Ints) -> Ints:
    """Return the new sites, each the one that adds most to those before it."""
    total = pull[:, held].sum(axis=1)
    left, order = list(new), []
    while left:
        odds = cavities + total
        part = pull[:, left]
        gains = (swarms * cavities / odds) @ (part / (odds[:, None] + part))
        order.append(left.pop(int(gains.argmax())))
        total = total + pull[:, order[-1]]
    return np.asarray(order, dtype=np.intp)


def _further(
    swarms: Floats,
    pull: Floats,
    cavities: float,
    *,
    taken: Ints,
    conflicts: NDArray[np.int64],
) -> Floats:
    """Return what each of a few boxes more would add, the best place for it first (boxes,)."""
    problem = prepare(
        swarms,
        pull,
        np.full(swarms.size, cavities),
        count=taken.size + _FURTHER,
        forced=taken,
        conflicts=conflicts,
    )
    if not problem.size:
        return np.zeros(0)
    added = np.asarray(fill(problem, []), dtype=np.intp)
    gains = [problem.gains(problem.totals(added[:n]), added[[n]]) for n in range(added.size)]
    return np.concatenate([np.zeros(0), *gains])


def _conflicts(sites: pd.DataFrame, spacing_m: float, evidence: Evidence) -> NDArray[np.int64]:
    """Return pairs (pairs, 2) of which one may be chosen: on one spot, or generated and near."""
    tree = cKDTree(_places(sites))
    pairs = tree.query_pairs(evidence.value("placement.same_spot_m"), output_type="ndarray")
    if "generated" in sites.columns and spacing_m > 0:
        made = (sites["generated"] == "yes").to_numpy(dtype=bool)
        near = tree.query_pairs(spacing_m, output_type="ndarray")
        pairs = np.vstack([pairs, near[made[near].any(axis=1)]])
    return np.asarray(pairs, dtype=np.int64)


def close_boxes(
    sites: pd.DataFrame, order: Ints, held: Ints, spacing_m: float
) -> list[list[tuple[str, float]]]:
    """Return for each new site the boxes of the plan nearer than the spacing, nearest first [m]."""
    shown: Sequence[int] = [*order, *held]
    chosen = sites.iloc[list(shown)]
    lat, lon = (chosen[c].to_numpy(dtype=float) for c in ("latitude", "longitude"))
    away_m = distances_m(from_latitude=lat, from_longitude=lon, to_latitude=lat, to_longitude=lon)
    names = chosen["site"].tolist()
    found = []
    for i in range(order.size):
        near = [j for j in np.argsort(away_m[i], kind="stable") if j != i]
        found.append([(names[j], float(away_m[i, j])) for j in near if away_m[i, j] < spacing_m])
    return found
