"""How a season's forecast reads on a terminal."""

import textwrap
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from swarmwatch.wording import amount, per_cent

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.evidence import Evidence

_WIDTH = 96
_PRACTICE = "common practice, no source"
# rows shown: one a fortnight is enough to read
_EVERY = 2


def forecast_as_text(forecast: "pd.DataFrame", on: date, evidence: "Evidence") -> str:
    """Return the forecast in plain words, the table by date in the middle.

    `forecast` with its `attrs`; `on` the evening it was made.
    """
    facts = forecast.attrs
    parts = [
        [f"Swarm season {facts['season']}, seen from the evening of {on.isoformat()}"],
        _when(facts, evidence),
        _by_date(forecast),
        _catches(forecast.iloc[-1], facts, evidence),
        _colonies(forecast.iloc[-1], facts, evidence),
        _wrapped(
            "Odds, not promises: distances, lures and how many colonies swarm are known roughly; a "
            "factor of two or three either way is usual. `swarmwatch evidence boxes` shows the "
            "numbers."
        ),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part)


def _when(facts: dict[Any, Any], evidence: "Evidence") -> list[str]:
    peak = date.fromisoformat(facts["peak_on"])
    error = round(evidence["season.peak_error"].high)
    early, late = (peak + timedelta(days=d) for d in (-error, error))
    number = facts["boxes"]
    boxes = "1 bait box" if number == 1 else f"{number or 'no'} bait boxes"
    text = (
        f"Most prime swarms leave about {_day(peak)}, in most years between {_day(early)} and "
        f"{_day(late)}. Bait boxes go out by {_day(facts['put_out_on'])} and come down about "
        f"{_day(facts['take_down_on'])} ({_PRACTICE}). Reckoned with {boxes}."
    )
    return _wrapped(text)


def _by_date(forecast: "pd.DataFrame") -> list[str]:
    heads = ("by", "catches", "range", "own", "of others", "one or more", "own hives send")
    wide = (12, 11, 10, 11, 11, 13, 0)
    shown = sorted({*range(0, len(forecast), _EVERY), len(forecast) - 1})
    rows = [heads]
    for _, row in forecast.iloc[shown].iterrows():
        cells = (
            f"{row['on']:%Y-%m-%d}",
            amount(row["catches"]),
            f"{row['catches_low']:.0f} to {row['catches_high']:.0f}",
            amount(row["catches_own"]),
            amount(row["catches_other"]),
            per_cent(row["p_one_or_more"]),
            amount(row["swarms_own"]),
        )
        rows.append(cells)
    lines = ["Swarms by that evening, and the range in eight seasons of ten:"]
    return lines + [
        "".join(cell.ljust(width) for cell, width in zip(cells, wide, strict=True)).rstrip()
        for cells in rows
    ]


def _catches(last: "pd.Series", facts: dict[Any, Any], evidence: "Evidence") -> list[str]:
    if not facts["boxes"] and not last["catches"]:
        return ["Without a bait box no swarm is caught: swarmwatch forecast --boxes 2"]
    low, high = last["catches_low"], last["catches_high"]
    noted = facts["catches_noted"]
    if noted:
        text = f"Catches: {noted} so far, {amount(last['catches'] - noted)} more on average; "
        text += f"{low:.0f} to {high:.0f} in all in eight seasons of ten."
    else:
        text = f"Catches: {amount(last['catches'])} in such a season on average, {low:.0f} to "
        text += f"{high:.0f} in eight seasons of ten; none at all in "
        text += f"{per_cent(1 - last['p_one_or_more'])} of seasons."
    lines = _wrapped(text)
    lines += _wrapped(
        f"Of these {amount(last['catches_own'])} are swarms of your own hives: getting one back is "
        f"no new bees. Free colonies: {amount(last['catches_other'])}."
    )
    wild = evidence["boxes.winter_founder"]
    lines += _wrapped(
        f"Alive in autumn: {amount(last['alive_in_autumn'])} of the catches. Next spring: "
        f"{amount(facts['alive_in_spring_kept'])} if you feed and treat them (judgement), "
        f"{amount(facts['alive_in_spring_wild'])} if left alone as wild ones are "
        f"({per_cent(wild.value)} live, {wild.source.split(',')[0]})."
    )
    if facts["build_up_until"] is not None:
        late = facts["catches_late"]
        tail = f"; {amount(late)} of the catches come later" if late > 0 else ""
        lines += _wrapped(
            f"A swarm that comes after {_day(facts['build_up_until'])} hardly builds up before "
            f"winter without much feeding, or joined to another ({_PRACTICE}){tail}."
        )
    hives = int(last["hives_to_have_ready"])
    lines += _wrapped(
        f"Empty hives {'still ' if noted else ''}to have ready for catches: {hives} (enough in "
        "nine seasons of ten). More for splits you mean to make, and for swarms that you collect "
        "yourself."
    )
    return lines


def _colonies(last: "pd.Series", facts: dict[Any, Any], evidence: "Evidence") -> list[str]:
    number = facts["colonies"]
    if not number:
        return ["No colony of your own is noted."]
    kept = evidence["boxes.winter_kept"]
    whose = "Your colony sends" if number == 1 else f"Your {number} colonies send"
    lines = _wrapped(
        f"{whose} {amount(last['swarms_own'])} swarms, afterswarms counted. Of the colonies "
        f"{_span(facts, 'autumn')} live in autumn and {_span(facts, 'spring')} next spring (winter:"
        f" {per_cent(kept.value)}, {per_cent(kept.low)} to {per_cent(kept.high)}, {kept.grade}), "
        "in eight years of ten."
    )
    return lines + _wrapped(
        "Do you order bees? If you must have more colonies than these, order: catches are luck. If "
        "you can wait a year, boxes and hives may do."
    )


def _span(facts: dict[Any, Any], when: str) -> str:
    low, high = facts[f"colonies_{when}_low"], facts[f"colonies_{when}_high"]
    return f"{low}" if low == high else f"{low} to {high}"


def _day(day: date | str) -> str:
    return day if isinstance(day, str) else day.isoformat()


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, break_long_words=False)
