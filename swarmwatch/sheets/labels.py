"""Labels to cut out: what a bait box is, whose it is, and what not to do to it."""

from collections.abc import Sequence
from datetime import date

from swarmwatch.mapping.paper import MARGIN_MM
from swarmwatch.sheets.printing import Print

_COLUMNS = 2
_GAP_MM = 6.0  # between labels, for the cut
_MARK_FROM_MM, _MARK_TO_MM = 0.8, 2.6  # a cut mark, from the corner outward
_HEIGHT_MM = 56.0
_PAD_MM = 4.0


def labels(boxes: Sequence[str], *, paper: str, on: date) -> bytes:
    """Draw a label for each bait box and fill the last page with labels without a name, as PDF."""
    sheet = Print(paper=paper, title="Bait box labels", on=on)
    rows = int((sheet.bottom_mm - MARGIN_MM + _GAP_MM) // (_HEIGHT_MM + _GAP_MM))
    width = (sheet.inner_mm - (_COLUMNS - 1) * _GAP_MM) / _COLUMNS
    a_page = rows * _COLUMNS
    spare = -len(boxes) % a_page or (0 if boxes else a_page)
    for number, box in enumerate([*boxes, *[""] * spare]):
        place = number % a_page
        if place == 0:
            sheet.turn()
        x = MARGIN_MM + place % _COLUMNS * (width + _GAP_MM)
        y = MARGIN_MM + place // _COLUMNS * (_HEIGHT_MM + _GAP_MM)
        _cut_marks(sheet, x, y, width)
        _label(sheet, box, x, y, width)
    foot = "Cut along the marks; cover with clear tape against rain"
    return sheet.bytes(foot=foot)


def _cut_marks(sheet: Print, x: float, y: float, width: float) -> None:
    sheet.pdf.set_draw_color(0)
    sheet.pdf.set_line_width(0.15)
    for across, outward in ((x, -1), (x + width, 1)):
        for down, away in ((y, -1), (y + _HEIGHT_MM, 1)):
            near, far = outward * _MARK_FROM_MM, outward * _MARK_TO_MM
            sheet.pdf.line(across + near, down, across + far, down)
            near, far = away * _MARK_FROM_MM, away * _MARK_TO_MM
            sheet.pdf.line(across, down + near, across, down + far)


def _label(sheet: Print, box: str, x: float, y: float, width: float) -> None:
    middle, inner = x + width / 2, width - 2 * _PAD_MM
    sheet.frame(x=x + 1.5, y=y + 1.5, width_mm=width - 3, height_mm=_HEIGHT_MM - 3)
    at = sheet.lines(["BAIT BOX"], x=middle, y=y + 3, size=20, bold=True, middle=True)
    at = sheet.lines(["for honey bees"], x=middle, y=at - 0.8, size=11, middle=True)
    at = sheet.lines(
        ["Please leave alone. Do not spray."], x=middle, y=at + 0.8, size=11, bold=True, middle=True
    )
    at = sheet.lines(["Bees inside? Keep away and call me:"], x=middle, y=at, size=8.5, middle=True)
    for name in ("Name", "Phone"):
        sheet.lines([name], x=x + _PAD_MM, y=at + 2.2, size=9)
        sheet.rule(x=x + _PAD_MM + 13, y=at + 6.4, to_x=x + width - _PAD_MM)
        at += 7.6
    own = f"Bait box {box}" if box else "Bait box ........"
    own = sheet.fitted(own, width_mm=inner / 2, size=8, bold=True)
    end = x + width - _PAD_MM - sheet.wide(own, size=8, bold=True)
    sheet.lines([own], x=end, y=y + _HEIGHT_MM - 6.2, size=8, bold=True)
    sheet.lines(["UK: bait hive, US: swarm trap"], x=x + _PAD_MM, y=y + _HEIGHT_MM - 5.8, size=6.5)
