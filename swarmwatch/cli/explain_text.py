"""How do a score's steps, words of the trade and a season read on a terminal?"""

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from swarmwatch.sheets.round_facts import day_words
from swarmwatch.wording import one_line, per_cent

if TYPE_CHECKING:
    from swarmwatch.evidence import Entry, Evidence
    from swarmwatch.sheets.explain import Step
    from swarmwatch.sheets.glossary import Word
    from swarmwatch.sheets.season_calendar import SeasonCalendar
    from swarmwatch.swarming.walk_facts import Walk

_WIDTH = 96
_KEPT = "\u00a0%"
# a week's share of swarms as a bar: one mark for so much
_A_MARK = 0.01
_ODDS = "Odds, not promises: they do not replace opening the hive."


def walk_as_text(colony: str, walk: "Walk", steps: "Sequence[Step]", evidence: "Evidence") -> str:
    """Return the steps of one colony's score, each with the numbers behind it."""
    head = f"{one_line(colony)} ({one_line(walk.apiary)}), evening of {day_words(walk.on)}"
    parts = [[head, "The score walked through, step by step."]]
    for number, step in enumerate(steps, start=1):
        lines = [f"{number}. {step.title}"]
        for said in step.said:
            later = "     " if said.startswith("- ") else "   "
            lines += _wrapped(said, first="   ", later=later)
        lines += _table(step.table)
        for key in step.keys:
            lines += _wrapped(_number(evidence[key]), first="   . ", later="     ")
        parts.append(lines)
    parts.append(
        _wrapped(
            f"{_ODDS} Lines with a dot are numbers behind a step: value, range, how sure, from "
            "where. A word you don't know: `swarmwatch explain WORD`."
        )
    )
    return "\n\n".join("\n".join(part) for part in parts)


def walk_as_json(steps: "Sequence[Step]", evidence: "Evidence") -> list[dict[str, object]]:
    """Return the steps for a JSON document."""
    fields = ("key", "value", "unit", "low", "high", "grade", "source")
    return [
        {
            "title": step.title,
            "said": list(step.said),
            "table": [list(row) for row in step.table],
            "numbers": [{f: getattr(evidence[key], f) for f in fields} for key in step.keys],
        }
        for step in steps
    ]


def words_as_text(words: "Sequence[Word]") -> str:
    """Return words with their meaning."""
    return "\n\n".join("\n".join(_word(word)) for word in words)


def seasons_as_text(calendars: "Sequence[SeasonCalendar]", evidence: "Evidence") -> str:
    """Return an average year of each yard; yards with the same weeks are told together."""
    from swarmwatch.sheets.season_calendar import KEYS

    alike: dict[tuple[object, ...], list[SeasonCalendar]] = {}
    for calendar in calendars:
        alike.setdefault((calendar.peak_on, calendar.early, calendar.weeks), []).append(calendar)
    parts = [_season(same) for same in alike.values()]
    numbers = [_wrapped(_number(evidence[key]), first="   . ", later="     ") for key in KEYS]
    parts.append(["Numbers behind it:", *(line for lines in numbers for line in lines)])
    parts.append([_ODDS])
    return "\n\n".join("\n".join(part) for part in parts)


def _season(same: "Sequence[SeasonCalendar]") -> list[str]:
    one = same[0]
    names = ", ".join(one_line(c.apiary) for c in same)
    lines = _wrapped(
        f"{names}: most prime swarms leave about {day_words(one.peak_on)}, with eight chances in "
        f"ten between {one.early.isoformat()} and {one.late.isoformat()}. An average year by "
        "weeks, with the share of its prime swarms:"
    )
    for week in one.weeks:
        bar = "#" * round(week.share / _A_MARK)
        shares = f"{per_cent(week.share):>10}  by then {per_cent(week.by_then):<10}"
        lines.append(f"  {day_words(week.monday)}  {shares} {bar}".rstrip())
        for to_do in week.to_do:
            lines += _wrapped(to_do, first="      ", later="        ")
    return lines


def _word(word: "Word") -> list[str]:
    also = [a for a in word.also if "_" not in a and "-" not in a]
    other = f" (also: {', '.join(also)})" if also else ""
    return _wrapped(f"{word.word}{other}", later="    ") + _wrapped(
        word.means, first="  ", later="  "
    )


def _table(rows: "Sequence[tuple[str, ...]]") -> list[str]:
    if not rows:
        return []
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "     " + "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def _number(entry: "Entry") -> str:
    unit = "" if entry.unit in ("1", "text") else f" {entry.unit}"
    span = "" if entry.low == entry.high else f" ({entry.low:g} to {entry.high:g})"
    source = "" if entry.source == "none" else f"; {entry.source}"
    return f"{entry.key} = {entry.value:g}{unit}{span}: {entry.grade}{source}"


def _wrapped(text: str, *, first: str = "", later: str = "") -> list[str]:
    # a number keeps its sign beside it
    kept = one_line(text).replace(" %", _KEPT)
    lines = textwrap.wrap(kept, _WIDTH, initial_indent=first, subsequent_indent=later)
    return [line.replace(_KEPT, " %") for line in lines]
