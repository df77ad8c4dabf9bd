"""Pages of A4 or US Letter on which text flows and forms are ruled, in millimetres."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path

import matplotlib as mpl
from fpdf import FPDF
from fpdf.bidi import BIDI_BRACKETS, BidiParagraph
from fpdf.enums import TextDirection

from swarmwatch.mapping.paper import FOOT_MM, MARGIN_MM, line_mm, size_mm, written

GREY = 0x44  # still dark enough to read on a poor printer
_POINT_MM = 25.4 / 72
_ASCENT = 0.93  # of the letter height: from the top of a line to its foot, for DejaVu Sans
_FAMILY = "DejaVu"
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})


class Print:
    """A document that fills from the top; `y` is where the next text goes [mm].

    Text is data: it is written in letters that the font has, on lines that fit, and never read
    as markup. Lines in scripts that run from right to left are put in the order they are read.
    """

    def __init__(self, *, paper: str, title: str, on: date) -> None:
        self.width_mm, self.height_mm = size_mm(paper)
        self.inner_mm = self.width_mm - 2 * MARGIN_MM
        self.bottom_mm = self.height_mm - FOOT_MM
        self.on = on
        self.y = float(MARGIN_MM)
        self.pdf = FPDF(unit="mm", format=(self.width_mm, self.height_mm))
        # a name may hold the text that fpdf would replace by the number of pages
        self.pdf.str_alias_nb_pages = ""
        self.pdf.set_auto_page_break(False)
        self.pdf.set_title(written(title))
        self.pdf.set_creator("swarmwatch")
        self.pdf.set_lang("en")
        self.pdf.set_creation_date(datetime.combine(on, time(), tzinfo=UTC))
        fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"
        self.pdf.add_font(_FAMILY, "", fonts / "DejaVuSans.ttf")
        self.pdf.add_font(_FAMILY, "B", fonts / "DejaVuSans-Bold.ttf")

    def turn(self) -> None:
        """Begin a new page."""
        self.pdf.add_page()
        self.y = float(MARGIN_MM)

    def room(self) -> float:
        """Return what is free below on this page [mm]."""
        return self.bottom_mm - self.y

    def need(self, height_mm: float) -> None:
        """Turn the page unless so much is free below."""
        if height_mm > self.room() and self.y > MARGIN_MM:
            self.turn()

    def _font(self, size: float, *, bold: bool, grey: bool = False) -> None:
        self.pdf.set_font(_FAMILY, "B" if bold else "", size)
        self.pdf.set_text_color(GREY if grey else 0)

    def wide(self, text: str, *, size: float, bold: bool = False) -> float:
        """Return the width of a line [mm]."""
        self._font(size, bold=bold)
        return float(self.pdf.get_string_width(text))

    def wrapped(
        self, text: object, *, width_mm: float, size: float, bold: bool = False
    ) -> list[str]:
        """Return `text` as lines that fit; a word that is too long is cut."""
        self._font(size, bold=bold)
        lines: list[str] = []
        current = ""
        for word in written(text).split():
            trial = f"{current} {word}" if current else word
            if self.pdf.get_string_width(trial) <= width_mm:
                current = trial
                continue
            if current:
                lines.append(current)
            current = ""
            for letter in word:
                if current and self.pdf.get_string_width(current + letter) > width_mm:
                    lines.append(current)
                    current = ""
                current += letter
        return [*lines, current] if current else lines

    def fitted(self, text: object, *, width_mm: float, size: float, bold: bool = False) -> str:
        """Return `text` on one line that fits; what is cut off is marked by dots."""
        lines = self.wrapped(text, width_mm=width_mm, size=size, bold=bold)
        if len(lines) < 2:
            return "".join(lines)
        short = lines[0]
        while short and self.wide(f"{short}…", size=size, bold=bold) > width_mm:
            short = short[:-1].rstrip()
        return f"{short}…"

    def lines(
        self,
        lines: Sequence[str],
        *,
        x: float,
        y: float,
        size: float,
        bold: bool = False,
        grey: bool = False,
        middle: bool = False,
    ) -> float:
        """Write lines from `y` down and return where they end; `middle` centres them on `x`."""
        self._font(size, bold=bold, grey=grey)
        for line in lines:
            shown = as_read(line)
            left = x - self.pdf.get_string_width(shown) / 2 if middle else x
            self.pdf.text(left, y + size * _POINT_MM * _ASCENT, shown)
            y += line_mm(size)
        return y

    def paragraph(
        self,
        text: object,
        *,
        size: float,
        bold: bool = False,
        gap_mm: float = 1.0,
        indent_mm: float = 0.0,
    ) -> None:
        """Write a paragraph over the full width; it stays on one page."""
        width = self.inner_mm - indent_mm
        lines = self.wrapped(text, width_mm=width, size=size, bold=bold)
        self.need(len(lines) * line_mm(size))
        self.y = self.lines(lines, x=MARGIN_MM + indent_mm, y=self.y, size=size, bold=bold)
        self.y += gap_mm

    def bullets(self, texts: Sequence[str], *, size: float) -> None:
        """Write one paragraph a text, each with a dash before it."""
        for text in texts:
            lines = self.wrapped(text, width_mm=self.inner_mm - 4, size=size)
            self.need(len(lines) * line_mm(size))
            self.lines(["-"], x=MARGIN_MM, y=self.y, size=size)
            self.y = self.lines(lines, x=MARGIN_MM + 4, y=self.y, size=size)

    def rule(self, *, x: float, y: float, to_x: float, width_mm: float = 0.2) -> None:
        """Draw a level line."""
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(width_mm)
        self.pdf.line(x, y, to_x, y)

    def frame(self, *, x: float, y: float, width_mm: float, height_mm: float) -> None:
        """Draw an empty rectangle."""
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(0.2)
        self.pdf.rect(x, y, width_mm, height_mm)

    def blanks(self, names: Sequence[str], *, size: float = 10) -> None:
        """Write a row of names, each with a line to fill in by hand; all share the width."""
        self.need(9)
        each = self.inner_mm / len(names)
        for number, name in enumerate(names):
            left = MARGIN_MM + number * each
            self.lines([name], x=left, y=self.y + 2.6, size=size)
            start = left + self.wide(name, size=size) + 2
            self.rule(x=start, y=self.y + 7.4, to_x=left + each - 3)
        self.y += 9

    def bytes(self, *, foot: str) -> bytes:
        """Return the PDF, each page with `foot` and its number."""
        count = self.pdf.pages_count
        for number in range(1, count + 1):
            self.pdf.page = number
            # the font that fpdf holds for set is that of the page it was on
            self.pdf.set_font(_FAMILY, "B", 1)
            line = f"{foot}. Page {number} of {count}"
            self.lines([line], x=MARGIN_MM, y=self.height_mm - 11, size=7.5, grey=True)
        return bytes(self.pdf.output())


def as_read(line: str) -> str:
    """Return a line with its right-to-left parts in the order of the page, from left to right."""
    from unicodedata import bidirectional

    if not any(bidirectional(c) in _RIGHT_TO_LEFT for c in line):
        return line
    placed = BidiParagraph(text=line, base_direction=TextDirection.LTR).get_reordered_characters()
    return "".join(_turned(c.character, c.embedding_level) for c in placed)


def _turned(character: str, level: int) -> str:
    """Return a bracket's other half where the text runs from right to left."""
    if level % 2 == 0 or character not in BIDI_BRACKETS:
        return character
    return str(BIDI_BRACKETS[character]["pair"])
