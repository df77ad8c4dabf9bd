"""What is said of the bait box at a spot: its size, its entrance, what goes inside."""

import math
from dataclasses import dataclass

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.mapping.spots import Spot
from swarmwatch.tables import TABLES, conform

BAIT_BOX = "Bait box (UK: bait hive, US: swarm trap)"
_NO_COMB = "no old comb"
_LURE = "reckoned with "
_PLACES = {"bottom": "at the bottom", "middle": "at half height", "top": "at the top"}
_MM_PER_CM = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxFacts:
    """The words of a box sheet; "" where nothing is known and the pencil must say it."""

    box: str
    volume: str
    entrance: str
    inside: str
    lure: str


def box_facts(spot: Spot, boxes: pd.DataFrame | None, evidence: Evidence) -> BoxFacts:
    """Say what hangs at `spot`: the keeper's own box, or the usual one where none is named."""
    row = _row(spot.box, boxes)
    return BoxFacts(
        box=spot.box,
        volume=_volume(row, evidence),
        entrance=_entrance(row, evidence),
        inside=_inside(spot, row),
        lure=next((r.removeprefix(_LURE) for r in spot.because if r.startswith(_LURE)), ""),
    )


def _row(box: str, boxes: pd.DataFrame | None) -> pd.Series | None:
    if not box or boxes is None:
        return None
    table = conform(boxes, TABLES["boxes"])
    own = table[table["box"].astype(str) == box]
    return own.iloc[0] if len(own) else None


def _volume(row: pd.Series | None, evidence: Evidence) -> str:
    if row is not None and not pd.isna(row["volume_l"]):
        return f"{row['volume_l']:.0f} l"
    best = evidence["site.volume_best_l"]
    return f"about {usual_volume_l(evidence)} l; {best.low:.0f} to {best.high:.0f} l do as well"


def usual_volume_l(evidence: Evidence) -> str:
    """Return the volume that a bait box usually has [l]."""
    return f"{evidence.value('site.reference_volume_l'):.0f}"


def _entrance(row: pd.Series | None, evidence: Evidence) -> str:
    if row is not None and not pd.isna(row["entrance_cm2"]):
        where = "" if pd.isna(row["entrance_place"]) else f" {_PLACES[row['entrance_place']]}"
        return f"{row['entrance_cm2']:g} cm²{where}"
    area = evidence.value("site.reference_entrance_cm2")
    hole_mm = 2 * math.sqrt(area / math.pi) * _MM_PER_CM
    return f"about {area:g} cm², one hole of {hole_mm:.0f} mm, {_PLACES['bottom']}"


def _inside(spot: Spot, row: pd.Series | None) -> str:
    frames = "frames or bars of the hive that the bees will move to"
    refused = next((w for w in spot.warnings if w.startswith(_NO_COMB)), "")
    if refused:
        return f"{frames}; {refused}"
    combs = 0 if row is None or pd.isna(row["old_combs"]) else int(row["old_combs"])
    if not combs:
        return f"{frames}; {_NO_COMB}"
    counted = "1 old comb" if combs == 1 else f"{combs} old combs"
    return f"{frames}; {counted}, its source noted as inspected and healthy"
