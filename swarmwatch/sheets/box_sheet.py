"""The box sheet: all that is to be known and noted at one spot, on one page."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from swarmwatch.evidence import Evidence
from swarmwatch.mapping.paper import MARGIN_MM, line_mm
from swarmwatch.mapping.safety import ground_checks, safety_lines
from swarmwatch.mapping.spots import Spot
from swarmwatch.sheets.box_facts import BAIT_BOX, BoxFacts
from swarmwatch.sheets.printing import Print

_LABEL_PT = 7.0
_VALUE_PT = 9.5
_SMALL_PT = 8.0
_PAD_MM = 1.4
_CELL_LEAST_MM = 10.0
_ROW_MM = 7.5
_ROWS_LEAST, _ROWS_MOST = 5, 14
_HEADING_MM = 34.0
# of the page's width
_CHECK_COLUMNS = (
    ("Date", 0.12),
    ("Scouts at once", 0.12),
    ("Pollen carried in", 0.12),
    ("Bees live in it", 0.12),
    ("Tenant: ants, wasps, wax moth, bird, bat", 0.2),
    ("Note", 0.32),
)
_LEFT_OUT = {"Odds, not promises"}  # stands at the foot of every page


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxPage:
    """What one page says; dates are None and `stop` "" where nothing is known."""

    spot: Spot
    facts: BoxFacts
    stop: str
    put_out_on: date | None
    take_down_on: date | None


def box_sheets(pages: Sequence[BoxPage], evidence: Evidence, *, paper: str, on: date) -> bytes:
    """Draw a sheet for each spot as PDF, best first; one page says so where there is none."""
    sheet = Print(paper=paper, title="Bait box sheets", on=on)
    for page in pages:
        _draw(sheet, page, evidence)
    if not pages:
        sheet.turn()
        sheet.paragraph("No spot was chosen, so there is no bait box sheet.", size=12)
    return sheet.bytes(foot=f"swarmwatch, made on {on.isoformat()}: odds, not promises")


def _draw(sheet: Print, page: BoxPage, evidence: Evidence) -> None:
    sheet.turn()
    _head(sheet, page.spot)
    for widths, cells in _form(page):
        _cells(sheet, widths, cells)
    sheet.y += 2.5
    if page.spot.warnings:
        _heading(sheet, "Mind at this spot")
        minded = "; ".join(page.spot.warnings)
        sheet.paragraph(f"{minded[0].upper()}{minded[1:]}.", size=_SMALL_PT, gap_mm=2)
    _safety(sheet, evidence)
    _checks(sheet, evidence)


def _head(sheet: Print, spot: Spot) -> None:
    radius = 6.5
    middle = sheet.y + radius
    sheet.pdf.set_draw_color(0)
    sheet.pdf.set_line_width(0.7)
    sheet.pdf.circle(x=MARGIN_MM + radius, y=middle, radius=radius)
    number = str(spot.rank)
    size = 17.0 if len(number) < 3 else 11.0
    top = middle - line_mm(size) / 2 + 0.4
    sheet.lines([number], x=MARGIN_MM + radius, y=top, size=size, bold=True, middle=True)
    left = MARGIN_MM + 2 * radius + 4
    width = sheet.inner_mm - 2 * radius - 4
    sheet.lines([f"{BAIT_BOX}: sheet for one spot"], x=left, y=sheet.y - 0.8, size=_SMALL_PT)
    name = sheet.wrapped(spot.site, width_mm=width, size=15, bold=True)
    end = sheet.lines(name, x=left, y=sheet.y + 3.4, size=15, bold=True)
    sheet.y = max(end, middle + radius) + 2.5


def _form(page: BoxPage) -> list[tuple[tuple[float, ...], list[tuple[str, str]]]]:
    """Return the rows of the form: shares of the width, and names with what is known."""
    spot, facts = page.spot, page.facts
    chance = f"; {spot.chance} for one or more" if spot.chance else ""
    height = f"{spot.height} above the ground" if spot.height else ""
    return [
        (
            (0.2, 0.34, 0.26, 0.2),
            [
                ("Bait box", facts.box),
                ("Volume", facts.volume),
                ("Height of its base", height),
                ("Shade", spot.shade),
            ],
        ),
        (
            (0.54, 0.26, 0.2),
            [
                ("Entrance", facts.entrance),
                ("Entrance faces", spot.facing),
                ("Lure", facts.lure),
            ],
        ),
        (
            (0.7, 0.3),
            [
                ("Goes inside (common practice, no source)", facts.inside),
                ("Lure put in, renewed on", ""),
            ],
        ),
        (
            (0.34, 0.36, 0.3),
            [("Permission", spot.permission), ("Owner", spot.owner), ("Owner's phone", "")],
        ),
        (
            (0.2, 0.2, 0.6),
            [
                ("Put out from", _day(page.put_out_on)),
                ("Take down by", _day(page.take_down_on)),
                ("Swarms to expect a season", f"{spot.expected}{chance}"),
            ],
        ),
        (
            (0.3, 0.35, 0.35),
            [
                ("Latitude, longitude", f"{spot.latitude:.6f}, {spot.longitude:.6f}"),
                ("Nearest source of swarms", spot.nearest),
                ("On the walk", page.stop),
            ],
        ),
        *([((1.0,), [("Note on this place", spot.note)])] if spot.note else []),
        (
            (0.2, 0.3, 0.2, 0.3),
            [("Hung on", ""), ("By", ""), ("Taken down on", ""), ("Bees moved on, to", "")],
        ),
    ]


def _day(day: date | None) -> str:
    return "" if day is None else day.isoformat()


def _cells(sheet: Print, widths: Sequence[float], cells: Sequence[tuple[str, str]]) -> None:
    """Draw a row of named boxes of one height: the pencil goes where nothing is printed."""
    inner = [w * sheet.inner_mm - 2 * _PAD_MM for w in widths]
    texts = [
        sheet.wrapped(value, width_mm=width, size=_VALUE_PT)
        for (_, value), width in zip(cells, inner, strict=True)
    ]
    most = max(len(lines) for lines in texts)
    height = max(_CELL_LEAST_MM, line_mm(_LABEL_PT) + most * line_mm(_VALUE_PT) + 2 * _PAD_MM)
    sheet.need(height)
    x = float(MARGIN_MM)
    for (name, _), lines, share in zip(cells, texts, widths, strict=True):
        width = share * sheet.inner_mm
        sheet.frame(x=x, y=sheet.y, width_mm=width, height_mm=height)
        left, top = x + _PAD_MM, sheet.y + 0.8
        under = sheet.lines([name], x=left, y=top, size=_LABEL_PT, grey=True)
        sheet.lines(lines, x=left, y=under + 0.3, size=_VALUE_PT)
        x += width
    sheet.y += height


def _heading(sheet: Print, text: str) -> None:
    sheet.need(line_mm(10) * 2)
    sheet.y = sheet.lines([text], x=MARGIN_MM, y=sheet.y, size=10, bold=True) + 0.4


def _safety(sheet: Print, evidence: Evidence) -> None:
    rows = [
        (h, sheet.wrapped(t, width_mm=sheet.inner_mm - _HEADING_MM, size=_SMALL_PT))
        for h, t in safety_lines(evidence)
        if h not in _LEFT_OUT
    ]
    rows.append(
        (
            "Checks",
            sheet.wrapped(
                ground_checks(evidence), width_mm=sheet.inner_mm - _HEADING_MM, size=_SMALL_PT
            ),
        )
    )
    tall = sum(len(lines) for _, lines in rows) * line_mm(_SMALL_PT) + 0.6 * len(rows)
    sheet.need(tall + 5)
    _heading(sheet, "Before you go")
    for heading, lines in rows:
        sheet.lines([heading], x=MARGIN_MM, y=sheet.y, size=_SMALL_PT, bold=True)
        sheet.y = sheet.lines(lines, x=MARGIN_MM + _HEADING_MM, y=sheet.y, size=_SMALL_PT) + 0.6
    sheet.y += 2


def _checks(sheet: Print, evidence: Evidence) -> None:
    """Rule the table of checks down to the foot of the page."""
    widths = [share * sheet.inner_mm for _, share in _CHECK_COLUMNS]
    heads = [
        sheet.wrapped(name, width_mm=width - 2 * _PAD_MM, size=_LABEL_PT, bold=True)
        for (name, _), width in zip(_CHECK_COLUMNS, widths, strict=True)
    ]
    head_mm = max(len(lines) for lines in heads) * line_mm(_LABEL_PT) + 1.6
    word = sheet.wrapped(_check_words(evidence), width_mm=sheet.inner_mm, size=_SMALL_PT)
    lead_mm = line_mm(10) + 0.4 + len(word) * line_mm(_SMALL_PT) + 1
    sheet.need(lead_mm + head_mm + _ROWS_LEAST * _ROW_MM)
    _heading(sheet, "Checks")
    sheet.y = sheet.lines(word, x=MARGIN_MM, y=sheet.y, size=_SMALL_PT) + 1
    rows = min(_ROWS_MOST, int((sheet.room() - head_mm) // _ROW_MM))
    x = float(MARGIN_MM)
    for lines, width in zip(heads, widths, strict=True):
        sheet.pdf.set_fill_color(235)
        sheet.pdf.rect(x, sheet.y, width, head_mm, style="F")
        sheet.frame(x=x, y=sheet.y, width_mm=width, height_mm=head_mm)
        sheet.lines(lines, x=x + _PAD_MM, y=sheet.y + 0.8, size=_LABEL_PT, bold=True)
        for row in range(rows):
            top = sheet.y + head_mm + row * _ROW_MM
            sheet.frame(x=x, y=top, width_mm=width, height_mm=_ROW_MM)
        x += width
    sheet.y += head_mm + rows * _ROW_MM


def _check_words(evidence: Evidence) -> str:
    every = evidence.value("boxes.check_every_d")
    scouts = evidence.value("levels.scouts_quorum")
    within = evidence.value("levels.move_within")
    return (
        f"Look every {every:.0f} days in the season. Leave blank what you did not look at; 0 and "
        f"no mean looked and none. {scouts:.0f} scouts or more at once: look again the next day. "
        f"Pollen carried in: bees live in it; plan the move within {within:.0f} days (common "
        "practice, no source). A bird or bat inside: leave it alone."
    )
