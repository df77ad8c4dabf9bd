"""Which of the keeper's boxes goes to which site, and whether it may hold old comb."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.placement.site_quality import box_quality, reference_box_quality
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """What hangs at each site, best site first.

    `names` of the boxes, None where none is named; `quality` (sites,) of the box; `comb` (sites,)
    factor of old comb, 1 without; `refusals` why comb must not be used, "" where nothing is wrong.
    """

    names: list[str | None]
    quality: Floats
    comb: Floats
    refusals: list[str]


def boxes_at_hand(
    boxes: int | pd.DataFrame, box_table: pd.DataFrame | None, existing: pd.DataFrame | None
) -> tuple[pd.DataFrame | None, int]:
    """Return the boxes that hang nowhere, or None where none is described, and how many to hang."""
    own = boxes if isinstance(boxes, pd.DataFrame) else box_table
    if own is None:
        return None, _count(boxes)
    free = conform(own, TABLES["boxes"])
    if existing is not None and "hung_on" in existing.columns:
        hangings = conform(existing, TABLES["hangings"])
        up = hangings.loc[hangings["taken_on"].isna(), "box"]
        free = free[~free["box"].isin(up)].reset_index(drop=True)
    if not isinstance(boxes, pd.DataFrame):
        return free, _count(boxes)
    if not len(free):
        message = "boxes: every box hangs already. Take one down in the records, or add a box."
        raise UsageError(message)
    return free, len(free)


def _count(boxes: object) -> int:
    if isinstance(boxes, bool) or not isinstance(boxes, int | np.integer) or boxes < 1:
        message = f"boxes: {boxes!r} is not a number of boxes. Give 1 or more, or a table of boxes."
        raise UsageError(message)
    return int(boxes)


def fit_boxes(
    at_hand: pd.DataFrame | None,
    sites: pd.DataFrame,
    *,
    yards: pd.DataFrame | None,
    evidence: Evidence,
) -> Fitted:
    """Give the best box to the best site, and so on; sites without a box get the reference box.

    Old comb counts only where the law at the nearest yard and an inspected source both say yes; a
    blank is no.
    """
    n = len(sites)
    names: list[str | None] = [None] * n
    quality = np.full(n, reference_box_quality(evidence))
    comb = np.ones(n)
    refusals = [""] * n
    if at_hand is None or not len(at_hand):
        return Fitted(names=names, quality=quality, comb=comb, refusals=refusals)
    lawful = _lawful(sites, yards)
    own = box_quality(at_hand, evidence)
    holds = at_hand["old_combs"].to_numpy(dtype=float, na_value=0.0) > 0
    clean = (at_hand["comb_source_inspected"] == "yes").to_numpy(dtype=bool)
    factor = evidence.value("site.old_comb")
    worth = own * np.where(holds & clean & lawful.any(), factor, 1.0)
    for i, b in enumerate(np.argsort(-worth, kind="stable")[:n]):
        names[i] = str(at_hand["box"].iloc[b])
        quality[i] = own[b]
        if not holds[b]:
            continue
        if clean[b] and lawful[i]:
            comb[i] = factor
        elif not clean[b]:
            refusals[i] = "its source is not noted as inspected and healthy; take it out"
        else:
            refusals[i] = "the law here is not noted as allowing it; take it out or ask"
    return Fitted(names=names, quality=quality, comb=comb, refusals=refusals)


def _lawful(sites: pd.DataFrame, yards: pd.DataFrame | None) -> NDArray[np.bool_]:
    if yards is None or not len(yards):
        return np.zeros(len(sites), dtype=bool)
    nearest = distances_m(
        from_latitude=sites["latitude"].to_numpy(dtype=float),
        from_longitude=sites["longitude"].to_numpy(dtype=float),
        to_latitude=yards["latitude"].to_numpy(dtype=float),
        to_longitude=yards["longitude"].to_numpy(dtype=float),
    ).argmin(axis=1)
    allowed = (yards["used_comb_allowed"] == "yes").to_numpy(dtype=bool)
    return np.asarray(allowed[nearest], dtype=bool)
