"""The page of the weekly round: one file to read on the phone, without network or script."""

from collections.abc import Iterable, Sequence
from datetime import date
from importlib import resources

from swarmwatch.mapping.escaping import safe
from swarmwatch.mapping.levels import MARKS
from swarmwatch.mapping.page_parts import mark_picture
from swarmwatch.sheets.round_facts import Apart, BoxVisit, Due, Round, Visit, day_words

# nothing is fetched and nothing runs: the page is text and its own style
_DOOR = "default-src 'none'; style-src 'unsafe-inline'"
_CAUTION = (
    "Odds, not promises: they do not replace opening the hive. Know your allergies, veil on, a "
    "second person and a phone within reach. Never climb for a swarm alone, and keep away from "
    "power lines. Brood that looks wrong: move no bees, comb, boxes or tools, clean your tools, "
    "and call the bee inspector or local authority."
)
_RANGE = (
    "The range in brackets holds 8 of 10 of the chances that fit what is known; the thick line "
    "draws it from 0 to 100 %, the ring is the chance itself."
)


def round_page(facts: Round, *, files: Sequence[tuple[str, str]] = ()) -> str:
    """Write the round as one HTML page.

    Parameters
    ----------
    facts
        What is to be done.
    files
        Names of files beside the page and what each is.

    Returns
    -------
    The page. The same facts give the same bytes; a keeper's text is only ever text in it.
    """
    style = (resources.files("swarmwatch.sheets") / "round_page.css").read_text(encoding="utf-8")
    title = f"Round of bees, evening of {day_words(facts.on)}"
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta http-equiv="Content-Security-Policy" content="{_DOOR}">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{safe(title)}</title>
<style>{style}</style>
</head>
<body>
<header>
<h1>{safe(title)}</h1>
<p>{safe(in_short(facts))}</p>
{"".join(f'<p class="soft">Weather of {safe(line)}.</p>' for line in facts.weather)}
</header>
<main>
{_due_section(facts.due)}
{_colony_section(facts.visits)}
{_box_section(facts.boxes)}
{_apart_section(facts.apart)}
{_file_section(files)}
</main>
<footer>
<h2>Before you go</h2>
<p>{_CAUTION}</p>
<p class="soft">{_RANGE} Chances count from the day after this evening.
<code>swarmwatch explain</code> walks through a colony's numbers and where each is from, and tells
what a word means.</p>
</footer>
</body>
</html>
"""


def in_short(facts: Round) -> str:
    """Say in a sentence or two how many need what."""
    if not facts.visits and not facts.boxes:
        return "No colony and no bait box is on record."
    count = {level: sum(v.level == level for v in facts.visits) for level in MARKS}
    named = [f"{count[x]} {MARKS[x].word}" for x in reversed(MARKS) if count[x]]
    colonies = _number(len(facts.visits), "colony", "colonies")
    text = f"{colonies}: {', '.join(named)}." if named else f"{colonies}."
    if facts.boxes:
        lived_in = sum(b.occupied for b in facts.boxes)
        text += f" {_number(len(facts.boxes), 'bait box', 'bait boxes')}"
        text += f", {lived_in} with bees." if lived_in else "."
    return text


def _text(text: str) -> str:
    """Return a text for the page in which a number keeps its sign beside it."""
    return safe(text).replace(" %", "&nbsp;%")


def _number(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"


def _due_section(due: Sequence[Due]) -> str:
    days = "".join(_day(d) for d in due)
    return f"<h2>By when</h2>\n{days or '<p>Nothing falls due.</p>'}"


def _day(due: Due) -> str:
    lines = [
        *_linked("", [(v, f"colony-{v.rank}") for v in due.act]),
        *_linked("Open next, ", [(v, f"colony-{v.rank}") for v in due.look]),
    ]
    if due.boxes:
        names = ", ".join(f'<a href="#boxes">{safe(b.box)}</a>' for b in due.boxes)
        lines.append(f"<li>Bait boxes: {names}</li>")
    if due.apart:
        names = ", ".join(f'<a href="#apart">{safe(a.colony)}</a>' for a in due.apart)
        lines.append(f"<li>Caught colonies: {names}</li>")
    return f'<div class="day"><h3>By {day_words(due.by)}</h3><ul>{"".join(lines)}</ul></div>\n'


def _linked(what: str, visits: Iterable[tuple[Visit, str]]) -> list[str]:
    by_yard: dict[str, list[str]] = {}
    for visit, anchor in visits:
        level = "" if visit.level == "quiet" else f" ({MARKS[visit.level].word})"
        name = f'<a href="#{anchor}">{safe(visit.colony)}</a>{level}'
        by_yard.setdefault(visit.apiary, []).append(name)
    return [f"<li>{what}{safe(yard)}: {', '.join(n)}</li>" for yard, n in by_yard.items()]


def _colony_section(visits: Sequence[Visit]) -> str:
    if not visits:
        return "<h2>Colonies</h2>\n<p>No living colony is on record.</p>"
    loud, quiet = [v for v in visits if not v.waits], [v for v in visits if v.waits]
    parts = [
        "<h2>Colonies, in the order of what a visit is worth</h2>",
        '<p class="soft">First those where a look can foresee most swarms.</p>',
    ]
    if loud:
        parts.append(f"<ol>{''.join(map(_entry, loud))}</ol>")
    if quiet:
        heading = "Quiet for now" if loud else "All quiet for now"
        parts.append(f'<h3>{heading}</h3><ol class="plain">{"".join(map(_line, quiet))}</ol>')
    return "\n".join(parts)


def _entry(visit: Visit) -> str:
    mark = MARKS[visit.level]
    by = "" if visit.do_by is None else f" by {day_words(visit.do_by)}"
    look = "" if visit.look_by is None else f"<p>Open next by {day_words(visit.look_by)}.</p>"
    reasons = "".join(f"<li>{_text(r)}</li>" for r in visit.reasons)
    return (
        f'<li class="entry" id="colony-{visit.rank}"><div class="head">'
        f'<span class="mark">{mark_picture(mark)}</span>'
        f"<h3>{visit.rank}. {safe(visit.colony)}, {safe(visit.apiary)}: {mark.word}</h3></div>"
        f"<p>{_text(visit.chance)}</p>{_span(visit)}"
        f'<p class="do"><strong>Do{by}:</strong> {_text(visit.do)}</p>{look}'
        f"<details><summary>Why {safe(visit.colony)}, and how sure</summary>"
        f"<ul>{reasons}</ul>{_if_any(visit.later)}"
        f'<p class="soft">Worth a visit: {_text(visit.worth)}. {_looked(visit)}</p>'
        "</details></li>\n"
    )


def _if_any(later: str) -> str:
    return f"<p>{_text(later)}.</p>" if later else ""


def _looked(visit: Visit) -> str:
    if visit.inspected_on is None:
        return "Not inspected yet."
    return f"Last inspection: {visit.inspected_on.isoformat()}."


def _span(visit: Visit) -> str:
    """Draw chance and range from 0 to 100 %; the words beside it say the same."""
    # where it has probably left, the chance that is left speaks of few cases
    if visit.chance.startswith(("has swarmed", "probably")):
        return ""
    low, p, high = (10 + 280 * x for x in (visit.p_7d_low, visit.p_7d, visit.p_7d_high))
    return (
        '<svg class="span" viewBox="0 0 300 16" preserveAspectRatio="xMinYMid meet" '
        'aria-hidden="true"><line class="track" x1="10" y1="8" x2="290" y2="8"/>'
        f'<line class="range" x1="{low:.1f}" y1="8" x2="{high:.1f}" y2="8"/>'
        f'<circle class="dot" cx="{p:.1f}" cy="8" r="5"/></svg>'
    )


def _line(visit: Visit) -> str:
    when = "" if visit.look_by is None else f" Open next by {day_words(visit.look_by)}."
    return (
        f'<li id="colony-{visit.rank}">{visit.rank}. <strong>{safe(visit.colony)}</strong>, '
        f"{safe(visit.apiary)}: {_text(visit.chance)}.{when}</li>\n"
    )


def _box_section(boxes: Sequence[BoxVisit]) -> str:
    if not boxes:
        return ""
    items = "".join(
        f"<li><strong>{safe(b.box)}</strong>{_at(b.site)}: {safe(b.state)}. "
        f"{_by(b.do_by)}{safe(b.do)}.</li>\n"
        for b in boxes
    )
    return (
        f'<h2 id="boxes">Bait boxes</h2>\n<ul class="plain">{items}</ul>'
        '<p class="soft">Bait box: also bait hive or swarm trap. Look from the ground. An occupied '
        "box is heavy: two people, and movement rules asked first; "
        "<code>swarmwatch box</code> tells the steps.</p>"
    )


def _at(site: str) -> str:
    return f", {safe(site)}" if site else ""


def _by(day: date | None) -> str:
    return "" if day is None else f"By {day_words(day)}: "


def _apart_section(apart: Sequence[Apart]) -> str:
    if not apart:
        return ""
    items = "".join(
        f"<li><strong>{safe(a.colony)}</strong> (caught {a.caught_on.isoformat()}): "
        f"{_by(a.do_by)}{safe(a.do)}.</li>\n"
        for a in apart
    )
    return f'<h2 id="apart">Caught colonies kept apart</h2>\n<ul class="plain">{items}</ul>'


def _file_section(files: Sequence[tuple[str, str]]) -> str:
    if not files:
        return ""
    items = "".join(f'<li><a href="{safe(n)}">{safe(n)}</a>: {safe(w)}</li>' for n, w in files)
    return f'<h2>To print and to keep</h2>\n<ul class="plain">{items}</ul>'
