"""How many swarms each yard sends this season, and how many come from nobody knows where."""

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

_M_PER_KM = 1000.0
_YEAR_D = 365
_ENDS = ("died", "united", "absconded")
# metres of one degree of latitude on a sphere of the earth's mean radius, to lay out a mesh
_M_PER_DEGREE = 111195.0


def season_swarms(
    colonies: pd.DataFrame,
    apiaries: pd.DataFrame,
    *,
    on: date,
    inspections: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Expect the swarms of a whole season, one row a yard.

    Parameters
    ----------
    colonies, apiaries
        Tables of tables.md.
    on
        Its year is the season; queens' ages count from it.
    inspections
        A colony that was not opened in the year before `on`, while others were for
        ``placement.unmanaged_after_d`` or longer, counts as unmanaged; else as inspected.
    events
        Where given, colonies that died, were united or absconded by `on` send nothing.
    evidence
        The numbers; the shipped ones if None.

    Returns
    -------
    `sources`: the yard, its place, prime and afterswarms expected, and the same at the 10th and
    90th percentile of the yearly chance. Yards without colonies are left out.

    Raises
    ------
    RecordsError
        Cells that can't be read, or a colony in a yard that is not named.
    """
    evidence = evidence or load_evidence()
    colonies = conform(colonies, TABLES["colonies"])
    apiaries = conform(apiaries, TABLES["apiaries"])
    _refuse_unknown_yards(colonies, apiaries)
    colonies = _living(colonies, events, on)
    inspected = _inspected(colonies, inspections, on, evidence)
    ratio = _hazard_ratio(colonies, on.year, evidence)
    each = _swarms_after_prime(evidence)
    swarms = {
        name: _chance(inspected, side, ratio, evidence) * each
        for name, side in (
            ("swarms_expected", "value"),
            ("swarms_low", "low"),
            ("swarms_high", "high"),
        )
    }
    totals = pd.DataFrame(swarms).groupby(colonies["apiary"].to_numpy(), sort=False).sum()
    rows = apiaries.loc[apiaries["apiary"].isin(totals.index), ["apiary", "latitude", "longitude"]]
    rows = rows.rename(columns={"apiary": "source"}).reset_index(drop=True)
    return conform(rows.join(totals, on="source"), TABLES["sources"])


def _refuse_unknown_yards(colonies: pd.DataFrame, apiaries: pd.DataFrame) -> None:
    unknown = ~colonies["apiary"].isin(apiaries["apiary"])
    problems = [
        Problem(
            table="colonies",
            row=int(i) + 2,
            column="apiary",
            what=f"{colonies['apiary'].iloc[i]!r} is not a yard of the table apiaries",
            mend="Add the yard there or mend its name here.",
        )
        for i in np.flatnonzero(unknown)
    ]
    if problems:
        raise RecordsError(problems)


def _living(colonies: pd.DataFrame, events: pd.DataFrame | None, on: date) -> pd.DataFrame:
    if events is None:
        return colonies
    known = conform(events, TABLES["events"])
    ended = known["event"].isin(_ENDS) & (known["date"] <= pd.Timestamp(on))
    return colonies[~colonies["colony"].isin(known.loc[ended, "colony"])].reset_index(drop=True)


def _inspected(
    colonies: pd.DataFrame, inspections: pd.DataFrame | None, on: date, evidence: Evidence
) -> NDArray[np.bool_]:
    """Flag the colonies that somebody opens; a new colony or new records get the benefit."""
    everyone = np.ones(len(colonies), dtype=bool)
    if inspections is None or not len(inspections):
        return everyone
    seen = conform(inspections, TABLES["inspections"])
    age_d = (pd.Timestamp(on) - seen["date"]).dt.days
    recent = (age_d >= 0) & (age_d <= _YEAR_D)
    long_d = evidence.value("placement.unmanaged_after_d")
    if not recent.any() or age_d[recent].max() < long_d:
        return everyone
    new = ((pd.Timestamp(on) - colonies["started"]).dt.days < long_d).to_numpy(dtype=bool)
    opened = colonies["colony"].isin(seen.loc[recent, "colony"]).to_numpy(dtype=bool)
    return np.asarray(opened | new, dtype=bool)


def _hazard_ratio(colonies: pd.DataFrame, year: int, evidence: Evidence) -> Floats:
    """Return how much readier than the reference colony each is, all season (colonies,) [-].

    The reference colony's queen is of unknown age: as likely in her first season after the one
    she was reared in as in the next, so a queen of known age is set against that mean.
    """
    value = evidence.value
    second = value("preparation.odds_queen_second_year")
    share = value("preparation.share_queen_second_year")
    usual = 1 - share + share * second
    age = year - colonies["queen_year"].to_numpy(dtype=float, na_value=np.nan)
    by_age = np.select(
        [np.isnan(age), age < 1, age < 2, age <= 2],
        [usual, value("preparation.factor_queen_this_year"), 1.0, second],
        value("preparation.odds_queen_older"),
    )
    swarmed = (colonies["swarmed_last_year"] == "yes").to_numpy(dtype=bool)
    again = np.where(swarmed, value("preparation.odds_swarmed_last_year"), 1.0)
    new = (colonies["started"].dt.year == year).to_numpy(dtype=bool)
    swarm = new & (colonies["origin"] == "swarm").to_numpy(dtype=bool)
    bought = new & colonies["origin"].isin(["package", "nucleus", "split"]).to_numpy(dtype=bool)
    start = np.where(swarm, value("preparation.factor_origin_swarm"), 1.0)
    start = np.where(bought, value("preparation.factor_origin_new"), start)
    return np.asarray(by_age / usual * again * start, dtype=np.float64)


def _chance(inspected: NDArray[np.bool_], side: str, ratio: Floats, evidence: Evidence) -> Floats:
    """Return the chance of a prime swarm (colonies,): hazards multiply, chances don't."""
    base = np.where(
        inspected,
        getattr(evidence["season.yearly_chance_inspected"], side),
        getattr(evidence["season.yearly_chance_unmanaged"], side),
    )
    return np.asarray(1.0 - (1.0 - base) ** ratio, dtype=np.float64)


def _swarms_after_prime(evidence: Evidence) -> float:
    """Return the swarms of a colony that swarms: the prime and perhaps one or two after it."""
    first = evidence.value("afterswarm.chance_first")
    second = evidence.value("afterswarm.chance_second")
    return 1.0 + first * (1.0 + second)


def background_sources(
    latitude: Sequence[float] | Floats,
    longitude: Sequence[float] | Floats,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Lay a grid of unknown colonies round places.

    Parameters
    ----------
    latitude, longitude
        (places,) sites and yards [deg].
    evidence
        The numbers; the shipped ones if None.

    Returns
    -------
    `sources`: one row a cell of the mesh ``placement.background_step_m`` within
    ``placement.background_reach_m`` of a place, with the swarms of its area and their range.
    """
    evidence = evidence or load_evidence()
    places_lat, places_lon = (np.asarray(a, dtype=np.float64) for a in (latitude, longitude))
    step_m = evidence.value("placement.background_step_m")
    reach_m = evidence.value("placement.background_reach_m")
    lat, lon = _mesh(places_lat, places_lon, step_m=step_m, reach_m=reach_m)
    entry = evidence["placement.background_swarms"]
    area_km2 = (step_m / _M_PER_KM) ** 2
    frame = pd.DataFrame(
        {
            "source": [f"unknown colonies {i + 1}" for i in range(lat.size)],
            "latitude": lat,
            "longitude": lon,
            "swarms_expected": entry.value * area_km2,
            "swarms_low": entry.low * area_km2,
            "swarms_high": entry.high * area_km2,
        }
    )
    return conform(frame, TABLES["sources"])


def _mesh(
    latitude: Floats, longitude: Floats, *, step_m: float, reach_m: float
) -> tuple[Floats, Floats]:
    """Return the mesh points within reach of any place: each place marks the cells round it."""
    step_lat = step_m / _M_PER_DEGREE
    widest = min(float(np.abs(latitude).max()), _POLAR_DEG)
    step_lon = step_lat / float(np.cos(np.radians(widest)))
    cells = np.unique(
        np.column_stack([np.round(latitude / step_lat), np.round(longitude / step_lon)]), axis=0
    )
    reach = int(np.ceil(reach_m / step_m)) + 1
    offsets = np.arange(-reach, reach + 1)
    grid = np.stack(np.meshgrid(offsets, offsets, indexing="ij"), axis=-1).reshape(-1, 2)
    marked = np.unique((cells[:, None, :] + grid[None, :, :]).reshape(-1, 2), axis=0)
    lat, lon = marked[:, 0] * step_lat, marked[:, 1] * step_lon
    near = np.zeros(lat.size, dtype=bool)
    for at in range(0, lat.size, _MESH_BLOCK):
        part = slice(at, at + _MESH_BLOCK)
        away = distances_m(
            from_latitude=lat[part],
            from_longitude=lon[part],
            to_latitude=cells[:, 0] * step_lat,
            to_longitude=cells[:, 1] * step_lon,
        )
        near[part] = away.min(axis=1) <= reach_m
    return lat[near], lon[near]


_MESH_BLOCK = 4096
# numerical guard: nearer to a pole the mesh would degenerate; no honey bee lives there
_POLAR_DEG = 80.0
