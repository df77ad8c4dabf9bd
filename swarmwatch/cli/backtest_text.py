"""How does a backtest read on a terminal and in a report?"""

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

_COLUMNS = ("Brier skill", "ROC area", "log loss", "slope", "mean/rate")


def heading(
    rows: pd.DataFrame, *, simulated: int, seasons: int, colonies: int, seed: int
) -> list[str]:
    """Say what was replayed: a title, then lines."""
    if simulated:
        title = (
            f"Backtest on {simulated} simulated world{'s' * (simulated > 1)}, {seasons} "
            f"season{'s' * (seasons > 1)} of {colonies} colonies each, seed {seed}"
        )
    else:
        years = ", ".join(str(y) for y in sorted(rows["season"].unique()))
        title = f"Backtest on your records, season {years}"
    each = rows.drop_duplicates(["world", "season", "colony"])
    lines = [] if "learned" not in rows else [_of_learning(rows)]
    return [
        title,
        (
            f"{len(rows)} forecasts on {rows['on'].nunique()} evenings, {len(each)} colony "
            f"seasons with a known outcome, {int(each['swarm_until'].notna().sum())} prime swarms."
        ),
        (
            "Brier skill: 0 is the usual rate, 1 is perfect. ROC area: 0.5 is a coin, 1 is "
            "perfect. Slope of the reliability and mean chance over rate: 1 is right."
        ),
        *lines,
    ]


def _of_learning(rows: pd.DataFrame) -> str:
    learned = rows.groupby(["world", "season"])["learned"].first()
    return (
        f"Seasons scored with numbers learned from the others: {int(learned.sum())} of "
        f"{len(learned)}; elsewhere the published ones did as well and were kept."
    )


def as_text(groups: pd.DataFrame, words: list[str], cover: Mapping[str, float] | None) -> str:
    """Return the whole result as text."""
    lines = [*words, ""]
    pooled = groups[(groups["world"] == "all") & (groups["season"] == "all")]
    for horizon in pooled["horizon_d"].unique():
        lines += [
            f"within {horizon} days".ljust(16) + "".join(f"{c:>16}" for c in _COLUMNS),
            *(
                f"{row['forecast']:<16}" + "".join(f"{c:>16}" for c in _cells(row))
                for _, row in pooled[pooled["horizon_d"] == horizon].iterrows()
            ),
            "",
        ]
    lines += _parts(groups)
    if cover is not None:
        lines += [
            "",
            (
                f"80 % ranges, {cover['sets']:.0f} seasons drawn from the score's own model: they "
                f"hold {cover['cover_7d']:.0%} of the true chances for 7 days, "
                f"{cover['cover_14d']:.0%} for 14 days."
            ),
        ]
    return "\n".join(lines)


def _parts(groups: pd.DataFrame) -> list[str]:
    """Return one line a world and season: Brier skill and ROC area of each forecast."""
    parts = groups[(groups["world"] != "all") | (groups["season"] != "all")]
    names = list(groups["forecast"].unique())
    lines = [
        "Brier skill 7/14 days, ROC area 7/14 days",
        f"{'':<20}" + "".join(f"{n:>26}" for n in names),
    ]
    for (world, season), part in parts.groupby(["world", "season"], sort=False):
        cells = []
        for name in names:
            one = part[part["forecast"] == name].set_index("horizon_d")
            skill = "/".join(_figure(v, 2) for v in one["brier_skill"])
            area = "/".join(_figure(v, 2) for v in one["roc_area"])
            cells.append(f"{skill} {area}")
        label = " ".join(x for x in (str(world), "" if season == "all" else str(season)) if x)
        lines.append(f"{label:<20}" + "".join(f"{c:>26}" for c in cells))
    return lines


def pooled_cells(groups: pd.DataFrame) -> pd.DataFrame:
    """Return the pooled comparison as a table of text."""
    pooled = groups[(groups["world"] == "all") & (groups["season"] == "all")]
    return pd.DataFrame(
        [[row["forecast"], f"{row['horizon_d']}", *_cells(row)] for _, row in pooled.iterrows()],
        columns=["forecast", "days", *_COLUMNS],
    )


def _cells(row: "pd.Series[Any]") -> list[str]:
    return [
        _with_error(row["brier_skill"], row["brier_skill_error"]),
        _with_error(row["roc_area"], row["roc_area_error"]),
        _figure(row["log_loss"], 3),
        _figure(row["slope"], 2),
        _figure(row["mean_to_rate"], 2),
    ]


def _with_error(value: float, error: float) -> str:
    shown = _figure(value, 3)
    return shown if math.isnan(error) or shown == "-" else f"{shown} ±{error:.3f}"


def _figure(value: float, places: int) -> str:
    return "-" if math.isnan(value) else f"{value:.{places}f}"
