"""The inspection sheet: what to look at in each hive of a yard, last values greyed beside it."""

from collections.abc import Hashable, Mapping, Sequence
from datetime import date
from typing import Any

import pandas as pd

from swarmwatch.mapping.levels import MARKS
from swarmwatch.mapping.paper import MARGIN_MM, line_mm
from swarmwatch.records.inspecting import has_bars
from swarmwatch.sheets.inspection_fields import Field, Row, last_words, rows_of
from swarmwatch.sheets.printing import Print
from swarmwatch.sheets.round_facts import BoxVisit, Round, Visit, day_words
from swarmwatch.swarming.notes import known_rows
from swarmwatch.swarming.what_if import last_visits

_LABEL_PT = 6.5
_WORD_PT = 8.0
_LAST_PT = 8.0
_TEXT_PT = 8.0
_NAME_PT = 12.0
_ROW_MM = 8.4
_WHERE_MM = 19.0
_PAD_MM = 1.0
# words to circle stand as far apart as the box allows: a pencil in a glove needs room
_BETWEEN_WORDS_MM = (2.2, 7.0)
_HEAVY_MM = 0.3
_GAP_MM = 4.0
_BOX_ROW_MM = 8.4
_NOTE_MM = 11.0
_BOX_COLUMNS = (
    ("Bait box, site", 0.24),
    ("State, what to do, by when", 0.34),
    ("Scouts at once", 0.12),
    ("Pollen carried in", 0.1),
    ("Bees live in it", 0.1),
    ("Tenant", 0.1),
)
_HOW = (
    "Circle a word or write a number. Leave blank what you did not look at; 0 and none mean looked "
    "and found none. Grey is what was noted last. A quarter of a comb or bar is fine."
)
_CARE = (
    "Veil on, a second person and a phone within reach, two people for a heavy box. Brood that "
    "looks wrong: stop, move no bees, comb, boxes or tools, clean your tools, call the bee "
    "inspector or local authority."
)
_DONE = (
    "Done now: room added __   comb added __   split   queen moved   cells left __   "
    "cells removed   other:"
)


def inspection_sheets(
    facts: Round, frames: Mapping[str, pd.DataFrame], *, paper: str = "a4"
) -> bytes:
    """Draw the sheets of a round as PDF, each yard on pages of its own.

    Parameters
    ----------
    facts
        The round; a yard's colonies stand in its order.
    frames
        The keeper's tables by name; `colonies`, `inspections` and `hives` are read.
    paper
        "a4" or "letter".

    Returns
    -------
    The PDF; the same facts and tables give the same bytes.

    Raises
    ------
    UsageError
        `paper` is not known.
    """
    sheet = Print(paper=paper, title="Inspection sheets", on=facts.on)
    ruler = _Ruler(sheet)
    last = _last(frames["inspections"], facts.on)
    bars = _on_bars(frames)
    yards = dict.fromkeys(v.apiary for v in facts.visits)
    for yard in yards:
        here = [v for v in facts.visits if v.apiary == yard]
        sheet.turn()
        _head(sheet, yard, here)
        for visit in here:
            rows = rows_of(bars=bars.get(visit.colony, False))
            _colony(ruler, visit, rows, last.get(visit.colony), facts.on)
    if facts.boxes:
        sheet.turn()
        _boxes(sheet, facts.boxes)
    if not yards and not facts.boxes:
        sheet.turn()
        sheet.paragraph("No colony is on record, so there is nothing to inspect.", size=12)
    return sheet.bytes(foot=f"swarmwatch, evening of {facts.on.isoformat()}: odds, not promises")


class _Ruler:
    """A sheet whose short texts are measured once: each colony's form holds the same ones."""

    def __init__(self, sheet: Print) -> None:
        self.sheet = sheet
        self._known: dict[tuple[str, float, bool], float] = {}

    def wide(self, text: str, *, size: float, bold: bool = False) -> float:
        """Return the width of a line [mm]."""
        key = (text, size, bold)
        if key not in self._known:
            self._known[key] = self.sheet.wide(text, size=size, bold=bold)
        return self._known[key]

    def fitted(self, text: str, *, width_mm: float, size: float, bold: bool) -> str:
        """Return one of our own labels, shortened where it is too wide."""
        if self.wide(text, size=size, bold=bold) <= width_mm:
            return text
        return self.sheet.fitted(text, width_mm=width_mm, size=size, bold=bold)

    def wrapped(self, text: str, *, width_mm: float, size: float) -> list[str]:
        """Return one of our own bold labels on lines that fit."""
        if self.wide(text, size=size, bold=True) <= width_mm:
            return [text] if text else []
        return self.sheet.wrapped(text, width_mm=width_mm, size=size, bold=True)


def _last(inspections: pd.DataFrame, on: date) -> dict[str, Mapping[Hashable, Any]]:
    rows = last_visits(known_rows(inspections, "inspections", on))
    return {str(row["colony"]): row for row in rows.to_dict("records")}


def _on_bars(frames: Mapping[str, pd.DataFrame]) -> dict[str, bool]:
    """Say of each colony whether it lives on bars; asked once for each hive type."""
    first = frames["colonies"].drop_duplicates("hive_type")
    known = {str(row["hive_type"]): has_bars(row, frames["hives"]) for _, row in first.iterrows()}
    pairs = zip(frames["colonies"]["colony"], frames["colonies"]["hive_type"], strict=True)
    return {str(colony): known[str(kind)] for colony, kind in pairs}


def _head(sheet: Print, yard: str, visits: Sequence[Visit]) -> None:
    count = f"{len(visits)} {'colony' if len(visits) == 1 else 'colonies'}"
    sheet.paragraph(f"{yard}: inspection sheet, {count}", size=15, bold=True)
    sheet.blanks(("Date", "From, to", "By", "Weather"), size=9)
    sheet.paragraph(_HOW, size=_TEXT_PT)
    sheet.paragraph(_CARE, size=_TEXT_PT, gap_mm=3)


def _colony(
    ruler: _Ruler,
    visit: Visit,
    rows: Sequence[Row],
    last: Mapping[Hashable, Any] | None,
    on: date,
) -> None:
    """Draw one colony's form; it stays on one page."""
    sheet = ruler.sheet
    words = sheet.wrapped(_to_do(visit), width_mm=sheet.inner_mm, size=_TEXT_PT)
    head_mm = line_mm(_NAME_PT) + (len(words) + 1) * line_mm(_TEXT_PT) + 1.5
    sheet.need(head_mm + len(rows) * _ROW_MM + _NOTE_MM)
    told = f"{MARKS[visit.level].word}, {visit.chance}"
    told_mm = sheet.wide(told, size=9)
    name = sheet.fitted(
        f"{visit.rank}. {visit.colony}",
        width_mm=sheet.inner_mm - told_mm - 4,
        size=_NAME_PT,
        bold=True,
    )
    sheet.lines([told], x=MARGIN_MM + sheet.inner_mm - told_mm, y=sheet.y + 0.9, size=9)
    sheet.y = sheet.lines([name], x=MARGIN_MM, y=sheet.y, size=_NAME_PT, bold=True)
    sheet.y = sheet.lines(words, x=MARGIN_MM, y=sheet.y, size=_TEXT_PT)
    sheet.y = sheet.lines([_looked(last, on)], x=MARGIN_MM, y=sheet.y, size=_TEXT_PT, grey=True)
    sheet.y += 1.5
    for row in rows:
        _row(ruler, row, last)
    _note_row(sheet)
    sheet.y += _GAP_MM


def _to_do(visit: Visit) -> str:
    by = "" if visit.do_by is None else f" by {day_words(visit.do_by)}"
    return f"Do{by}: {visit.do}"


def _looked(last: Mapping[Hashable, Any] | None, on: date) -> str:
    if last is None:
        return "Not inspected yet: no last values."
    day = pd.Timestamp(last["date"]).date()
    ago = (on - day).days
    return f"Last inspection {day.isoformat()}, {ago} {'day' if ago == 1 else 'days'} before."


def _row(ruler: _Ruler, row: Row, last: Mapping[Hashable, Any] | None) -> None:
    sheet = ruler.sheet
    where = ruler.wrapped(row.where, width_mm=_WHERE_MM - _PAD_MM, size=7.5)
    sheet.lines(where, x=MARGIN_MM, y=sheet.y + 1, size=7.5, bold=True)
    x = MARGIN_MM + _WHERE_MM
    for field in row.fields:
        width = field.share * (sheet.inner_mm - _WHERE_MM)
        _field(ruler, field, last, x=x, width_mm=width)
        x += width
    sheet.y += _ROW_MM


def _field(
    ruler: _Ruler, field: Field, last: Mapping[Hashable, Any] | None, *, x: float, width_mm: float
) -> None:
    """Draw one box: its name on top, words to circle below, the last value in grey."""
    sheet = ruler.sheet
    sheet.frame(x=x, y=sheet.y, width_mm=width_mm, height_mm=_ROW_MM)
    if field.heavy:
        sheet.frame(
            x=x + _HEAVY_MM,
            y=sheet.y + _HEAVY_MM,
            width_mm=width_mm - 2 * _HEAVY_MM,
            height_mm=_ROW_MM - 2 * _HEAVY_MM,
        )
    left, right = x + _PAD_MM, x + width_mm - _PAD_MM
    was = last_words(field, last)
    # beside the name where words to circle need the line below
    was_pt, was_y = (_LABEL_PT, 0.7) if field.words else (_LAST_PT, 4.1)
    was_mm = ruler.wide(was, size=was_pt) if was else 0.0
    free = right - left - (was_mm + 1 if was and field.words else 0)
    label = ruler.fitted(field.label, width_mm=free, size=_LABEL_PT, bold=field.heavy)
    sheet.lines([label], x=left, y=sheet.y + 0.7, size=_LABEL_PT, bold=field.heavy)
    if was:
        sheet.lines([was], x=right - was_mm, y=sheet.y + was_y, size=was_pt, grey=True)
    wide = [ruler.wide(word, size=_WORD_PT) for word in field.words]
    gap = min((right - left - sum(wide)) / max(len(wide) - 1, 1), _BETWEEN_WORDS_MM[1])
    for word, word_mm in zip(field.words, wide, strict=True):
        sheet.lines([word], x=left, y=sheet.y + 4.1, size=_WORD_PT)
        left += word_mm + max(gap, _BETWEEN_WORDS_MM[0])


def _note_row(sheet: Print) -> None:
    sheet.frame(x=MARGIN_MM, y=sheet.y, width_mm=sheet.inner_mm, height_mm=_NOTE_MM)
    sheet.lines([_DONE], x=MARGIN_MM + _PAD_MM, y=sheet.y + 0.9, size=7.5)
    sheet.lines(["Note:"], x=MARGIN_MM + _PAD_MM, y=sheet.y + 5.8, size=7.5)
    sheet.y += _NOTE_MM


def _boxes(sheet: Print, boxes: Sequence[BoxVisit]) -> None:
    """Rule a table of the bait boxes that hang."""
    sheet.paragraph("Bait boxes (bait hives, swarm traps)", size=15, bold=True)
    sheet.blanks(("Date", "By"), size=9)
    sheet.paragraph(
        "Look from the ground; never climb for a swarm alone, keep away from power lines. A bird "
        "or bat inside: leave it alone. Blank is not looked, 0 and no are looked and none.",
        size=_TEXT_PT,
        gap_mm=3,
    )
    widths = [share * sheet.inner_mm for _, share in _BOX_COLUMNS]
    heads = [
        sheet.wrapped(name, width_mm=w - 2 * _PAD_MM, size=_LABEL_PT, bold=True)
        for (name, _), w in zip(_BOX_COLUMNS, widths, strict=True)
    ]
    _box_row(sheet, heads, widths, least_mm=0, bold=True)
    for box in boxes:
        by = "" if box.do_by is None else f", by {day_words(box.do_by)}"
        texts = [f"{box.box}, {box.site}" if box.site else box.box, f"{box.state}; {box.do}{by}"]
        cells = [
            sheet.wrapped(text, width_mm=w - 2 * _PAD_MM, size=_TEXT_PT)
            for text, w in zip(texts, widths, strict=False)
        ]
        cells += [[] for _ in widths[len(cells) :]]
        _box_row(sheet, cells, widths, least_mm=_BOX_ROW_MM, bold=False)


def _box_row(
    sheet: Print,
    cells: Sequence[list[str]],
    widths: Sequence[float],
    *,
    least_mm: float,
    bold: bool,
) -> None:
    size = _LABEL_PT if bold else _TEXT_PT
    tall = max(least_mm, max(len(c) for c in cells) * line_mm(size) + 2 * _PAD_MM)
    sheet.need(tall)
    x = float(MARGIN_MM)
    for lines, width in zip(cells, widths, strict=True):
        sheet.frame(x=x, y=sheet.y, width_mm=width, height_mm=tall)
        sheet.lines(lines, x=x + _PAD_MM, y=sheet.y + 0.8, size=size, bold=bold)
        x += width
    sheet.y += tall
