"""Letters in plain words: one asks an owner for a place, one tells the neighbours."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from swarmwatch.evidence import Evidence
from swarmwatch.mapping.paper import MARGIN_MM
from swarmwatch.mapping.spots import Spot
from swarmwatch.sheets.box_facts import usual_volume_l
from swarmwatch.sheets.printing import Print

_TEXT_PT = 10.5
_SMALL_PT = 9.0
_GAP_MM = 2.6
_TICK_MM = 3.4
_SLIP_LINE_MM = 6.2
_SLIP_REST_MM = 42.0  # of the answer: its heading and the blanks below the ticks

_WHAT = (
    "I keep honey bees. In spring and early summer a colony may split: the old queen leaves with "
    "many of the bees to find a new home. That is a swarm. A bait box (UK: bait hive, US: swarm "
    "trap) is an empty wooden box of about {volume} litres with a small hole. It offers the swarm "
    "a home before it chooses a chimney or a wall."
)
_OWNER_DO = (
    "The box holds no bees when I hang it, only frames or bars and a scent that bees like. I look "
    "at it from the ground about every {every} days. If a swarm moves in, I take the box away at "
    "dusk, closed, as a rule within {within} days. I hang it where nobody has to pass close to the "
    "hole and strap it on without harm to tree or wall. You may change your mind at any time: "
    "call me and I come and take it away."
)
_OWNER_KNOW = (
    "What you should know: bees that look for a home seldom sting, but any bee can. Please tell "
    "me if anybody in the house is allergic to stings, or if children or animals play below the "
    "place: then I look for another one. Please leave the box alone, keep its hole open and "
    "spray nothing near it. If bees go in and out in numbers, keep away and call me."
)
_NEIGHBOUR_SEE = (
    (
        "A few bees at the box",
        "They look it over as a home and seldom sting. Let them fly.",
    ),
    (
        "A cloud of bees in the air, or a cluster on a branch",
        (
            "That is a swarm on its way. It looks and sounds wilder than it is, yet bees can "
            "sting: go indoors, close the windows, keep children and animals away, touch nothing, "
            "and call me."
        ),
    ),
    (
        "Many bees that go in and out of the box",
        (
            "A swarm has moved in. Keep away from the hole and call me. I take the box away at "
            "dusk, as a rule within {within} days."
        ),
    ),
)
_NEIGHBOUR_PLEASE = (
    "Please leave the box alone, keep its hole open, and spray nothing on it or on bees. Tell me "
    "if anybody near you is allergic to stings: then I hang the box elsewhere."
)
_STUNG = (
    "If somebody is stung and then breathes badly, swells in the face, comes out in a rash all "
    "over or feels faint: call the emergency number at once, before you call me."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What one owner is asked for: `owner` "" where nobody noted a name."""

    owner: str
    spots: tuple[Spot, ...]


def requests(spots: Sequence[Spot]) -> list[Request]:
    """Return one request an owner, for the spots that still lack a yes, best spot first.

    Spots without an owner's name are asked for one by one; a spot whose owner said no is not
    asked for again.
    """
    open_ = [s for s in spots if not s.allowed and not s.refused]
    named = dict.fromkeys(s.owner for s in open_ if s.owner)
    grouped = [
        Request(owner=owner, spots=tuple(s for s in open_ if s.owner == owner)) for owner in named
    ]
    lone = [Request(owner="", spots=(s,)) for s in open_ if not s.owner]
    return sorted([*grouped, *lone], key=lambda r: r.spots[0].rank)


def letters(
    spots: Sequence[Spot],
    evidence: Evidence,
    *,
    paper: str,
    on: date,
    put_out_on: date | None = None,
    take_down_on: date | None = None,
) -> bytes:
    """Write a letter to each owner who has not said yes, and one to the neighbours, as PDF.

    Where every owner said yes the letter to an owner has blanks in place of names, for the next.
    """
    sheet = Print(paper=paper, title="Letters about bait boxes", on=on)
    span = tuple("" if d is None else d.isoformat() for d in (put_out_on, take_down_on))
    for request in requests(spots) or [Request(owner="", spots=())]:
        _to_owner(sheet, request, evidence, span)
    _to_neighbours(sheet, evidence, span)
    foot = "Odds, not promises: nobody can say whether a swarm will come"
    return sheet.bytes(foot=foot)


def _numbers(evidence: Evidence) -> dict[str, str]:
    return {
        "volume": usual_volume_l(evidence),
        "every": f"{evidence.value('boxes.check_every_d'):.0f}",
        "within": f"{evidence.value('levels.move_within'):.0f}",
    }


def _to_owner(sheet: Print, request: Request, evidence: Evidence, span: Sequence[str]) -> None:
    numbers = _numbers(evidence)
    _opening(sheet, "May I hang an empty bait box at your place?")
    if request.owner:
        _say(sheet, f"Dear {request.owner},")
    else:
        sheet.blanks(["Dear"], size=_TEXT_PT)
        sheet.y += _GAP_MM
    _say(sheet, _WHAT.format_map(numbers))
    if request.spots:
        where = "here" if len(request.spots) == 1 else "at each of these places"
        _say(sheet, f"I would like to hang one {where}:")
        sheet.bullets([_place(s) for s in request.spots], size=_TEXT_PT)
        sheet.y += _GAP_MM
    else:
        sheet.blanks(["I would like to hang one here:"], size=_TEXT_PT)
    _span(sheet, span)
    _say(sheet, _OWNER_DO.format_map(numbers))
    _say(sheet, _OWNER_KNOW)
    _rules(sheet)
    sheet.y += 1
    _say(sheet, "Thank you for thinking about it.")
    sheet.blanks(["Signed", "Date"], size=_TEXT_PT)
    _slip(sheet, request)


def _place(spot: Spot) -> str:
    # a place that nobody owns by name was perhaps named by a map, which tells its owner little
    at = "" if spot.owner else f" ({spot.latitude:.5f}, {spot.longitude:.5f} on a map)"
    parts = [
        f"{spot.site}{at}",
        spot.height and f"its base {spot.height} above the ground",
        spot.facing and f"the hole to the {spot.facing}",
    ]
    return ", ".join(p for p in parts if p)


def _to_neighbours(sheet: Print, evidence: Evidence, span: Sequence[str]) -> None:
    numbers = _numbers(evidence)
    _opening(sheet, "To our neighbours: a bait box for honey bees hangs near you")
    _say(sheet, _WHAT.format_map(numbers))
    sheet.blanks(["One hangs at"], size=_TEXT_PT)
    _span(sheet, span)
    _say(sheet, "What you may see, and what to do:", bold=True)
    for heading, text in _NEIGHBOUR_SEE:
        sheet.paragraph(heading, size=_TEXT_PT, bold=True, gap_mm=0, indent_mm=4)
        sheet.paragraph(text.format_map(numbers), size=_TEXT_PT, gap_mm=_GAP_MM, indent_mm=4)
    _say(sheet, _NEIGHBOUR_PLEASE)
    _say(sheet, _STUNG, bold=True)
    sheet.blanks(["Emergency number here"], size=_TEXT_PT)
    _rules(sheet)
    sheet.y += 1
    _say(sheet, "The owner of the place has agreed. If you have a question, please call me.")
    sheet.blanks(["Signed", "Date"], size=_TEXT_PT)


def _opening(sheet: Print, title: str) -> None:
    sheet.turn()
    sheet.blanks(["From (name)", "Phone"], size=_TEXT_PT)
    sheet.blanks(["Address"], size=_TEXT_PT)
    sheet.y += 3
    sheet.paragraph(title, size=14, bold=True, gap_mm=3)


def _say(sheet: Print, text: str, *, bold: bool = False) -> None:
    sheet.paragraph(text, size=_TEXT_PT, bold=bold, gap_mm=_GAP_MM)


def _span(sheet: Print, span: Sequence[str]) -> None:
    if all(span):
        _say(sheet, f"It should hang from {span[0]} to {span[1]}.")
        return
    sheet.blanks(
        [f"It should hang from {span[0]}".rstrip(), f"to {span[1]}".rstrip()], size=_TEXT_PT
    )
    sheet.y += 1


def _rules(sheet: Print) -> None:
    """Leave room for what differs from place to place."""
    _say(sheet, "Local rules (the local authority or bee inspector knows them):")
    sheet.y -= _GAP_MM
    sheet.blanks(["Registration"], size=_SMALL_PT)
    sheet.blanks(["Rule or distance kept here", "Liability insurance"], size=_SMALL_PT)


def _slip(sheet: Print, request: Request) -> None:
    """Draw the answer to cut off at the foot of the page."""
    places = [s.site for s in request.spots] or ["my place"]
    answers = [*(f"Yes, you may hang a bait box at {p}" for p in places), "No, please not"]
    wide = sheet.inner_mm - 2 * _TICK_MM
    wrapped = [sheet.wrapped(a, width_mm=wide, size=_TEXT_PT) for a in answers]
    height = _SLIP_REST_MM + sum(len(lines) for lines in wrapped) * _SLIP_LINE_MM
    sheet.need(height)
    sheet.y = max(sheet.y, sheet.bottom_mm - height)
    sheet.pdf.set_dash_pattern(dash=2, gap=1.5)
    sheet.rule(x=MARGIN_MM, y=sheet.y + 2, to_x=MARGIN_MM + sheet.inner_mm)
    sheet.pdf.set_dash_pattern()
    sheet.y += 4
    sheet.paragraph("Cut here and give it back: your answer", size=_SMALL_PT, gap_mm=1)
    for lines in wrapped:
        sheet.frame(x=MARGIN_MM, y=sheet.y + 0.6, width_mm=_TICK_MM, height_mm=_TICK_MM)
        end = sheet.lines(lines, x=MARGIN_MM + 2 * _TICK_MM, y=sheet.y, size=_TEXT_PT)
        sheet.y = max(end, sheet.y + _SLIP_LINE_MM)
    sheet.blanks(["What to mind (gate, dog, allergy)"], size=_SMALL_PT)
    sheet.blanks(["Name", "Phone"], size=_SMALL_PT)
    sheet.blanks(["Signed", "Date"], size=_SMALL_PT)
