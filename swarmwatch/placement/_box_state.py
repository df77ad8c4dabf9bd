"""In what state is each bait box, by its checks and catches?"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.tables import TABLES, conform

STATES = ("not looked", "empty", "scouted", "occupied", "tenant")
_SEEN = ("scouts", "pollen_in", "occupied", "tenant")
_KIND_UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxState:
    """One box on an evening.

    `site`, `hung_on` None where it hangs nowhere; `occupied_on` the first day on which a swarm was
    seen in it, `kind` of swarm {prime, afterswarm, unknown}, `likely` where only pollen tells of
    it; `scouts` of the last count and its day; `looked_on` the last check; a blank is not known.
    """

    box: str
    state: str
    site: str | None = None
    hung_on: date | None = None
    looked_on: date | None = None
    scouts: int | None = None
    scouts_on: date | None = None
    quorum: bool = False
    tenant: str | None = None
    occupied_on: date | None = None
    kind: str = _KIND_UNKNOWN
    likely: bool = False


def box_states(
    checks: pd.DataFrame,
    *,
    hangings: pd.DataFrame | None,
    catches: pd.DataFrame | None,
    on: date,
    evidence: Evidence,
) -> list[BoxState]:
    """Say in what state every box is that hangs, was checked or caught a swarm, by name.

    Parameters
    ----------
    checks, hangings, catches
        The tables; rows after `on` are not read. What was seen before the box was last taken down
        or its swarm moved says nothing of it now.
    on
        The evening.
    evidence
        Gives ``levels.scouts_quorum`` and ``levels.scouts_fresh``.
    """
    seen = _until(checks, "checks", "date", on).sort_values("date", kind="stable")
    hung = _until(hangings, "hangings", "hung_on", on)
    caught = _until(catches, "catches", "caught_on", on)
    emptied = _emptied(hung, caught, on)
    names = sorted({*seen["box"], *hung.loc[~_down(hung, on), "box"], *caught["box"]})
    by_box = {str(n): rows for n, rows in seen.groupby("box")}
    return [
        _state(
            name,
            seen=_since(by_box.get(name, seen.iloc[:0]), "date", emptied.get(name)),
            hung=hung[(hung["box"] == name) & ~_down(hung, on)],
            caught=caught[(caught["box"] == name) & ~(caught["moved_on"] <= pd.Timestamp(on))],
            on=on,
            evidence=evidence,
        )
        for name in names
    ]


def _until(table: pd.DataFrame | None, name: str, day: str, on: date) -> pd.DataFrame:
    columns = [c.name for c in TABLES[name].columns]
    frame = conform(pd.DataFrame(columns=columns) if table is None else table, TABLES[name])
    return frame[frame[day] <= pd.Timestamp(on)]


def _down(hung: pd.DataFrame, on: date) -> pd.Series:
    return hung["taken_on"] <= pd.Timestamp(on)


def _emptied(hung: pd.DataFrame, caught: pd.DataFrame, on: date) -> Mapping[str, pd.Timestamp]:
    """Return the last day on which each box was taken down or its swarm moved."""
    days = [hung[["box", "taken_on"]], caught[["box", "moved_on"]]]
    both = pd.concat([d.set_axis(["box", "day"], axis=1) for d in days])
    past = both[both["day"] <= pd.Timestamp(on)]
    return {str(b): day for b, day in past.groupby("box")["day"].max().items()}


def _since(rows: pd.DataFrame, day: str, emptied_on: pd.Timestamp | None) -> pd.DataFrame:
    return rows if emptied_on is None else rows[rows[day] > emptied_on]


def _state(
    name: str,
    *,
    seen: pd.DataFrame,
    hung: pd.DataFrame,
    caught: pd.DataFrame,
    on: date,
    evidence: Evidence,
) -> BoxState:
    where = hung.sort_values("hung_on").iloc[-1:]
    occupied_on, kind, likely = _occupied(seen, caught)
    scouts_on, scouts = _last(seen, "scouts")
    fresh = scouts_on is not None and (on - scouts_on).days <= evidence.value("levels.scouts_fresh")
    count = None if scouts is None else int(str(scouts))
    _, tenant = _last(seen, "tenant")
    looked = seen[seen[list(_SEEN)].notna().any(axis=1)]
    if occupied_on is not None:
        state = "occupied"
    elif tenant not in (None, "none"):
        state = "tenant"
    elif fresh and count:
        state = "scouted"
    else:
        state = "empty" if len(looked) else "not looked"
    return BoxState(
        box=name,
        state=state,
        site=None if where.empty else str(where["site"].iloc[0]),
        hung_on=None if where.empty else where["hung_on"].iloc[0].date(),
        looked_on=None if looked.empty else looked["date"].iloc[-1].date(),
        scouts=count,
        scouts_on=scouts_on,
        quorum=state == "scouted" and (count or 0) >= evidence.value("levels.scouts_quorum"),
        tenant=None if tenant in (None, "none") else str(tenant),
        occupied_on=occupied_on,
        kind=kind,
        likely=likely,
    )


def _occupied(seen: pd.DataFrame, caught: pd.DataFrame) -> tuple[date | None, str, bool]:
    """Return since when a swarm lives in the box, of what kind, and whether only pollen says so."""
    known = seen[seen["occupied"].notna() | (seen["pollen_in"] == "yes")]
    lived = (known["occupied"] == "yes") | known["occupied"].isna()
    if len(caught):
        last = caught.sort_values("caught_on").iloc[-1]
        left = len(known) and not lived.iloc[-1] and known["date"].iloc[-1] > last["caught_on"]
        if not left:
            kind = _KIND_UNKNOWN if pd.isna(last["kind"]) else str(last["kind"])
            return last["caught_on"].date(), kind, False
    if not len(known) or not lived.iloc[-1]:
        return None, _KIND_UNKNOWN, False
    # the days since the last check that found the box empty
    run = known[~(~lived)[::-1].cummax()[::-1]]
    return run["date"].iloc[0].date(), _KIND_UNKNOWN, not (run["occupied"] == "yes").any()


def _last(seen: pd.DataFrame, column: str) -> tuple[date | None, object]:
    known = seen[seen[column].notna()]
    return (None, None) if known.empty else (known["date"].iloc[-1].date(), known[column].iloc[-1])
