"""What happens at each bait box from hanging to the new colony, and what to do by when?"""

from collections.abc import Mapping
from datetime import date, timedelta

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.placement._box_rates import Rate, prior_rate, rate_after, site_records
from swarmwatch.placement._box_rates import sites_with_records as sites_with_records
from swarmwatch.placement._box_season import BoxSeason, box_season
from swarmwatch.placement._box_state import STATES, BoxState, box_states
from swarmwatch.placement._box_words import move_days, moving_steps, near_by_steps, to_do
from swarmwatch.tables import TABLES, conform

__all__ = [
    "STATES",
    "BoxSeason",
    "BoxState",
    "Rate",
    "box_season",
    "box_states",
    "caught_colonies",
    "hung_boxes",
    "move_days",
    "moving_steps",
    "near_by_steps",
    "prior_rate",
    "rate_after",
    "site_records",
    "sites_with_records",
]

# tables.md: low and high are the 10th and 90th percentile
_LOW, _HIGH = 0.1, 0.9
_HUNG_COLUMNS = (
    "box", "site", "hung_on", "state", "scouts", "scouts_on", "tenant", "occupied_on", "kind",
    "looked_on", "do", "do_by", "expected", "catches_here", "seasons_here", "rate_low", "rate",
    "rate_high",
)  # fmt: skip


def hung_boxes(
    frames: Mapping[str, pd.DataFrame],
    *,
    on: date,
    evidence: Evidence | None = None,
    seed: int = 0,
    rates: bool = True,
) -> pd.DataFrame:
    """Say of each box that hangs, or holds a swarm, its state, what to do, and its site's rate.

    Parameters
    ----------
    frames
        The input tables by name, as records hold them; one yard at least.
    on
        The evening.
    evidence
        The numbers; the shipped ones if None.
    seed
        Of the drawn assumptions.
    rates
        Work out the rates, which takes far longer than the rest; blank if not.

    Returns
    -------
    One row a box, the most urgent first: its state of `STATES`, do and do_by; expected, the
    catches a season that an untried site like this gives; catches_here in seasons_here, the
    record; rate, rate_low, rate_high, the site's catches a season after its record. Rates are
    blank where the site is not in `sites`.
    """
    evidence = evidence or load_evidence()
    season = box_season(frames["apiaries"], frames["weather"], on=on, evidence=evidence)
    states = [
        s
        for s in box_states(
            frames["checks"],
            hangings=frames["hangings"],
            catches=frames["catches"],
            on=on,
            evidence=evidence,
        )
        if s.site is not None or s.state == "occupied"
    ]
    known = _rates(frames, season, on=on, evidence=evidence, seed=seed) if rates else {}
    rows = []
    for state in states:
        do, do_by = to_do(state, season=season, on=on, evidence=evidence)
        cells = {name: getattr(state, name, None) for name in _HUNG_COLUMNS}
        rows.append(cells | {"do": do, "do_by": do_by} | known.get(state.box, {}))
    table = pd.DataFrame(rows, columns=list(_HUNG_COLUMNS))
    days = [c for c in _HUNG_COLUMNS if c.endswith(("_on", "_by"))]
    for name in days:
        table[name] = pd.to_datetime(table[name])
    urgency = table["state"].map({"occupied": 0, "scouted": 1}).fillna(2)
    order = urgency.to_frame("u").assign(by=table["do_by"]).sort_values(["u", "by"], kind="stable")
    return table.loc[order.index].reset_index(drop=True)


def _rates(
    frames: Mapping[str, pd.DataFrame],
    season: BoxSeason,
    *,
    on: date,
    evidence: Evidence,
    seed: int,
) -> dict[str, dict[str, float]]:
    """Return each hung box's expected catches and its site's rate after the record."""
    # slow to load, and states and days need none of it
    from swarmwatch.placement._box_catches import boxes_at_sites, sent_to
    from swarmwatch.placement.sources import season_swarms

    hangings = conform(frames["hangings"], TABLES["hangings"])
    stamp = pd.Timestamp(on)
    up = hangings[(hangings["hung_on"] <= stamp) & ~(hangings["taken_on"] <= stamp)]
    placed = boxes_at_sites(up, frames["sites"], frames["boxes"])
    if not len(placed):
        return {}
    own = season_swarms(
        frames["colonies"],
        frames["apiaries"],
        on=on,
        inspections=frames["inspections"],
        events=frames["events"],
        evidence=evidence,
    )
    sent = sent_to(
        placed,
        own,
        frames["sources"],
        yards=frames["apiaries"],
        evidence=evidence,
        seed=seed,
        with_history=False,
    )
    middle, drawn = sent.catches[0], sent.catches[1:]
    low, high = np.quantile(drawn, [_LOW, _HIGH], axis=0)
    record = site_records(
        frames["sites"], hangings, frames["catches"], season=season, on=on
    ).set_index("site")
    found: dict[str, dict[str, float]] = {}
    for i, (box, site) in enumerate(zip(placed["box"], placed["site"], strict=True)):
        caught, seasons = (float(record.loc[site, c]) for c in ("catches", "seasons"))
        rate = rate_after(middle[i], low[i], high[i], catches=caught, seasons=seasons)
        found[str(box)] = {
            "expected": float(middle[i]),
            "catches_here": caught,
            "seasons_here": seasons,
            "rate_low": rate.low,
            "rate": rate.mean,
            "rate_high": rate.high,
        }
    return found


def caught_colonies(
    catches: pd.DataFrame,
    inspections: pd.DataFrame,
    *,
    on: date,
    season: BoxSeason,
    evidence: Evidence | None = None,
) -> pd.DataFrame:
    """Follow the colonies that this season's catches became until their brood is known as well.

    Parameters
    ----------
    catches, inspections
        The tables; rows after `on` are not read.
    on
        The evening.
    season
        Catches before it are left out.
    evidence
        The numbers; the shipped ones if None.

    Returns
    -------
    One row a colony: colony, caught_on, moved_on, checked (brood looks so far that found it
    normal), state {apart, cleared, stop}, do, do_by.
    """
    evidence = evidence or load_evidence()
    stamp = pd.Timestamp(on)
    known = conform(catches, TABLES["catches"])
    known = known[
        (known["caught_on"] <= stamp) & (known["caught_on"] >= pd.Timestamp(season.first_day))
    ]
    looks = conform(inspections, TABLES["inspections"])
    looks = looks[(looks["date"] <= stamp) & looks["brood_health"].notna()].sort_values("date")
    rows = []
    for _, row in known[known["to_colony"].notna()].iterrows():
        mine = looks[(looks["colony"] == row["to_colony"]) & (looks["date"] >= row["caught_on"])]
        checked, state, do, do_by = _brood(row["caught_on"].date(), mine, on, evidence)
        moved = row["moved_on"] if row["moved_on"] <= stamp else pd.NaT
        rows.append((row["to_colony"], row["caught_on"], moved, checked, state, do, do_by))
    columns = ["colony", "caught_on", "moved_on", "checked", "state", "do", "do_by"]
    table = pd.DataFrame(rows, columns=columns)
    table["do_by"] = pd.to_datetime(table["do_by"])
    return table.sort_values("do_by", kind="stable", ignore_index=True)


def _brood(
    caught_on: date, looks: pd.DataFrame, on: date, evidence: Evidence
) -> tuple[int, str, str, date | None]:
    first, last, again = (
        caught_on + timedelta(days=round(evidence.value(f"boxes.brood_check_{end}_d")))
        for end in ("from", "until", "again")
    )
    if len(looks) and looks["brood_health"].iloc[-1] != "normal":
        do = (
            "its brood was noted as not well: stop, move no bees, comb, boxes or tools, clean your "
            "tools, call the bee inspector"
        )
        return 0, "stop", do, on
    normal = looks.loc[looks["brood_health"] == "normal", "date"]
    if (normal >= pd.Timestamp(again)).any():
        return 2, "cleared", "brood was well twice: it may join the other colonies", None
    apart = "share no comb or tools with other hives"
    if (normal >= pd.Timestamp(first)).any():
        return 1, "apart", f"look at its brood again from {again} on; {apart}", max(again, on)
    return 0, "apart", f"look at its brood between {first} and {last}; {apart}", max(last, on)
