"""Where the keeper hangs the boxes.

Sites are chosen for one reference box, best set first, and then the keeper's own boxes are given
to them, best to best. Own sites closer together than usual only get a warning: spacing has no
experiment behind it.
"""

import math

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import PlanInfeasible, Problem, RecordsError, UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.placement._plan_boxes import boxes_at_hand, fit_boxes
from swarmwatch.placement._plan_candidates import (
    Candidates,
    candidates,
    read_sites,
    refuse_implausible,
)
from swarmwatch.placement._plan_catches import Range
from swarmwatch.placement._plan_choice import Choice, choose, setting_of
from swarmwatch.placement._plan_table import plan_table
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.placement.wishes import BOXES, LURE, SPACING_M
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

_TIME_LIMIT_S = 5.0  # numerical setting: patience with the proof
_M_PER_KM = 1000
_AFRICANIZED = (
    "{} lies in an area with Africanized bees, within {:.0f} km of these sites: no box plan is "
    "made. Hang no box, keep away from swarms, and call trained, registered people; the local "
    "authority or bee inspector knows them."
)


def plan_boxes(
    sources: pd.DataFrame,
    sites: pd.DataFrame,
    *,
    boxes: int | pd.DataFrame = BOXES,
    existing: pd.DataFrame | None = None,
    keep_out: pd.DataFrame | None = None,
    spacing_m: float = SPACING_M,
    evidence: Evidence | None = None,
    box_table: pd.DataFrame | None = None,
    apiaries: pd.DataFrame | None = None,
    lure: str = LURE,
    allow_high: bool = False,
    background: bool = True,
    time_limit_s: float = _TIME_LIMIT_S,
    seed: int = 0,
) -> pd.DataFrame:
    """Choose sites for bait boxes and say what each may catch.

    Parameters
    ----------
    sources
        Known senders of swarms, such as `season_swarms` gives.
    sites
        Where a box may hang. Columns `land` {wood, urban, farm} and `generated` {yes, no} may be
        there; generated sites keep `spacing_m` between them, a keeper's own are only warned of.
    boxes
        How many to hang now, besides those that hang, or the `boxes` to hang.
    existing
        `hangings` (rows not taken down hold their site) or sites that hold a box.
    keep_out
        `kind`, `geometry`, `buffer_m`: ground where no box may hang.
    spacing_m
        Usual distance between boxes [m].
    evidence
        The numbers; the shipped ones if None.
    box_table
        The boxes at hand where `boxes` is a number.
    apiaries
        The yards: their law on used comb, and whether Africanized bees live there.
    lure
        A word of `hangings`; "none" reckons without.
    allow_high
        Hang boxes as high as the sites say, above what a person reaches.
    background
        Reckon with colonies that nobody mapped.
    time_limit_s
        Patience with the proof that the set is best [s].
    seed
        Of the drawn assumptions.

    Returns
    -------
    `plan`, rank 1 the best. `attrs`: total, total_low, total_high, p_any of the plan's boxes;
    value, bound, gap, proved of the choice; further (swarms a season that one box more would add,
    then another); refused (site to reason); notes; seed. The ranges are
    those of the expected catch, over the kernels and the ranges of the evidence.

    Raises
    ------
    RecordsError
        Cells that can't be read or places that can't be right.
    PlanInfeasible
        No site is left, or Africanized bees live near.
    UsageError
        A number of boxes, spacing or lure that makes no sense.
    """
    evidence = evidence or load_evidence()
    _refuse_spacing(spacing_m)
    at_hand, count = boxes_at_hand(boxes, box_table, existing)
    senders = _read_sources(sources)
    yards = None if apiaries is None else conform(apiaries, TABLES["apiaries"])
    _refuse_places(senders, read_sites(sites), yards, evidence)
    found = candidates(sites, existing=existing, keep_out=keep_out, evidence=evidence)
    setting = setting_of(
        senders, found, evidence=evidence, lure=lure, allow_high=allow_high, background=background
    )
    rng = np.random.default_rng(seed)
    choice = choose(setting, count=count, spacing_m=spacing_m, time_limit_s=time_limit_s, rng=rng)
    if not choice.order.size:
        message = (
            "None of the sites that are left would catch a swarm: every one lies too far from all "
            "colonies. Add sites or sources."
        )
        raise PlanInfeasible(message)
    fitted = fit_boxes(at_hand, found.sites.iloc[choice.order], yards=yards, evidence=evidence)
    plan, catches = plan_table(
        setting, choice, fitted, spacing_m=spacing_m, allow_high=allow_high, rng=rng
    )
    plan.attrs.update(_summary(catches, choice, found, count=count, spacing_m=spacing_m, seed=seed))
    return plan


def _refuse_spacing(spacing_m: float) -> None:
    if not math.isfinite(spacing_m) or spacing_m < 0:
        message = f"spacing_m: {spacing_m} is not a distance. Give metres, 0 or more."
        raise UsageError(message)


def _read_sources(sources: pd.DataFrame) -> pd.DataFrame:
    table = conform(sources, TABLES["sources"])
    wrong = (table["swarms_low"] > table["swarms_expected"]) | (
        table["swarms_high"] < table["swarms_expected"]
    )
    if wrong.fillna(value=False).any():
        raise RecordsError(
            Problem(
                table="sources",
                row=int(i) + 2,
                column="swarms_expected",
                what=f"{table['swarms_expected'].iloc[i]:g} lies outside its own range",
                mend="Mend swarms_low, swarms_expected or swarms_high, or leave the range blank.",
            )
            for i in np.flatnonzero(wrong.fillna(value=False))
        )
    return table


def _refuse_places(
    sources: pd.DataFrame, sites: pd.DataFrame, yards: pd.DataFrame | None, evidence: Evidence
) -> None:
    anchors = [_place(t) for t in (sources, yards) if t is not None]
    refuse_implausible(sites, "sites", anchors, evidence)
    if yards is None or not len(sites):
        return
    wild = yards[yards["africanized_area"] == "yes"]
    if not len(wild):
        return
    (lat, lon), (to_lat, to_lon) = _place(wild), _place(sites)
    away_m = distances_m(
        from_latitude=lat, from_longitude=lon, to_latitude=to_lat, to_longitude=to_lon
    ).min(axis=1)
    reach_m = evidence.value("placement.africanized_reach_m")
    near = wild.loc[away_m <= reach_m, "apiary"]
    if len(near):
        raise PlanInfeasible(_AFRICANIZED.format(", ".join(near), reach_m / _M_PER_KM))


def _place(table: pd.DataFrame) -> tuple[Floats, Floats]:
    return table["latitude"].to_numpy(dtype=float), table["longitude"].to_numpy(dtype=float)


def _summary(
    catches: Range, choice: Choice, found: Candidates, *, count: int, spacing_m: float, seed: int
) -> dict[str, object]:
    notes = []
    if choice.order.size < count:
        why = "no more sites are left that may hang a box and would catch anything"
        if choice.crowded:
            spots = "1 spot" if choice.crowded == 1 else f"{choice.crowded} spots"
            why = (
                f"{spots} of the map left out, nearer than {spacing_m:g} m to a box; a smaller "
                "spacing lets more hang, and no trial says how far apart is best"
            )
        notes.append(f"{count} boxes asked for, {choice.order.size} placed: {why}.")
    hung = int(found.hung.sum())
    if hung:
        what = "1 box hangs" if hung == 1 else f"{hung} boxes hang"
        notes.append(f"{what} already, counted as taking swarms.")
    notes += [
        f"The box at {site} hangs where none may ({reason}): take it down only if that is safe, "
        "and bring no ladder or pole near a line."
        for site, reason in found.hung_wrongly.items()
    ]
    return {
        "total": catches.total,
        "total_low": catches.total_low,
        "total_high": catches.total_high,
        "p_any": catches.total_p_any,
        "value": choice.solved.value,
        "bound": choice.solved.bound,
        "gap": choice.solved.gap,
        "further": tuple(choice.further.tolist()),
        "proved": choice.solved.proved,
        "refused": found.refused,
        "notes": notes,
        "seed": seed,
    }
