"""What is said of each yard, and of the other places where swarms come from."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from swarmwatch.mapping.levels import MARKS, NOT_SCORED, Mark, worst
from swarmwatch.mapping.spots import expected
from swarmwatch.tables import TABLES, conform
from swarmwatch.tables.outputs import LEVELS
from swarmwatch.wording import per_cent

# two places closer than this are one: the sixth decimal is a tenth of a metre [degrees]
_SAME_PLACE_DEG = 1e-5
_LIKELY_GONE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Colony:
    """A colony's line in its yard's list."""

    name: str
    mark: Mark
    chance: str
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Yard:
    """A yard with its worst level and the colonies behind it."""

    name: str
    latitude: float
    longitude: float
    mark: Mark
    summary: str
    colonies: tuple[Colony, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """A place that swarms leave from; `swarms` a season drives the size of its circle."""

    name: str
    latitude: float
    longitude: float
    swarms: float
    expected: str
    own: bool


def yards(apiaries: pd.DataFrame, scores: pd.DataFrame | None = None) -> list[Yard]:
    """Return the yards in the order given, each with its colonies, most urgent first."""
    table = conform(apiaries, TABLES["apiaries"])
    scored = None if scores is None else conform(scores, TABLES["scores"])
    return [_yard(row, scored) for _, row in table.iterrows()]


def _yard(row: pd.Series, scores: pd.DataFrame | None) -> Yard:
    here = None if scores is None else scores[scores["apiary"] == row["apiary"]]
    colonies = () if here is None else _colonies(here)
    level = "" if here is None else worst([str(v) for v in here["level"].dropna()])
    mark = MARKS.get(level, NOT_SCORED)
    return Yard(
        name=str(row["apiary"]),
        latitude=float(row["latitude"]),
        longitude=float(row["longitude"]),
        mark=mark,
        summary=_summary(mark, colonies),
        colonies=colonies,
        note="" if pd.isna(row["note"]) else str(row["note"]),
    )


def _colonies(scores: pd.DataFrame) -> tuple[Colony, ...]:
    urgency = scores["level"].map(lambda v: -LEVELS.index(v), na_action="ignore")
    ordered = scores.assign(_urgency=urgency).sort_values(
        ["_urgency", "p_7d", "colony"], ascending=[True, False, True], na_position="last"
    )
    return tuple(
        Colony(
            name=str(row["colony"]),
            mark=NOT_SCORED if pd.isna(row["level"]) else MARKS[row["level"]],
            chance=_chance(row),
            advice="" if pd.isna(row["advice"]) else str(row["advice"]),
        )
        for _, row in ordered.iterrows()
    )


def _chance(row: pd.Series) -> str:
    if not pd.isna(row["p_gone"]) and row["p_gone"] >= _LIKELY_GONE:
        after = "" if pd.isna(row["p_after_7d"]) else per_cent(row["p_after_7d"])
        return "probably swarmed: check" + (f"; afterswarm {after} in 7 days" if after else "")
    if pd.isna(row["p_7d"]):
        return ""
    text = f"{per_cent(row['p_7d'])} in 7 days"
    if pd.isna(row["p_7d_low"]) or pd.isna(row["p_7d_high"]):
        return text
    return f"{text} (likely {per_cent(row['p_7d_low'])} to {per_cent(row['p_7d_high'])})"


def _summary(mark: Mark, colonies: tuple[Colony, ...]) -> str:
    """Return how many colonies are at the yard's own, most urgent level."""
    if not colonies:
        return ""
    return f"{sum(c.mark is mark for c in colonies)} of {len(colonies)}: {mark.word}"


def origins(sources: pd.DataFrame, apiaries: pd.DataFrame) -> list[Origin]:
    """Return the places that swarms leave from; sources on one spot are one circle.

    An origin that stands in a yard is the keeper's own and bears the yard's name.
    """
    table = conform(sources, TABLES["sources"])
    own = conform(apiaries, TABLES["apiaries"])
    place = [
        (np.rint(table[c].to_numpy(dtype=float) / _SAME_PLACE_DEG)).astype(int)
        for c in ("latitude", "longitude")
    ]
    found = [_origin(group, own) for _, group in table.groupby(place, sort=False)]
    return sorted(found, key=lambda o: (-o.swarms, o.name))


def _origin(group: pd.DataFrame, apiaries: pd.DataFrame) -> Origin:
    latitude, longitude = float(group["latitude"].iloc[0]), float(group["longitude"].iloc[0])
    near = apiaries[
        (apiaries["latitude"] - latitude).abs().le(_SAME_PLACE_DEG)
        & (apiaries["longitude"] - longitude).abs().le(_SAME_PLACE_DEG)
    ]
    one = len(group) == 1
    names = group["source"].astype(str)
    swarms = float(group["swarms_expected"].sum())
    return Origin(
        name=str(near["apiary"].iloc[0]) if len(near) else ", ".join(names),
        latitude=latitude,
        longitude=longitude,
        swarms=swarms,
        # ranges of several colonies do not add up, so only a lone source shows one
        expected=expected(
            swarms,
            group["swarms_low"].iloc[0] if one else np.nan,
            group["swarms_high"].iloc[0] if one else np.nan,
        ),
        own=bool(len(near)),
    )
