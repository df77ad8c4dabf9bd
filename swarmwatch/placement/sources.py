"""How many swarms each yard sends this season, and how many come from nobody knows where."""

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.evidence import Entry, Evidence, load_evidence
from swarmwatch.placement.dispersal import distances_m
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

_M_PER_KM = 1000.0
_YEAR_D = 365
_ENDS = ("died", "united", "absconded")
_SIDES = (("swarms_expected", "value"), ("swarms_low", "low"), ("swarms_high", "high"))
# metres of one degree of latitude on a sphere of the earth's mean radius, to lay out a mesh
M_PER_DEGREE = 111195.0
_USUAL_DENSITY = "placement.background_swarms"
# by definition: continents as rough boxes (south, north, west, east) [deg], the first that holds
# a place; a place in none of them has the usual density, which is Europe's
_REGIONS = (
    ("", (36, 72, -25, 45)),
    ("boxes.unknown_swarms_north_america", (25, 75, -170, -50)),
    ("boxes.unknown_swarms_latin_america", (-56, 25, -120, -30)),
    ("boxes.unknown_swarms_africa", (-35, 36, -20, 52)),
    ("boxes.unknown_swarms_oceania", (-50, -10, 110, 180)),
    ("boxes.unknown_swarms_asia", (-10, 75, 45, 180)),
)


def season_swarms(
    colonies: pd.DataFrame,
    apiaries: pd.DataFrame,
    *,
    on: date,
    inspections: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
    neighbours: pd.DataFrame | None = None,
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
    neighbours
        Other people's yards: source, latitude, longitude and colonies, how many stand there.

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
    each = colony_swarms(
        colonies, apiaries, on=on, inspections=inspections, events=events, evidence=evidence
    )
    yards = conform(apiaries, TABLES["apiaries"])
    names = [name for name, _ in _SIDES]
    totals = each.groupby("apiary", sort=False)[names].sum()
    rows = yards.loc[yards["apiary"].isin(totals.index), ["apiary", "latitude", "longitude"]]
    rows = rows.rename(columns={"apiary": "source"}).reset_index(drop=True)
    own = conform(rows.join(totals, on="source"), TABLES["sources"])
    if neighbours is None or not len(neighbours):
        return own
    return pd.concat([own, _neighbours(neighbours, evidence)], ignore_index=True)


def colony_swarms(
    colonies: pd.DataFrame,
    apiaries: pd.DataFrame,
    *,
    on: date,
    inspections: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Expect the swarms of a whole season of each living colony.

    Parameters and raised errors are those of `season_swarms`.

    Returns
    -------
    One row a colony: colony, apiary, p_prime, the chance of a prime swarm [-], and
    swarms_expected, swarms_low, swarms_high, prime and afterswarms together.
    """
    evidence = evidence or load_evidence()
    colonies = conform(colonies, TABLES["colonies"])
    _refuse_unknown_yards(colonies, conform(apiaries, TABLES["apiaries"]))
    colonies = _living(colonies, events, on)
    inspected = _inspected(colonies, inspections, on, evidence)
    ratio = _hazard_ratio(colonies, on.year, evidence)
    each = 1.0 + afterswarms_expected(evidence)
    swarms = {name: _chance(inspected, side, ratio, evidence) * each for name, side in _SIDES}
    return pd.DataFrame(
        {
            "colony": colonies["colony"],
            "apiary": colonies["apiary"],
            "p_prime": swarms["swarms_expected"] / each,
            **swarms,
        }
    )


def _neighbours(yards: pd.DataFrame, evidence: Evidence) -> pd.DataFrame:
    """Return sources of yards of which only the number of colonies is known.

    They are taken as inspected; the yearly chance carries the range.
    """
    if "colonies" not in yards.columns:
        raise RecordsError(
            [
                Problem(
                    table="neighbours",
                    row=0,
                    column="colonies",
                    what="this column is required",
                    mend="Write how many colonies stand there.",
                )
            ]
        )
    table = conform(yards.assign(swarms_expected=yards["colonies"]), TABLES["sources"])
    number = table["swarms_expected"].to_numpy(dtype=float)
    entry, each = evidence["season.yearly_chance_inspected"], 1.0 + afterswarms_expected(evidence)
    for name, side in _SIDES:
        table[name] = pd.array(number * getattr(entry, side) * each, dtype="Float64")
    return table


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
    # the chance of a few days is small, so what moves its odds moves the hazard
    own = value("calibration.odds")
    return np.asarray(own * by_age / usual * again * start, dtype=np.float64)


def _chance(inspected: NDArray[np.bool_], side: str, ratio: Floats, evidence: Evidence) -> Floats:
    """Return the chance of a prime swarm (colonies,): hazards multiply, chances don't."""
    base = np.where(
        inspected,
        getattr(evidence["season.yearly_chance_inspected"], side),
        getattr(evidence["season.yearly_chance_unmanaged"], side),
    )
    return np.asarray(1.0 - (1.0 - base) ** ratio, dtype=np.float64)


def afterswarms_expected(evidence: Evidence) -> float:
    """Return how many afterswarms follow a prime swarm on average: one, or two, or none."""
    first = evidence.value("afterswarm.chance_first")
    second = evidence.value("afterswarm.chance_second")
    return first * (1.0 + second)


def background_entry(latitude: float, longitude: float, evidence: Evidence) -> Entry:
    """Return how many swarms a season and km2 come from unknown colonies in a place's region.

    A keeper's own ``placement.background_swarms`` goes before any region's.

    Parameters
    ----------
    latitude, longitude
        [deg].
    evidence
        The numbers.
    """
    usual = evidence[_USUAL_DENSITY]
    if usual != load_evidence()[_USUAL_DENSITY]:
        return usual
    for key, (south, north, west, east) in _REGIONS:
        if south <= latitude <= north and west <= longitude <= east:
            return evidence[key] if key else usual
    return usual


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
    ``placement.background_reach_m`` of a place, with the swarms of its area and their range, as
    its region (`background_entry` of the middle of the places) has them.
    """
    evidence = evidence or load_evidence()
    places_lat, places_lon = (np.asarray(a, dtype=np.float64) for a in (latitude, longitude))
    step_m = evidence.value("placement.background_step_m")
    reach_m = evidence.value("placement.background_reach_m")
    lat, lon = _mesh(places_lat, places_lon, step_m=step_m, reach_m=reach_m)
    entry = background_entry(float(np.mean(places_lat)), float(np.mean(places_lon)), evidence)
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
    step_lat = step_m / M_PER_DEGREE
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
