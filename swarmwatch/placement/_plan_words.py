"""Why this site, and what to mind there, in plain words with the numbers."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence
from swarmwatch.placement._plan_catches import Field
from swarmwatch.wording import per_cent

Floats = NDArray[np.float64]

_M_PER_KM = 1000
_LURE_WORDS = {
    "nasonov-lure": "reckoned with a Nasonov lure",
    "lemongrass-oil": "reckoned with lemongrass oil",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """The nearest known source of a site: its name, or None, and the distance [m]."""

    name: str | None
    distance_m: float


def nearest_source(names: list[str], field: Field, site: int) -> Nearest:
    """Return the nearest source that is known by name."""
    known = np.flatnonzero(~field.unknown)
    if not known.size:
        return Nearest(name=None, distance_m=np.nan)
    at = known[field.distance_m[known, site].argmin()]
    return Nearest(name=names[at], distance_m=float(field.distance_m[at, site]))


def because(
    row: pd.Series,
    *,
    names: list[str],
    field: Field,
    site: int,
    sent: Floats,
    height_m: float,
    lure: str,
) -> str:
    """Return the reasons for one site, joined by '; '.

    `row` its row of the sites; `sent` (sources,) the swarms that each source sends to its box.
    """
    parts = [*_senders(names, field, site, sent), f"box at {height_m:.1f} m"]
    if not pd.isna(row["catches_before"]) and row["catches_before"] > 0:
        seasons = row["seasons_before"]
        span = "" if pd.isna(seasons) else f" in {_counted(int(seasons), 'season')}"
        parts.append(f"{_counted(int(row['catches_before']), 'swarm')} caught here{span}")
    if lure in _LURE_WORDS:
        parts.append(_LURE_WORDS[lure])
    return "; ".join(parts)


def _senders(names: list[str], field: Field, site: int, sent: Floats) -> list[str]:
    total = float(sent.sum())
    if total <= 0:
        return ["hardly any swarm reaches it"]
    parts = []
    known = np.where(field.unknown, -1.0, sent)
    top = int(known.argmax())
    if known[top] > 0:
        parts.append(
            f"{per_cent(known[top] / total)} of its swarms from {names[top]}, "
            f"{distance_words(field.distance_m[top, site])} away, which sends "
            f"{field.swarms[top]:.1f} a season"
        )
    from_unknown = float(sent[field.unknown].sum())
    if from_unknown > 0:
        parts.append(f"{per_cent(from_unknown / total)} from colonies that nobody mapped")
    return parts


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def distance_words(distance_m: float) -> str:
    """Return a distance rounded to what is known: tens of metres, then tenths of a km."""
    if distance_m < _M_PER_KM:
        return f"{round(distance_m, -1):.0f} m"
    return f"{distance_m / _M_PER_KM:.1f} km"


def warnings_of(
    row: pd.Series,
    *,
    height_m: float,
    catches: float,
    comb_refused: str,
    close: list[tuple[str, float]],
    spacing_m: float,
    allow_high: bool,
    evidence: Evidence,
) -> str:
    """Return what to mind at one site, joined by '; '; the gravest first.

    `close` names boxes nearer than `spacing_m` with their distances [m].
    """
    parts = [*_permission(row), *_height(row, height_m, allow_high=allow_high, evidence=evidence)]
    if comb_refused:
        parts.append(f"no old comb: {comb_refused}")
    for name, away_m in close:
        if away_m < evidence.value("placement.same_spot_m"):
            parts.append(f"on the same spot as the box at {name}")
        else:
            parts.append(
                f"{distance_words(away_m)} from the box at {name}; {spacing_m:g} m is usual, "
                "though no trial says so"
            )
    if row["kind"] == "tree":
        parts.append("strap the box on, no nails; no rotten limb, no climbing")
    if catches >= 1:
        parts.append("a box holds one swarm: for more, move each on and hang the box again")
    weight_kg = evidence.value("safety.box_first_week_kg")
    parts.append(
        f"look for overhead lines first; an occupied box weighs {weight_kg:.0f} kg or more "
        "within a week"
    )
    return "; ".join(parts)


def _permission(row: pd.Series) -> list[str]:
    if row["permission"] == "yes":
        return []
    owner = "the owner" if pd.isna(row["owner"]) else str(row["owner"])
    asked = row["permission"] == "asked"
    said = "no answer yet" if asked else "permission is not noted"
    return [f"ask first: {said}; hang nothing before {owner} says yes"]


def _height(row: pd.Series, height_m: float, *, allow_high: bool, evidence: Evidence) -> list[str]:
    reach_m = evidence.value("safety.reach_height_m")
    parts = []
    if not pd.isna(row["height_m"]) and row["height_m"] > height_m:
        parts.append(
            f"noted at {row['height_m']:g} m: hang it at {height_m:g} m or leave this site; "
            "a fall costs more than a swarm"
        )
    elif height_m > reach_m:
        asked = "you asked for it; " if allow_high else ""
        up = evidence.value("safety.ladder_up_per_out")
        parts.append(
            f"{height_m:g} m is above reach ({reach_m:g} m): {asked}ladder 1 out "
            f"for {up:g} up, second person, box lowered by rope"
        )
    if row["kind"] == "roof":
        parts.append("roof: no work at an unguarded edge")
    return parts
