"""The charts of a backtest: reliability, the season, and each colony's chance day by day."""

from base64 import b64encode
from collections.abc import Callable
from io import BytesIO
from typing import Any

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from swarmwatch.mapping.levels import BLACK, BLUE, GREEN, ORANGE, SKY_BLUE, VERMILION
from swarmwatch.mapping.paper import our_look, written
from swarmwatch.swarming.backtest import reliability

# each forecast has its own colour, mark and line, so that none of them stands alone
_LOOKS: dict[str, dict[str, Any]] = {
    "score": {"color": BLUE, "marker": "o", "linestyle": "-"},
    "score, learned": {"color": SKY_BLUE, "marker": "D", "linestyle": "-"},
    "base rate": {"color": BLACK, "marker": "x", "linestyle": ":"},
    "rule of thumb": {"color": ORANGE, "marker": "s", "linestyle": "--"},
    "trained model": {"color": GREEN, "marker": "^", "linestyle": "-."},
}


def draw_reliability(axes: Axes, rows: pd.DataFrame, forecasts: dict[str, str], days: int) -> None:
    """Draw what happened against what was said; on the dotted line both are the same."""
    axes.plot([0, 1], [0, 1], color="#888888", linestyle=":", linewidth=1)
    for name, start in forecasts.items():
        column = f"{start}_{days}d"
        if name == "base rate" or column not in rows or rows[column].notna().sum() == 0:
            continue
        groups = reliability(rows, days, forecast=column)
        axes.plot(
            groups["mean"], groups["rate"], label=name, linewidth=1.2, markersize=5, **_LOOKS[name]
        )
        if name == "score":
            axes.vlines(groups["mean"], groups["rate_low"], groups["rate_high"], color=BLUE, lw=0.8)
    axes.set(
        xlim=(0, 1),
        ylim=(0, 1),
        xlabel=f"chance said for {days} days",
        ylabel="share that swarmed",
        title=f"Reliability, {days} days",
    )
    axes.legend(fontsize=7, loc="upper left")


def draw_season(axes: Axes, rows: pd.DataFrame) -> None:
    """Draw the season curve over the days from its peak, and how many swarmed when."""
    curve = rows.groupby("days_from_peak")["season_weight"].mean()
    axes.plot(curve.index, curve, color=BLUE, label="season curve (peak = 1)")
    swarms = rows.drop_duplicates(["world", "season", "colony"]).dropna(subset=["swarm_until"])
    if len(swarms):
        lag = (swarms["swarm_until"] - swarms["on"]).dt.days + swarms["days_from_peak"]
        weeks = np.arange(np.floor(lag.min() / 7) * 7, lag.max() + 8, 7)
        count, edges = np.histogram(lag, bins=weeks)
        axes.bar(
            edges[:-1],
            count / max(count.max(), 1),
            width=6.5,
            align="edge",
            color=SKY_BLUE,
            alpha=0.6,
            label=f"prime swarms a week (highest bar: {count.max()})",
        )
    axes.set(xlabel="days from the season's peak", ylim=(0, 1.15), title="The season")
    axes.legend(fontsize=7, loc="upper right")


def draw_colony(axes: Axes, rows: pd.DataFrame, days: int) -> None:
    """Draw one colony's chance with its 80 % range through a season, and what happened."""
    on = rows["on"].to_numpy(dtype="datetime64[us]")
    said, low, high = (
        rows[f"p_{days}d{end}"].to_numpy(dtype=np.float64) for end in ("", "_low", "_high")
    )
    axes.fill_between(on, low, high, color=SKY_BLUE, alpha=0.5, linewidth=0)
    axes.plot(on, said, color=BLUE, marker="o", markersize=2.5, linewidth=1.2)
    first = rows.iloc[0]
    if pd.notna(first["swarm_until"]):
        axes.axvspan(
            first["swarm_from"], first["swarm_until"] + pd.Timedelta(days=1), color=VERMILION
        )
    for column, style in (("censored_on", "--"), ("ended_on", "-.")):
        if pd.notna(first[column]):
            axes.axvline(first[column], color=BLACK, linestyle=style, linewidth=1)
    axes.set_ylim(0, 1)
    axes.set_title(written(title_of(first)), fontsize=8, loc="left")
    axes.xaxis.set_major_formatter(mdates.DateFormatter("%m-%d"))  # type: ignore[no-untyped-call]  # matplotlib has no types
    axes.xaxis.set_major_locator(mdates.AutoDateLocator(maxticks=6))  # type: ignore[no-untyped-call]  # the same
    axes.tick_params(labelsize=6.5)


def title_of(first: "pd.Series[Any]") -> str:
    """Say whose season it was and how it went."""
    world = "" if first["world"] == "" else f"{first['world']}, "
    return f"{world}{first['colony']} {first['season']}: {how_it_went(first)}"


def how_it_went(first: "pd.Series[Any]") -> str:
    """Say what happened to a colony in a season, in words."""
    parts = []
    if pd.notna(first["censored_on"]):
        parts.append(f"treated on {_day(first['censored_on'])}")
    if pd.notna(first["ended_on"]):
        parts.append(f"died on {_day(first['ended_on'])}")
    if pd.notna(first["swarm_until"]):
        start, until = _day(first["swarm_from"]), _day(first["swarm_until"])
        parts.append(f"swarmed on {until}" if start == until else f"swarmed {start} to {until}")
    return ", ".join(parts) or "no swarm"


def _day(when: Any) -> str:  # noqa: ANN401 - a cell of a frame
    return str(pd.Timestamp(when).date())


def picture(draw: Callable[[Axes], None], *, width: float, height: float) -> str:
    """Return a chart of `width` x `height` inches as a data address for an ``img`` element."""
    with our_look():
        figure = Figure(figsize=(width, height), layout="constrained")
        draw(figure.add_subplot())
        buffer = BytesIO()
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": "swarmwatch"})
    return "data:image/svg+xml;base64," + b64encode(buffer.getvalue()).decode("ascii")
