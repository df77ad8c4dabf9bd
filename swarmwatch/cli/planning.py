"""From records to a plan: the one step that `place`, `map` and `demo` share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    import pandas as pd

    from swarmwatch.cli.land import LandSearch
    from swarmwatch.cli.map_files import Planned
    from swarmwatch.evidence import Evidence
    from swarmwatch.placement.wishes import Wishes

Boxes = Annotated[
    int | None,
    typer.Option("--boxes", min=1, help="How many to hang; default: all you have free, or 5."),
]
Spacing = Annotated[
    float, typer.Option("--spacing", min=0, metavar="M", help="Warn of boxes nearer than this [m].")
]
Lure = Annotated[str, typer.Option("--lure", help="nasonov-lure, lemongrass-oil, other or none.")]
High = Annotated[
    bool, typer.Option("--high", help="Hang boxes as high as your sites say, above reach.")
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placing:
    """A plan with all it rests on: what a folder with map, sheets and exports is made of.

    `frames` are the keeper's tables; with a map, `sites` and `keep_out` hold what it adds, and
    `search` its features, credit and notes. `search` is None without one.
    """

    plan: "pd.DataFrame"
    sources: "pd.DataFrame"
    frames: "Mapping[str, pd.DataFrame]"
    search: "LandSearch | None" = None


def placing_from(
    frames: "Mapping[str, pd.DataFrame]",
    on: "dt.date",
    evidence: "Evidence",
    wishes: "Wishes",
    *,
    land: "Path | None" = None,
    within: str | None = None,
    addresses: Sequence[str] = (),
) -> Placing:
    """Plan on the keeper's own sites and, where there is a map, on what it shows.

    Raises
    ------
    UsageError, SourceError, PlanInfeasible
        As for `swarmwatch.records.scoring.plan_tables` and `swarmwatch.cli.land.search_land`.
    """
    from swarmwatch.errors import UsageError
    from swarmwatch.records.scoring import plan_tables

    if land is None:
        if within is not None or addresses:
            message = "--within and --address need a map to seek spots on. Give it with --land."
            raise UsageError(message)
        sources, plan = plan_tables(frames, on, evidence, wishes)
        return Placing(plan=plan, sources=sources, frames=frames)
    from swarmwatch.cli.land import search_land

    search = search_land(frames, land=land, within=within, addresses=addresses, evidence=evidence)
    sources, plan = plan_tables(search.frames, on, evidence, wishes)
    plan.attrs["refused"] = {**plan.attrs["refused"], **search.outside}
    return Placing(plan=plan, sources=sources, frames=search.frames, search=search)


def planned_of(placing: Placing, evidence: "Evidence", *, on: "dt.date") -> "Planned":
    """Return what the files of a plan are made of: levels of the yards, land and credits, too."""
    from swarmwatch.cli.map_files import Planned
    from swarmwatch.mapping.land import read_land
    from swarmwatch.records.scoring import score_tables

    frames, search = placing.frames, placing.search
    return Planned(
        plan=placing.plan,
        sources=placing.sources,
        frames=frames if search is None else search.drawn(placing.plan),
        evidence=evidence,
        on=on,
        scores=None if frames["colonies"].empty else score_tables(frames, on, evidence),
        land=None if search is None else read_land(search.geojson),
        credits=weather_credits(frames["weather"]),
    )


def weather_credits(weather: "pd.DataFrame") -> list[str]:
    """Return whom to thank for the weather in the records."""
    from data_sources.weather import (
        ghcn_daily,
        ghcn_stations,
        met_norway,
        nasa_power,
        open_meteo,
        us_weather_service,
    )

    credits_of = {
        open_meteo.PROVIDER: open_meteo.CREDIT,
        us_weather_service.PROVIDER: us_weather_service.CREDIT,
        met_norway.PROVIDER: met_norway.CREDIT,
        ghcn_stations.PROVIDER: ghcn_daily.CREDIT,
        nasa_power.PROVIDER: nasa_power.CREDIT,
    }
    # a provider may name its model after itself
    used = weather["provider"].dropna().str.casefold().unique().tolist()
    return [
        credit
        for provider, credit in credits_of.items()
        if any(name.startswith(provider.casefold()) for name in used)
    ]
