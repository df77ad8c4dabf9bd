"""The verb `land`: fetch a map of the ground where boxes may hang, for `place` and `map`."""

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from swarmwatch.cli.console import complain
from swarmwatch.cli.land import Address, Within
from swarmwatch.cli.options import RECORDS_DEFAULT, Force, OwnEvidence, Records
from swarmwatch.cli.weather import Contact, Offline

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from data_sources.land.features import LandFeatures
    from data_sources.land.overpass import FetchedLand

    Disc = tuple[float, float, float]

_KEPT_FILE = "land-answers.sqlite"
# the service is asked to give up after a minute, and may let us wait for a turn before
_PIECE_S, _WHOLE_S = 90.0, 180.0
_CONNECT_S = 5.0
_BYTES_MOST = 100_000_000  # a town's centre within 2 km has some tens of MB
# who asks again the next day has perhaps drawn what was lacking
_KEPT_FOR = timedelta(days=1)
_M_PER_KM = 1000
_SUFFIXES = (".geojson", ".json")


def fetch_land(
    *,
    within: Within = None,
    address: Address = None,
    to: Annotated[
        Path, typer.Option("--to", metavar="FILE.geojson", help="Where the map goes.")
    ] = Path("land.geojson"),
    query: Annotated[
        bool, typer.Option("--query", help="Ask nobody: print what would be sent.")
    ] = False,
    offline: Offline = False,
    contact: Contact = None,
    server: Annotated[
        str | None,
        typer.Option("--server", metavar="URL", help="Another server that speaks Overpass."),
    ] = None,
    records: Records = RECORDS_DEFAULT,
    own_evidence: OwnEvidence = None,
    force: Force = False,
) -> None:
    """Fetch trees, hedges, walls, lines and ways of OpenStreetMap for `place --land`.

    One question a piece of ground goes to the service Overpass: its middle rounded to about
    100 m, and a radius in whole 100 m. With --query nobody is asked: paste what is printed into
    any Overpass page and give the answer, saved as .json, to `place --land`. Without a network
    the last good answer for that ground is used, and its age is said.

    Example: swarmwatch land --within 500 --query
    """
    from swarmwatch.cli.land import SEEN_BEYOND_M, ground_from
    from swarmwatch.placement.ground import discs_over
    from swarmwatch.records import open_records
    from swarmwatch.records.scoring import evidence_for

    if not query:
        _refuse_target(to, force=force)
    with open_records(records) as store:
        frames = {"apiaries": store.frame("apiaries")}
        evidence = evidence_for(own_evidence, store.setting("yearly_swarm_chance"))
    ground = ground_from(frames, within, address or (), evidence)
    discs = discs_over(ground, beyond_m=SEEN_BEYOND_M)
    _refuse_wide(discs)
    for note in ground.notes:
        complain(note)
    if query:
        typer.echo("\n\n".join(_questions(discs)))
        return
    from data_sources.land.features import joined

    found = _ask(discs, offline=offline, contact=contact, server=server)
    for notice in dict.fromkeys(f.notice for f in found if f.notice):
        complain(notice)
    given = min(f.fetched_at for f in found)
    _write(to, joined([f.features for f in found]), given=given, force=force)


def _refuse_target(to: Path, *, force: bool) -> None:
    from swarmwatch.cli.files import refuse_existing
    from swarmwatch.errors import UsageError

    if to.suffix.lower() not in _SUFFIXES:
        message = f"--to {str(to)!r}: the map is written as GeoJSON. Give a name in .geojson."
        raise UsageError(message)
    refuse_existing(to, force=force)


def _refuse_wide(discs: "Sequence[Disc]") -> None:
    from data_sources.land.overpass import MOST_M
    from swarmwatch.errors import UsageError

    widest_m = max(radius_m for _, _, radius_m in discs)
    if widest_m > MOST_M:
        message = (
            f"The ground reaches {widest_m / _M_PER_KM:.1f} km from its middle; the service is "
            f"asked for {MOST_M / _M_PER_KM:.0f} km at most. Give a smaller ground, or an "
            "OpenStreetMap extract with `place --land`."
        )
        raise UsageError(message)


def _questions(discs: "Sequence[Disc]") -> list[str]:
    from data_sources.land.overpass import overpass_query

    return [
        overpass_query(latitude=lat, longitude=lon, radius_m=radius_m)
        for lat, lon, radius_m in discs
    ]


def _ask(
    discs: "Sequence[Disc]", *, offline: bool, contact: str | None, server: str | None
) -> "list[FetchedLand]":
    from data_sources.land.overpass import OVERPASS_URL, fetch_overpass
    from data_sources.session import open_session
    from swarmwatch.cli.weather import kept_file, user_agent

    with open_session(
        kept_file(_KEPT_FILE),
        offline=offline,
        user_agent=user_agent(contact),
        timeout_s=(_CONNECT_S, _PIECE_S),
        whole_s=_WHOLE_S,
        bytes_most=_BYTES_MOST,
        retries=0,  # a heavy question is not put twice to a service that others share
    ) as session:
        return [
            fetch_overpass(
                session,
                latitude=lat,
                longitude=lon,
                radius_m=radius_m,
                base_url=server or OVERPASS_URL,
                kept_for=_KEPT_FOR,
            )
            for lat, lon, radius_m in discs
        ]


def _write(to: Path, land: "LandFeatures", *, given: "datetime", force: bool) -> None:
    from data_sources.land.overpass import PROVIDER
    from data_sources.land.writing import land_geojson
    from swarmwatch.cli.files import write_whole
    from swarmwatch.cli.land import LOOK_TOLD, not_mapped_told

    write_whole(to, land_geojson(land).encode("utf-8"), force=force)
    counts = land.table["kind"].value_counts().sort_index()
    drawn = ", ".join(f"{kind.replace('-', ' ')}: {n:,}" for kind, n in counts.items())
    told = [
        f"{PROVIDER} on {given:%Y-%m-%d}: {drawn or 'nothing of use'}.",
        LOOK_TOLD,
        *not_mapped_told(land.not_mapped),
    ]
    typer.echo("\n".join([*told, *land.notes, f"Map: {land.credit}"]))
    complain(f"Written: {to}")
    complain(f"Next: `swarmwatch place --land {to}` with the same ground.")
