"""How the list of bait boxes reads on a terminal."""

import textwrap
from datetime import date
from math import isnan
from typing import TYPE_CHECKING

from swarmwatch.placement.box_life import moving_steps
from swarmwatch.wording import amount, one_line

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.evidence import Evidence

_WIDTH = 96
# a part of a season that tells nothing yet
_HARDLY = 0.1
_PRACTICE = "common practice, no source"


def boxes_as_text(
    boxes: "pd.DataFrame", caught: "pd.DataFrame", on: date, evidence: "Evidence"
) -> str:
    """Return what hangs, what to do by when, and the caught colonies that are kept apart."""
    lines = [f"Bait boxes (bait hive, swarm trap), evening of {on.isoformat()}", ""]
    if not len(boxes):
        lines += ["None hangs. Note one: swarmwatch box B1 --hang SITE --place LAT,LON", ""]
    for _, row in boxes.iterrows():
        lines += [*_box(row), ""]
    if (boxes["state"] == "occupied").any():
        lines += [f"Moving an occupied box ({_PRACTICE}):"]
        lines += [
            line
            for i, step in enumerate(moving_steps(evidence), 1)
            for line in _wrapped(f"{i}. {step}", "  ", "     ")
        ]
        lines.append("")
    if len(caught):
        lines.append(f"Caught colonies of this season, kept apart ({_PRACTICE}):")
        for _, row in caught.iterrows():
            text = f"{row['colony']} (caught {row['caught_on']:%Y-%m-%d}): {row['do']}"
            lines += _wrapped(one_line(text), "  ", "    ")
        lines.append("")
    lines.append("Check from the ground. Never climb for a swarm alone, and not near a power line.")
    return "\n".join(lines)


def _box(row: "pd.Series") -> list[str]:
    where = f"at {row['site']}" if isinstance(row["site"], str) else "hangs nowhere"
    since = "" if row["hung_on"] != row["hung_on"] else f", hung {row['hung_on']:%Y-%m-%d}"
    told = row["do_by"] != row["do_by"] or f"{row['do_by']:%Y-%m-%d}" in row["do"]
    by = "" if told else _by(row["do_by"])
    return [
        *_wrapped(one_line(f"{row['box']} {where}{since}: {_state(row)}"), "", "    "),
        *_wrapped(one_line(f"do: {row['do']}{by}"), "    ", "        "),
        *_rate(row),
    ]


def _state(row: "pd.Series") -> str:
    state = str(row["state"])
    seen = "" if row["looked_on"] != row["looked_on"] else f" on {row['looked_on']:%Y-%m-%d}"
    if state == "occupied":
        kind = {"prime": "prime swarm", "afterswarm": "afterswarm"}.get(row["kind"], "swarm")
        return f"occupied by a {kind} since {row['occupied_on']:%Y-%m-%d}"
    if state == "tenant":
        return f"tenant{seen}: {row['tenant']}"
    if state == "scouted":
        return f"{int(row['scouts'])} scouts at once on {row['scouts_on']:%Y-%m-%d}"
    return f"{state}{seen}"


def _rate(row: "pd.Series") -> list[str]:
    if row["rate"] != row["rate"]:
        return []
    text = f"this site: {amount(row['rate'])} swarms a season ({amount(row['rate_low'])} to "
    text += f"{amount(row['rate_high'])})"
    known, caught, seasons = (row[c] for c in ("expected", "catches_here", "seasons_here"))
    if isnan(caught) or (not caught and seasons < _HARDLY):
        text += ", no record yet"
    else:
        text += f": {caught:.0f} caught in {amount(seasons)} seasons, {amount(known)} a season "
        text += "expected of an untried site"
    return _wrapped(text, "    ", "        ")


def _by(day: "pd.Timestamp") -> str:
    return f"; by {day:%Y-%m-%d}"


def _wrapped(text: str, indent: str, later: str) -> list[str]:
    return textwrap.wrap(
        text, _WIDTH, initial_indent=indent, subsequent_indent=later, break_long_words=False
    )
