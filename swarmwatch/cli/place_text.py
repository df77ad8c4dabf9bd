"""How a box plan reads on a terminal."""

import math
import textwrap
from typing import TYPE_CHECKING

from swarmwatch.wording import amount, one_line, per_cent

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import pandas as pd

_WIDTH = 96
_SURE = 0.0005


def plan_as_text(
    plan: "pd.DataFrame",
    sites: "pd.DataFrame",
    safety: "Iterable[tuple[str, str]]",
    *,
    of_the_map: "Iterable[str]" = (),
) -> str:
    """Return the plan as a short readable list, best site first, the safety lines at the end.

    `plan` with its `attrs`; `sites` as recorded, for the owner's word, and as made from a map,
    for where they are; `of_the_map` lines that tell of it.
    """
    allowed = set(sites.loc[sites["permission"] == "yes", "site"])
    facts = plan.attrs
    places = f"{len(plan)} places, best first" if len(plan) > 1 else "1 place"
    together = _swarms(facts["total"], facts["total_low"], facts["total_high"])
    lines = [
        f"Bait boxes (bait hive, swarm trap): {places}",
        f"All together {together}; chance of at least one {per_cent(facts['p_any'])}",
        "",
    ]
    where = _where(sites)
    for _, row in plan.iterrows():
        found = _wrapped(where.get(row["site"], ""), "   ")
        lines += [*_site_lines(row, allowed=row["site"] in allowed), *found, ""]
    lines += [_surety(facts["proved"], facts["gap"]), *_further(facts.get("further", ()))]
    lines += [line for note in facts["notes"] for line in _wrapped(one_line(note), "", "  ")]
    refused = facts["refused"]
    if refused:
        lines += ["", "No box here:"]
        lines += [f"  {one_line(site)}: {one_line(reason)}" for site, reason in refused.items()]
    if told := [line for text in of_the_map for line in _wrapped(one_line(text), "  ")]:
        lines += ["", "The map:", *told]
    lines += ["", "Before you go:"]
    for heading, text in safety:
        lines += _wrapped(f"{heading}: {text}", "  ")
    return "\n".join(lines)


def _site_lines(row: "pd.Series", *, allowed: bool) -> list[str]:
    box = "a box" if row["box"] != row["box"] or row["box"] is None else f"box {row['box']}"
    what = f"hang {box} at {row['height_m']:.1f} m" if allowed else "ASK FIRST"
    if not allowed:
        what += f"; after a yes {box} at {row['height_m']:.1f} m"
    steady = (
        "stays in the plan under other assumptions"
        if row["robust"] == "yes"
        else "other assumptions would choose another place"
    )
    chance = (
        f"{_swarms(row['catches'], row['catches_low'], row['catches_high'])}; chance of at least "
        f"one {per_cent(row['p_any'])}; this box adds {amount(row['gain'])}; {steady}"
    )
    return [
        *_wrapped(one_line(f"{row['rank']}. {row['site']}: {what}"), "", "   "),
        *_wrapped(chance, "   "),
        *_wrapped(one_line(f"Why: {row['because']}"), "   "),
        *_wrapped(one_line(f"Mind: {row['warnings']}"), "   "),
    ]


def _where(sites: "pd.DataFrame") -> dict[str, str]:
    """Return for each site that was made from a map where it is, and which way it faces."""
    if "generated" not in sites:
        return {}
    from swarmwatch.mapping.spots import facing

    made = sites[sites["generated"] == "yes"]
    degrees = made["facing_deg"].to_numpy(dtype=float, na_value=math.nan).tolist()
    turned = [f", facing {facing(d)}" if facing(d) else "" for d in degrees]
    return {
        site: one_line(f"Where: {lat:.5f}, {lon:.5f}{side}, {note}")
        for site, lat, lon, side, note in zip(
            made["site"], made["latitude"], made["longitude"], turned, made["note"], strict=True
        )
    }


def _swarms(middle: float, low: float, high: float) -> str:
    return f"{amount(middle)} swarms a season ({amount(low)} to {amount(high)})"


def _surety(proved: bool, gap: float) -> str:
    if proved:
        return "For the numbers used this set is proved best; the numbers themselves are rough."
    if gap < _SURE:
        return "For the numbers used no other set is better by 0.1 % or more."
    return f"For the numbers used no other set is better by more than {gap:.1%}."


def _further(added: "Sequence[float]") -> list[str]:
    """Say what one box more would add, and the one after it; nothing where no site is left."""
    if not added:
        return []
    more = f" and the next {amount(added[1])}" if len(added) > 1 else ""
    return [f"One box more, at the best site left, would add {amount(added[0])}{more} a season."]


def _wrapped(text: str, indent: str, later: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=indent,
        subsequent_indent=later if later is not None else indent + "  ",
        break_long_words=False,
    )
