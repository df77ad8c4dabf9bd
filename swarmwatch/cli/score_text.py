"""How do scores read on a terminal?"""

import textwrap
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

_WIDTH = 96
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
    head = f"{mark} {row['colony']} ({row['apiary']}): {row['level']}"
    return [
        head,
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
            f"next {days} days {_percent(row[f'p_{days}d'])} "
            f"({_percent(row[f'p_{days}d_low'])} to {_percent(row[f'p_{days}d_high'])})"
            for days in (7, 14)
        ]
    if gone >= 0.05:
        parts.append(_gone_words(gone))
    if after >= 0.05:
        parts.append(f"afterswarm within 7 days {_percent(after)}")
    return ", ".join(parts)


def _gone_words(gone: float) -> str:
    if gone >= 1:
        return "has swarmed"
    return f"{'probably' if gone >= 0.5 else 'perhaps'} swarmed already {_percent(gone)}"


def _percent(share: object) -> str:
    value = float(share)  # type: ignore[arg-type]  # conformed: a number
    if 0 < value < 0.01:
        return "under 1 %"
    if 0.99 < value < 1:
        return "over 99 %"
    return f"{100 * value:.0f} %"


def _with_date(text: str, do_by: object) -> str:
    import pandas as pd

    return text if pd.isna(do_by) else f"by {do_by.date()}: {text}"  # type: ignore[attr-defined,call-overload]


def _wrapped(label: str, text: str) -> list[str]:
    indent = " " * 4
    return textwrap.wrap(
        label + text, _WIDTH, initial_indent=indent, subsequent_indent=indent + " " * len(label)
    )
