"""What would seasons look like in worlds other than the one that the score was made for?"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.swarming.simulation.climate import (
    YEARS_BEFORE,
    generated_weather,
    given_weather,
    whole_seasons,
)
from swarmwatch.swarming.simulation.colonies import (
    colonies_in_march,
    hives_of_keepers,
)
from swarmwatch.swarming.simulation.course import course_of
from swarmwatch.swarming.simulation.drawing import keeper_numbers, world_numbers
from swarmwatch.swarming.simulation.keepers import keepers_for, keepers_of
from swarmwatch.swarming.simulation.records import (
    blank_columns,
    names_of,
    tables_of,
    truth_of,
)
from swarmwatch.swarming.simulation.seasons import run

FIRST_YEAR = 2001  # definition: generated weather begins here
_SEEDS = 2**63  # numerical: seeds of the worlds are drawn below this
_MOST_SEASONS = 26  # definition: seasons are lettered


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """One simulated season: a keeper's tables, and what truly happened.

    `tables` holds apiaries, colonies, inspections, events, outcomes and weather (observed rows of
    the season and the two years before; no forecast). `truth` has a row a colony: ``colony``,
    ``season``, ``began_on`` (first swarm cell), ``prime_on`` (the prime swarm left for good),
    ``returned_on``, ``superseded_on``, ``treated_on`` (first action that changed the course),
    ``died_on``, ``queen_lost_on``, ``afterswarms_on`` (list), ``larva_in_cells``,
    ``sealed_cells`` and ``crowding`` (mean round the season's height, 1 is comfortable).
    """

    year: int
    tables: dict[str, pd.DataFrame]
    truth: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """Seasons that share a place, keepers, and one draw of every mechanism's parameters."""

    number: int
    parameters: dict[str, float]
    seasons: list[Season]


def seasons(
    *,
    worlds: int,
    seasons_a_world: int = 4,
    colonies: int = 40,
    rng: np.random.Generator,
    evidence: Evidence | None = None,
    weather: pd.DataFrame | None = None,
    latitude: float | None = None,
    keeper_acts: bool = False,
    blank_share: float | None = None,
) -> list[World]:
    """Simulate seasons of colonies, keepers and weather in worlds drawn from the literature.

    Parameters
    ----------
    worlds
        How many worlds: each draws every parameter anew from its published or judged range.
    seasons_a_world
        Seasons a world, 26 at most.
    colonies
        Colonies a season; they start anew each March.
    rng
        Where chance comes from: the same generator state gives the same worlds.
    evidence
        The numbers; of these only subject ``simulation``, hive measures and weather are read.
    weather
        A real daily table of one place (``date``, ``temp_max_c``, ``temp_min_c``, ``rain_mm``,
        ``wind_max_m_s``) to use instead of generated weather; its seasons are drawn without
        repeat while they last.
    latitude
        Of that place, degrees north; a column ``latitude`` of `weather` serves as well.
    keeper_acts
        Keepers split, remove cells and requeen.
    blank_share
        Share of the optional columns of inspections that keepers leave blank; drawn for each
        world if None.

    Returns
    -------
    The worlds.

    Raises
    ------
    UsageError
        A number is out of range, or the weather holds no whole season of a northern place.
    """
    if min(worlds, seasons_a_world, colonies) < 1 or seasons_a_world > _MOST_SEASONS:
        message = "worlds, seasons_a_world (26 at most) and colonies must be 1 or more."
        raise UsageError(message)
    evidence = evidence or load_evidence()
    real = None if weather is None else _real(weather, latitude)
    return [
        _world(
            number,
            evidence,
            np.random.default_rng(rng.integers(_SEEDS)),
            count=(seasons_a_world, colonies),
            real=real,
            keeper_acts=keeper_acts,
            blank_share=blank_share,
        )
        for number in range(1, worlds + 1)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Real:
    daily: pd.DataFrame
    latitude: float
    years: list[int]


def _real(weather: pd.DataFrame, latitude: float | None) -> _Real:
    if latitude is None and "latitude" in weather and len(weather):
        latitude = float(weather["latitude"].iloc[0])
    if latitude is None or not 0 < latitude < _POLAR_CIRCLE:
        message = (
            f"latitude = {latitude}: seasons run from March to September between the equator and "
            "the northern polar circle. Give the latitude of the weather, degrees north."
        )
        raise UsageError(message)
    daily = given_weather(weather)
    years = whole_seasons(daily)
    if not years:
        message = "the weather table holds no year with every day from 1 March to 30 September."
        raise UsageError(message)
    return _Real(daily=daily, latitude=latitude, years=years)


_POLAR_CIRCLE = 66.5  # definition: degrees


def _world(
    number: int,
    evidence: Evidence,
    rng: np.random.Generator,
    *,
    count: tuple[int, int],
    real: _Real | None,
    keeper_acts: bool,
    blank_share: float | None,
) -> World:
    how_many, colonies_a_season = count
    numbers = world_numbers(evidence, rng)
    numbers["switch"] = float(rng.random() < numbers["threshold_world"])
    if blank_share is not None:
        numbers["blank_share"] = blank_share
    if real is None:
        first = FIRST_YEAR + YEARS_BEFORE
        years = tuple(range(first, first + how_many))
        daily = generated_weather(
            numbers, rng, first_year=FIRST_YEAR, years=how_many + YEARS_BEFORE
        )
    else:
        daily, numbers["latitude"] = real.daily, real.latitude
        chosen = rng.choice(real.years, how_many, replace=how_many > len(real.years))
        years = tuple(sorted(int(y) for y in chosen))
    course = course_of(daily, years, latitude=numbers["latitude"], numbers=numbers, rng=rng)
    habits = keeper_numbers(evidence, rng, keepers=keepers_for(colonies_a_season))
    hives = hives_of_keepers(evidence, habits, rng)
    size = {"seasons": how_many, "colonies": colonies_a_season}
    bees = colonies_in_march(hives, habits, numbers, **size, rng=rng)
    blank = blank_columns(len(hives), numbers, rng)
    keepers = keepers_of(habits, hives, blank, **size, rng=rng)
    diary = run(bees, keepers, course, numbers, keeper_acts=keeper_acts, rng=rng)
    names = names_of(bees, years)
    place = (numbers["latitude"], numbers["elevation"])
    return World(
        number=number,
        parameters=numbers,
        seasons=[
            Season(
                year=year,
                tables=tables_of(
                    i,
                    year,
                    colonies=bees,
                    names=names,
                    keepers=keepers,
                    daily=daily,
                    place=place,
                    numbers=numbers,
                    rng=rng,
                ),
                truth=truth_of(i, year, colonies=bees, names=names, diary=diary),
            )
            for i, year in enumerate(years)
        ],
    )
