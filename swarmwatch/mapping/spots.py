"""What is said of each chosen spot: the plan's row and its site's, in plain words."""

from dataclasses import dataclass

import pandas as pd

from swarmwatch.tables import TABLES, conform
from swarmwatch.wording import amount, per_cent

_COMPASS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)
# a full turn and one of its eight parts [degrees]
_TURN_DEG = 360
_EIGHTH_DEG = 45
ASK_FIRST = "ask first"
_SHADES = {"none": "none: full sun", "part": "part of the day", "full": "full"}
_STEADINESS = {
    "yes": ("stays in the plan under the other assumptions",),
    "no": ("drops out of the plan under some other assumptions",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A chosen spot, ready to be shown; every text may hold anything the keeper typed."""

    rank: int
    site: str
    box: str
    latitude: float
    longitude: float
    height: str
    facing: str
    shade: str
    catches: str
    likely: str
    chance: str
    permission: str
    allowed: bool
    refused: bool
    owner: str
    because: tuple[str, ...]
    warnings: tuple[str, ...]
    nearest: str
    steadiness: tuple[str, ...]
    note: str

    @property
    def expected(self) -> str:
        """Return the catches a season with their range."""
        return f"{self.catches} ({self.likely})" if self.likely else self.catches


def spots(plan: pd.DataFrame, sites: pd.DataFrame | None = None) -> list[Spot]:
    """Return the spots of a plan, best first, with what `sites` adds.

    A site that `sites` does not name, or without a yes, is one to ask about first.
    """
    plan = conform(plan, TABLES["plan"]).sort_values("rank")
    known = conform(
        pd.DataFrame({"site": [], "latitude": [], "longitude": []}) if sites is None else sites,
        TABLES["sites"],
    ).drop_duplicates("site")
    columns = ["site", "facing_deg", "shade", "permission", "owner", "note"]
    joined = plan.merge(known[columns], on="site", how="left")
    return [_spot(row) for _, row in joined.iterrows()]


def _spot(row: pd.Series) -> Spot:
    word = _text(row["permission"])
    permission, allowed = _permission(word)
    return Spot(
        rank=int(row["rank"]),
        site=str(row["site"]),
        box=_text(row["box"]),
        latitude=float(row["latitude"]),
        longitude=float(row["longitude"]),
        height="" if pd.isna(row["height_m"]) else f"{row['height_m']:.1f} m",
        facing=facing(row["facing_deg"]),
        shade=_SHADES.get(_text(row["shade"]), ""),
        catches=amount(row["catches"]),
        likely=likely(row["catches_low"], row["catches_high"]),
        chance=per_cent(row["p_any"]),
        permission=permission,
        allowed=allowed,
        refused=word == "no",
        owner=_text(row["owner"]),
        because=_parts(row["because"]),
        warnings=tuple(w for w in _parts(row["warnings"]) if not w.startswith(ASK_FIRST)),
        nearest=_nearest(row),
        steadiness=_STEADINESS.get(_text(row["robust"]), ()),
        note=_text(row["note"]),
    )


def _text(value: object) -> str:
    return "" if pd.isna(value) else str(value)  # type: ignore[call-overload] # a cell is a scalar


def _parts(value: object) -> tuple[str, ...]:
    return tuple(part.strip() for part in _text(value).split(";") if part.strip())


def _permission(word: str) -> tuple[str, bool]:
    if word == "yes":
        return "the owner said yes", True
    if word == "asked":
        return f"{ASK_FIRST}: asked, no yes yet", False
    if word == "no":
        return f"{ASK_FIRST}: no permission", False
    return f"{ASK_FIRST}: no yes noted", False


def _nearest(row: pd.Series) -> str:
    name = _text(row["nearest_source"])
    if not name or pd.isna(row["distance_m"]):
        return name
    return f"{name}, {row['distance_m']:,.0f} m away"


def facing(degrees: float) -> str:
    """Return a compass direction in words, such as "south-east (135°)"; "" for a blank."""
    if pd.isna(degrees):
        return ""
    name = _COMPASS[round(float(degrees) / _EIGHTH_DEG) % len(_COMPASS)]
    return f"{name} ({float(degrees) % _TURN_DEG:.0f}°)"


def expected(value: float, low: float, high: float) -> str:
    """Return a number of swarms a season with its range, in words."""
    if pd.isna(value):
        return ""
    span = likely(low, high)
    return f"{amount(value)} ({span})" if span else amount(value)


def likely(low: float, high: float) -> str:
    """Return a range that holds in four cases of five, in words; "" where a side is blank."""
    return "" if pd.isna(low) or pd.isna(high) else f"likely {amount(low)} to {amount(high)}"
