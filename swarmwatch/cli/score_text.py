"""How do scores read on a terminal?"""

import textwrap
from typing import TYPE_CHECKING, Any

from swarmwatch.wording import amount, one_line, per_cent

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


def changes_as_text(compared: "pd.DataFrame") -> str:
    """Return what a change does to each colony: before, after, and the difference in words."""
    if compared.empty:
        return "No living colony on record."
    first = compared.iloc[0]
    word = str(first["change"])
    lines = [f"What if {word}, on the evening of {first['on'].date()}"]
    if word.startswith("wait-"):
        lines.append("Days without a look, if the weather comes as forecast; then the days after.")
    else:
        from swarmwatch.swarming.what_if import CHANGES

        lines.append(f"Taken to be: {CHANGES[word]}.")
    lines.append("")
    for _, row in compared.iterrows():
        lines += [one_line(f"{row['colony']} ({row['apiary']})"), *_before_and_after(row)]
        lines += [*_wrapped("", str(row["difference"])), ""]
    cautions = [c for c in dict.fromkeys(compared["caution"]) if c]
    lines += [line for c in cautions for line in _wrapped("mind: ", c)]
    return "\n".join([*lines, "Odds, not promises, and no advice: `score` without --if advises."])


def _before_and_after(row: "pd.Series[Any]") -> list[str]:
    import pandas as pd

    if pd.isna(row["p_gone_after"]):
        return []
    lines = [
        f"    {days:>2} days  {_ranged(row, f'p_{days}d', '')}  ->  "
        f"{_ranged(row, f'p_{days}d', '_after')}"
        for days in (7, 14)
    ]
    dates = [row["likely_date"], row["likely_date_after"]]
    likely = ["none" if pd.isna(d) else str(d.date()) for d in dates]
    return [*lines, f"    likely date  {likely[0]}  ->  {likely[1]}"]


def _ranged(row: "pd.Series[Any]", name: str, end: str) -> str:
    p, low, high = (per_cent(row[f"{name}{part}{end}"]) for part in ("", "_low", "_high"))
    return f"{p} ({low} to {high})"


def visits_as_text(order: "pd.DataFrame") -> str:
    """Return which colonies to open in a short week, why, and what the others risk."""
    if order.empty:
        return "No living colony on record."
    chosen, others = order[order["chosen"] == "yes"], order[order["chosen"] == "no"]
    noun = "colony" if len(chosen) == 1 else "colonies"
    day = order["on"].iloc[0].date()
    lines = [f"With time for {len(chosen)} {noun}, seen from the evening of {day}", ""]
    for _, row in chosen.iterrows():
        head = one_line(f"{row['rank']:>2}. {row['colony']} ({row['apiary']})")
        lines += [head, *_wrapped("why: ", str(row["because"]))]
    foreseen, total = chosen["foreseen_7d"].sum(), order["swarms_7d"].sum()
    expected = f"Swarms expected to leave within 7 days: {amount(total)} in all"
    lines += ["", f"{expected}; these looks can foresee {amount(foreseen)}."]
    if len(others):
        risk = amount(others["swarms_7d"].sum())
        left = "The other colony risks" if len(others) == 1 else f"The other {len(others)} risk"
        lines.append(f"{left} {risk} together without a look.")
        lines += _kept_back(others)
    return "\n".join([*lines, "", "Odds, not promises: they do not replace opening the hive."])


def _kept_back(others: "pd.DataFrame") -> list[str]:
    """Say why colonies that need something else than a visit now are not among the first."""
    kept = others[(others["foreseen_7d"] == 0) & (others["swarms_7d"] > 0)]
    return [
        line
        for _, row in kept.iterrows()
        for line in _wrapped(f"{row['colony']}: ", str(row["because"]))
    ]
