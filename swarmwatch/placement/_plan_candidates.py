"""Which sites may hold a box at all, and which hold one already."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import PlanInfeasible, Problem, RecordsError
from swarmwatch.evidence import Evidence
from swarmwatch.placement._plan_keep_out import kept_out
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

_M_PER_KM = 1000
_EXTRAS = ("land", "generated")


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidates:
    """Sites that may be chosen or hold a box, which of them do, and why others are refused."""

    sites: pd.DataFrame
    hung: NDArray[np.bool_]
    refused: dict[str, str]
    hung_wrongly: dict[str, str]


def candidates(
    sites: pd.DataFrame,
    *,
    existing: pd.DataFrame | None,
    keep_out: pd.DataFrame | None,
    evidence: Evidence,
) -> Candidates:
    """Sort the sites into open, hung and refused.

    Raises
    ------
    RecordsError
        Cells that can't be read, or a site named twice.
    PlanInfeasible
        No site is left; says which rule took how many.
    """
    table = read_sites(sites)
    table, hung = _with_existing(table, existing)
    reasons = [""] * len(table) if keep_out is None else kept_out(table, keep_out, evidence)
    for i, word in enumerate(table["permission"]):
        reasons[i] = reasons[i] or ("the owner said no" if word == "no" else "")
    left = hung | np.asarray([not r for r in reasons], dtype=bool)
    refused = {str(s): r for s, r, ok in zip(table["site"], reasons, left, strict=True) if not ok}
    wrongly = {str(s): r for s, r, up in zip(table["site"], reasons, hung, strict=True) if up and r}
    if not (left & ~hung).any():
        raise PlanInfeasible(_nothing_left(len(table), refused, int(hung.sum())))
    return Candidates(
        sites=table[left].reset_index(drop=True),
        hung=hung[left],
        refused=refused,
        hung_wrongly=wrongly,
    )


def read_sites(sites: pd.DataFrame) -> pd.DataFrame:
    """Return `sites` conformed, with `land` and `generated` kept where they are."""
    table = conform(sites, TABLES["sites"])
    for extra in _EXTRAS:
        if extra in sites.columns:
            table[extra] = sites[extra].to_numpy(dtype=object)
    twice = table["site"].duplicated()
    if twice.any():
        raise RecordsError(
            Problem(
                table="sites",
                row=int(i) + 2,
                column="site",
                what=f"{table['site'].iloc[i]!r} is named twice",
                mend="Give each site a name of its own.",
            )
            for i in np.flatnonzero(twice)
        )
    return table


def _with_existing(
    table: pd.DataFrame, existing: pd.DataFrame | None
) -> tuple[pd.DataFrame, NDArray[np.bool_]]:
    """Flag the sites that hold a box; sites of `existing` that the table lacks are added to it."""
    if existing is None or not len(existing):
        return table, np.zeros(len(table), dtype=bool)
    if "hung_on" in existing.columns:
        hangings = conform(existing, TABLES["hangings"])
        names = hangings.loc[hangings["taken_on"].isna(), "site"]
        _refuse_unknown(names[~names.isin(table["site"])])
    else:
        more = read_sites(existing)
        names = more["site"]
        added = more[~names.isin(table["site"])]
        table = pd.concat([table, added], ignore_index=True) if len(added) else table
    return table, table["site"].isin(names).to_numpy(dtype=bool)


def _refuse_unknown(names: pd.Series) -> None:
    if len(names):
        raise RecordsError(
            Problem(
                table="hangings",
                row=row + 2,
                column="site",
                what=f"{name!r} is not in the table sites",
                mend="Add the site there, or mend its name here.",
            )
            for row, name in zip(names.index.tolist(), names, strict=True)
        )


def _nothing_left(total: int, refused: dict[str, str], hung: int) -> str:
    if not total:
        return (
            "There is no site to choose from. Add places where a box may hang to the table sites."
        )
    rules = Counter(_rule(r) for r in refused.values())
    parts = [f"{n} by {rule}" for rule, n in rules.most_common()]
    parts += [f"{hung} hold a box already"] if hung else []
    return (
        f"No site is left of {total}: {', '.join(parts)}. Add sites, ask another owner, or mend "
        "the keep-out areas if they are wrong; never go nearer to a power line."
    )


def _rule(reason: str) -> str:
    if reason == "the owner said no":
        return "permission (the owner said no)"
    return (
        "keep-out ("
        + reason.removeprefix("inside: ").split(" away")[0].rstrip("0123456789 m")
        + ")"
    )


def refuse_implausible(
    table: pd.DataFrame,
    name: str,
    anchors: Iterable[tuple[Floats, Floats]],
    evidence: Evidence,
) -> None:
    """Refuse places far from every anchor, and say so if latitude and longitude look swapped.

    Parameters
    ----------
    table
        With `latitude` and `longitude` [deg].
    name
        The table's name, for the message.
    anchors
        (latitude, longitude) arrays [deg] of places that are taken as right.
    evidence
        The number ``placement.plausible_reach_m``.
    """
    sides = list(anchors)
    lat, lon = (np.concatenate([s[i] for s in sides]) for i in (0, 1))
    if not lat.size or not len(table):
        return
    own_lat, own_lon = (table[c].to_numpy(dtype=float) for c in ("latitude", "longitude"))
    reach_m = evidence.value("placement.plausible_reach_m")
    away_m = _nearest(own_lat, own_lon, lat, lon)
    turned_m = _nearest(np.clip(own_lon, -90, 90), own_lat, lat, lon)
    places = table[table.columns[0]].tolist()
    problems = [
        Problem(
            table=name,
            row=int(i) + 2,
            column="latitude",
            what=(
                f"{places[i]!r} lies {away_m[i] / _M_PER_KM:.0f} km from all yards and sources"
                + ("; latitude and longitude look swapped" if turned_m[i] <= reach_m else "")
            ),
            mend="Latitude is degrees north, longitude degrees east (west is negative).",
        )
        for i in np.flatnonzero(away_m > reach_m)
    ]
    if problems:
        raise RecordsError(problems)


def _nearest(lat: Floats, lon: Floats, to_lat: Floats, to_lon: Floats) -> Floats:
    return np.asarray(
        distances_m(
            from_latitude=lat, from_longitude=lon, to_latitude=to_lat, to_longitude=to_lon
        ).min(axis=1),
        dtype=np.float64,
    )
