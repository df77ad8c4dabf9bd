"""How do scores read on a terminal?"""

import textwrap
from typing import TYPE_CHECKING, Any

from swarmwatch.wording import one_line, per_cent

if TYPE_CHECKING:
    import pandas as pd

_WIDTH = 96
_KEPT = "\u00a0%"
_MARKS = {"today": "!!!", "act": "!! ", "look-soon": "!  ", "quiet": ".  "}
_ORDER = ("today", "act", "look-soon", "quiet")


def scores_as_text(scores: "pd.DataFrame", *, most: int | None = None) -> str:
    """Return a short readable list, the most urgent colony first.

    `most` cuts the list; how many colonies were left out is said.
    """
    if scores.empty:
        return "No living colony on record."
    ordered = scores.assign(
        rank=[_ORDER.index(level) for level in scores["level"]],
        risk=-scores[["p_7d", "p_after_7d"]].max(axis=1),
    ).sort_values(["rank", "risk", "colony"], kind="stable")
    shown = ordered if most is None else ordered.head(most)
    first = scores.iloc[0]
    lines = [
        f"Chance of a swarm, seen from the evening of {first['on'].date()}",
        f"Weather: {first['weather_kind']}",
        "",
    ]
    for _, row in shown.iterrows():
        lines += [*_colony_lines(row), ""]
    if len(shown) < len(ordered):
        lines += [f"... and {len(ordered) - len(shown)} more, less urgent.", ""]
    lines.append("Odds, not promises: they do not replace opening the hive.")
    return "\n".join(lines)


def _colony_lines(row: "pd.Series[Any]") -> list[str]:
    mark = _MARKS[str(row["level"])]
    head = one_line(f"{row['colony']} ({row['apiary']}): {row['level']}")
    return [
        f"{mark} {head}",
        *_wrapped("", chance_words(row)),
        *_wrapped("why: ", str(row["because"])),
        *_wrapped("do: ", _with_date(str(row["advice"]), row["do_by"])),
    ]


def chance_words(row: "pd.Series[Any]") -> str:
    """Say one score's chances with their ranges, rounded to what is known."""
    gone = float(row["p_gone"])
    after = float(row["p_after_7d"])
    parts = []
    if gone < 1:
        parts = [
            f"next {days} days {per_cent(row[f'p_{days}d'])} "
            f"({per_cent(row[f'p_{days}d_low'])} to {per_cent(row[f'p_{days}d_high'])})"
            for days in (7, 14)
        ]
    if gone >= 0.05:
        parts.append(_gone_words(gone))
    if after >= 0.05:
        parts.append(f"afterswarm within 7 days {per_cent(after)}")
    return ", ".join(parts)


def _gone_words(gone: float) -> str:
    if gone >= 1:
        return "has swarmed"
    return f"{'probably' if gone >= 0.5 else 'perhaps'} swarmed already {per_cent(gone)}"


def _with_date(text: str, do_by: object) -> str:
    import pandas as pd

    return text if pd.isna(do_by) else f"by {do_by.date()}: {text}"  # type: ignore[attr-defined,call-overload]


def _wrapped(label: str, text: str) -> list[str]:
    indent = " " * 4
    # a number keeps its sign beside it
    lines = textwrap.wrap(
        one_line(label + text).replace(" %", _KEPT),
        _WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + " " * len(label),
    )
    return [line.replace(_KEPT, " %") for line in lines]
