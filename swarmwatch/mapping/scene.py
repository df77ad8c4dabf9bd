"""All that a map shows, read once from the tables: for the page and for the sheet."""

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.mapping.keep_out import Barred, barred_ground
from swarmwatch.mapping.local_grid import LocalGrid
from swarmwatch.mapping.spots import Spot, expected, spots
from swarmwatch.mapping.walk import Walk, walk_round
from swarmwatch.mapping.yards import Origin, Yard, origins, yards
from swarmwatch.tables import TABLES, conform
from swarmwatch.wording import per_cent

_LEAST_SPAN_DEG = 0.002  # a lone point still gets ground round it, some 200 m


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place that is no chosen spot: `state` says why; `hanging` where a bait box hangs there."""

    site: str
    latitude: float
    longitude: float
    state: str
    hanging: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is drawn; `bounds` are ((south, west), (north, east)) round spots, yards and places.

    `together` says what the whole plan may catch, where the plan carries it; `walk` is the round to
    all spots, None where there is no spot or no yard.
    """

    spots: tuple[Spot, ...]
    yards: tuple[Yard, ...]
    origins: tuple[Origin, ...]
    places: tuple[Place, ...]
    together: str
    walk: Walk | None
    barred: tuple[Barred, ...]
    bounds: tuple[tuple[float, float], tuple[float, float]]
    grid: LocalGrid

    @property
    def marks(self) -> list[tuple[float, float]]:
        """Return (latitude, longitude) of all that is drawn large: spots, yards, origins."""
        return [
            *((s.latitude, s.longitude) for s in self.spots),
            *((y.latitude, y.longitude) for y in self.yards),
            *((o.latitude, o.longitude) for o in self.origins),
        ]


def read_scene(
    plan: pd.DataFrame,
    *,
    sources: pd.DataFrame,
    apiaries: pd.DataFrame,
    sites: pd.DataFrame | None,
    scores: pd.DataFrame | None,
    keep_out: pd.DataFrame | None,
    hangings: pd.DataFrame | None,
) -> Scene:
    """Read the tables and gather what is drawn.

    Raises
    ------
    RecordsError
        A table breaks its contract.
    UsageError
        There is neither a spot nor a yard nor a site to draw.
    """
    chosen = spots(plan, sites)
    own = yards(apiaries, scores)
    refused = plan.attrs.get("refused", {})
    considered = _places(sites, {s.site for s in chosen}, _hanging(hangings), refused)
    shown: tuple[Spot | Yard | Place, ...] = (*chosen, *own, *considered)
    points = [(s.latitude, s.longitude) for s in shown]
    if not points:
        message = "There is nothing to draw: no yard, no site, no plan. Add a yard first."
        raise UsageError(message)
    grid = LocalGrid.round_points([p[0] for p in points], [p[1] for p in points])
    return Scene(
        spots=tuple(chosen),
        yards=tuple(own),
        origins=tuple(origins(sources, apiaries)),
        places=considered,
        together=_together(plan),
        walk=walk_round(chosen, own),
        barred=() if keep_out is None else tuple(barred_ground(keep_out, grid=grid)),
        bounds=_bounds(points),
        grid=grid,
    )


def _hanging(hangings: pd.DataFrame | None) -> dict[str, str]:
    """Return the bait box that hangs now, by site."""
    if hangings is None:
        return {}
    table = conform(hangings, TABLES["hangings"])
    up = table[table["taken_on"].isna()]
    return {str(site): str(box) for site, box in zip(up["site"], up["box"], strict=True)}


def _places(
    sites: pd.DataFrame | None,
    chosen: set[str],
    hanging: Mapping[str, str],
    refused: Mapping[str, str],
) -> tuple[Place, ...]:
    if sites is None:
        return ()
    table = conform(sites, TABLES["sites"])
    return tuple(
        Place(
            site=name,
            latitude=float(row["latitude"]),
            longitude=float(row["longitude"]),
            state=_state(hanging.get(name, ""), refused.get(name, "")),
            hanging=name in hanging,
        )
        for name, (_, row) in zip(table["site"].astype(str), table.iterrows(), strict=True)
        if name not in chosen
    )


def _state(box: str, refused: str) -> str:
    if box:
        return f"bait box {box} hangs here"
    return f"not chosen: {refused}" if refused else "not chosen"


def _together(plan: pd.DataFrame) -> str:
    """Return what all boxes of the plan may catch: their single ranges do not add up."""
    names = ("total", "total_low", "total_high", "p_any")
    if not len(plan) or not all(name in plan.attrs for name in names):
        return ""
    total, low, high, chance = (float(plan.attrs[name]) for name in names)
    return (
        f"All these boxes together: {expected(total, low, high)} swarms expected a season, "
        f"{per_cent(chance)} for one or more."
    )


def _bounds(points: list[tuple[float, float]]) -> tuple[tuple[float, float], tuple[float, float]]:
    south, north = _span([p[0] for p in points])
    west, east = _span([p[1] for p in points])
    return (south, west), (north, east)


def _span(values: list[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    lacking = max(_LEAST_SPAN_DEG - (high - low), 0) / 2
    return low - lacking, high + lacking
