"""What do boxes at given sites catch, of own swarms and of other people's?

The catch model is that of `_plan_catches`; here every box has its own lure, and own and other
swarms are kept apart.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence
from swarmwatch.placement._plan_candidates import Candidates
from swarmwatch.placement._plan_catches import (
    DRAWS,
    Assumption,
    Field,
    Quality,
    contributions,
    others,
    usual,
)
from swarmwatch.placement._plan_choice import setting_of
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.placement.site_quality import box_quality, lure_factor, site_attraction
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

_NO_LURE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """Catches of boxes; row 0 of the first axis is the usual assumption, then the drawn ones.

    `own_share` (1 + draws, yards, boxes) what each box takes of one swarm of each own yard [-];
    `own_swarms` (1 + draws, yards) swarms a season; `other` (1 + draws, boxes) catches a season of
    swarms of others.
    """

    own_share: Floats
    own_swarms: Floats
    other: Floats

    @property
    def catches(self) -> Floats:
        """All catches (1 + draws, boxes) of a whole season."""
        own = np.einsum("dy,dyb->db", self.own_swarms, self.own_share)
        return np.asarray(own + self.other, dtype=np.float64)


def boxes_at_sites(
    hung: pd.DataFrame, sites: pd.DataFrame, boxes: pd.DataFrame | None
) -> pd.DataFrame:
    """Join hangings with what is known of their sites and boxes, one row a hanging.

    Parameters
    ----------
    hung
        Rows of `hangings`, all of them up; a column `height_m` goes before the site's.
    sites
        The table; a hanging at a site that it lacks is left out.
    boxes
        The table, or None.
    """
    table = hung.merge(conform(sites, TABLES["sites"]), on="site", suffixes=("", "_noted"))
    if "height_m_noted" in table.columns:
        noted = table.pop("height_m_noted").astype("Float64")
        table["height_m"] = table["height_m"].astype("Float64").fillna(noted)
    made = conform(
        pd.DataFrame({"box": []}) if boxes is None else boxes, TABLES["boxes"]
    ).drop_duplicates("box")
    return table.merge(made.drop(columns="note"), on="box", how="left")


def sent_to(
    placed: pd.DataFrame,
    own: pd.DataFrame,
    other: pd.DataFrame | None,
    *,
    yards: pd.DataFrame | None,
    evidence: Evidence,
    seed: int,
    with_history: bool = True,
) -> Sent:
    """Reckon what boxes catch when all of them hang the whole season.

    Parameters
    ----------
    placed
        What `boxes_at_sites` gives.
    own, other
        `sources`: the keeper's yards, and other people's or None. Unknown colonies are added.
    yards
        `apiaries`, for their law on used comb; None for none.
    evidence
        The numbers.
    seed
        Of the drawn assumptions.
    with_history
        Count what was caught at the sites before.
    """
    if not len(placed):
        swarms = own["swarms_expected"].to_numpy(dtype=np.float64)
        n, count = len(own), DRAWS + 1
        return Sent(
            own_share=np.zeros((count, n, 0)),
            own_swarms=np.broadcast_to(swarms, (count, n)).copy(),
            other=np.zeros((count, 0)),
        )
    senders = pd.concat([own] if other is None else [own, other], ignore_index=True)
    sites = placed[list(TABLES["sites"].names)].reset_index(drop=True)
    found = Candidates(sites=sites, hung=np.ones(len(sites), bool), refused={}, hung_wrongly={})
    setting = setting_of(
        conform(senders, TABLES["sources"]),
        found,
        evidence=evidence,
        lure=_NO_LURE,
        allow_high=True,
        background=True,
    )
    history = site_attraction(sites, evidence) if with_history else np.ones(len(sites))
    quality = Quality(
        place=setting.place * box_quality(placed, evidence),
        attraction=history * _comb(placed, yards, evidence),
    )
    lures = placed["lure"].fillna(_NO_LURE).tolist()
    return _sent(setting.field, quality, lures, own=len(own), evidence=evidence, seed=seed)


def _sent(
    field: Field,
    quality: Quality,
    lures: list[str],
    *,
    own: int,
    evidence: Evidence,
    seed: int,
) -> Sent:
    worlds = _worlds(lures, evidence, seed)
    densities: dict[str, Floats] = {}
    shares, swarms, other = [], [], []
    for world in worlds:
        kernel = world[0].kernel
        if kernel.name not in densities:
            densities[kernel.name] = kernel.per_km2(field.distance_m)
        whole = np.array(
            [
                quality_of(quality, i, assumption.lure, evidence)
                for i, assumption in enumerate(world)
            ]
        )
        sent = contributions(field, densities[kernel.name], whole, world[0])
        sends = world[0].swarms(field)
        swarms.append(sends[:own])
        shares.append(sent[:own] / np.where(sends[:own] > 0, sends[:own], 1.0)[:, None])
        other.append(sent[own:].sum(axis=0))
    return Sent(own_share=np.stack(shares), own_swarms=np.stack(swarms), other=np.stack(other))


def quality_of(quality: Quality, box: int, lure: float, evidence: Evidence) -> float:
    """Return the whole quality of one box with its own lure factor [-]."""
    one = Quality(place=quality.place[box : box + 1], attraction=quality.attraction[box : box + 1])
    return float(one.with_lure(lure, evidence)[0])


def _worlds(lures: list[str], evidence: Evidence, seed: int) -> list[list[Assumption]]:
    """Return the usual and the drawn assumptions, each as one a box: they differ in the lure only.

    The same seed gives every lure the same kernels and densities, and its own factor.
    """
    drawn = {
        word: others(evidence, np.random.default_rng(seed), lure=word, count=DRAWS)
        for word in set(lures)
    }
    first = [usual(evidence, lure=lure_factor(word, evidence)) for word in lures]
    return [first, *([drawn[word][i] for word in lures] for i in range(DRAWS))]


def _comb(placed: pd.DataFrame, yards: pd.DataFrame | None, evidence: Evidence) -> Floats:
    """Return the factor of old comb; only where law and an inspected source both allow it."""
    holds = placed["old_combs"].to_numpy(dtype=float, na_value=0.0) > 0
    clean = (placed["comb_source_inspected"] == "yes").to_numpy(dtype=bool)
    lawful = np.zeros(len(placed), dtype=bool)
    if yards is not None and len(yards):
        nearest = distances_m(
            from_latitude=placed["latitude"].to_numpy(dtype=float),
            from_longitude=placed["longitude"].to_numpy(dtype=float),
            to_latitude=yards["latitude"].to_numpy(dtype=float),
            to_longitude=yards["longitude"].to_numpy(dtype=float),
        ).argmin(axis=1)
        lawful = (yards["used_comb_allowed"] == "yes").to_numpy(dtype=bool)[nearest]
    return np.where(holds & clean & lawful, evidence.value("site.old_comb"), 1.0)
