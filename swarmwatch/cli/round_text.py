"""How does a round read on a terminal?"""

import textwrap
from typing import TYPE_CHECKING

from swarmwatch.sheets.round_facts import day_words
from swarmwatch.sheets.round_page import in_short
from swarmwatch.wording import one_line

if TYPE_CHECKING:
    import pandas as pd

    from swarmwatch.sheets.round_facts import Due, Round, Visit

_WIDTH = 96
_KEPT = "\u00a0%"


def round_as_text(facts: "Round") -> str:
    """Return the round in short: who needs what by when, in the order of visits."""
    lines = [f"Round, evening of {day_words(facts.on)}"]
    lines += [f"Weather of {one_line(w)}" for w in facts.weather]
    lines += ["", *_wrapped(in_short(facts), "")]
    if facts.due:
        lines += ["", "By when:", *(line for due in facts.due for line in _due(due))]
    loud = [v for v in facts.visits if not v.waits]
    for visit in loud:
        lines += ["", *_visit(visit)]
    quiet = [f"{v.colony}{_open_next(v)}" for v in facts.visits if v.waits]
    if quiet:
        lines += ["", *_wrapped(f"Quiet: {', '.join(quiet)}.", "    ")]
    for box in facts.boxes:
        by = "" if box.do_by is None else f", by {day_words(box.do_by)}"
        at = f" at {box.site}" if box.site else ""
        lines += ["", *_wrapped(f"Bait box {box.box}{at}: {box.state}; {box.do}{by}", "    ")]
    for apart in facts.apart:
        by = "" if apart.do_by is None else f", by {day_words(apart.do_by)}"
        lines += ["", *_wrapped(f"Caught colony {apart.colony}: {apart.do}{by}", "    ")]
    return "\n".join([*lines, "", "Odds, not promises: they do not replace opening the hive."])


def visits_frame(facts: "Round") -> "pd.DataFrame":
    """Return the visits as a table, in their order."""
    import pandas as pd

    columns = ("rank", "colony", "apiary", "level", "chance", "do", "do_by", "look_by")
    rows = [[getattr(v, c) for c in columns] for v in facts.visits]
    frame = pd.DataFrame(rows, columns=list(columns))
    return frame.assign(**{c: pd.to_datetime(frame[c]) for c in ("do_by", "look_by")})


def _due(due: "Due") -> list[str]:
    parts = [v.colony for v in due.act]
    if due.look:
        parts.append(f"open next {', '.join(v.colony for v in due.look)}")
    parts += [f"bait box {b.box}" for b in due.boxes]
    parts += [f"caught colony {a.colony}" for a in due.apart]
    return _wrapped(f"{day_words(due.by)}: {', '.join(parts)}", "    ", first="  ")


def _visit(visit: "Visit") -> list[str]:
    by = "" if visit.do_by is None else f" by {day_words(visit.do_by)}"
    head = f"{visit.rank:>3}. {visit.colony} ({visit.apiary}): {visit.level}, {visit.chance}"
    return [*_wrapped(head, "     "), *_wrapped(f"     do{by}: {visit.do}", "     ", first="     ")]


def _open_next(visit: "Visit") -> str:
    return "" if visit.look_by is None else f" (open next by {visit.look_by.isoformat()})"


def _wrapped(text: str, later: str, *, first: str = "") -> list[str]:
    # a number keeps its sign beside it
    kept = one_line(text).replace(" %", _KEPT)
    lines = textwrap.wrap(kept, _WIDTH, initial_indent=first, subsequent_indent=later)
    return [line.replace(_KEPT, " %") for line in lines]
