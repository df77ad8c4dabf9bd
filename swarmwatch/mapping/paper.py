"""Sheets of paper on which text and drawings flow, in millimetres from the top left.

Sizes and fonts serve sheets without drawings, too: what draws is loaded where it is used.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING

from swarmwatch.errors import UsageError
from swarmwatch.mapping.escaping import printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SIZES_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
WIDTH_MM, HEIGHT_MM = SIZES_MM["a4"]
MARGIN_MM = 14
INNER_MM = WIDTH_MM - 2 * MARGIN_MM
FOOT_MM = 18  # below the text: the foot and the printer's own margin
_MM_IN_INCH = 25.4
_POINTS_IN_INCH = 72
_LEADING = 1.32  # distance of lines in letter heights
_FAMILY = "DejaVu Sans"  # comes with matplotlib
_LOOK = {
    "font.family": _FAMILY,
    "pdf.fonttype": 42,  # letters stay letters
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
    "hatch.linewidth": 0.6,
    "axes.unicode_minus": False,
}


@contextmanager
def our_look() -> Iterator[None]:
    """Draw with fixed settings, whatever the keeper's own matplotlib file says."""
    from matplotlib import style

    with style.context(["default", _LOOK]):
        yield


@cache
def _glyphs() -> frozenset[int]:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    both = [
        get_font(findfont(FontProperties(family=_FAMILY, weight=w))).get_charmap()
        for w in ("normal", "bold")
    ]
    return frozenset(both[0]) & frozenset(both[1])


def size_mm(paper: str) -> tuple[float, float]:
    """Return width and height of a sheet called "a4" or "letter" [mm].

    Raises
    ------
    UsageError
        Another word.
    """
    if paper not in SIZES_MM:
        message = f"paper: {paper!r} is not known. Use one of {', '.join(SIZES_MM)}."
        raise UsageError(message)
    return SIZES_MM[paper]


def written(text: object) -> str:
    """Return `text` in letters that the sheet's font has."""
    return printable(text, _glyphs())


def line_mm(size: float) -> float:
    """Return the height of a line of letters of `size` points [mm]."""
    return size * _LEADING * _MM_IN_INCH / _POINTS_IN_INCH


def text_mm(text: str, *, size: float, bold: bool = False) -> float:
    """Return the width of one line [mm]."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextToPath

    font = FontProperties(family=_FAMILY, size=size, weight="bold" if bold else "normal")
    width, _, _ = TextToPath().get_text_width_height_descent(text, font, ismath=False)
    return float(width) * _MM_IN_INCH / _POINTS_IN_INCH


def wrapped(text: object, *, width_mm: float, size: float, bold: bool = False) -> list[str]:
    """Return `text` as lines that fit `width_mm`; a word that is too long is cut."""
    lines: list[str] = []
    current = ""
    for word in written(text).split():
        trial = f"{current} {word}".strip()
        if text_mm(trial, size=size, bold=bold) <= width_mm:
            current = trial
            continue
        if current:
            lines.append(current)
        *whole, current = _cut(word, width_mm=width_mm, size=size, bold=bold)
        lines.extend(whole)
    return [*lines, current] if current else lines


def _cut(word: str, *, width_mm: float, size: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_mm(pieces[-1] + letter, size=size, bold=bold) > width_mm:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def new_sheet(width_mm: float = WIDTH_MM, height_mm: float = HEIGHT_MM) -> "tuple[Figure, Axes]":
    """Return an empty sheet and axes over all of it, in millimetres from the top left."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_mm / _MM_IN_INCH, height_mm / _MM_IN_INCH))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, width_mm)
    axes.set_ylim(height_mm, 0)
    axes.set_axis_off()
    return figure, axes


class Paper:
    """Pages that fill from the top; what does not fit goes to the next page whole."""

    def __init__(self, *, size: str = "a4") -> None:
        self.width_mm, self.height_mm = size_mm(size)
        self.inner_mm = self.width_mm - 2 * MARGIN_MM
        self.sheets: list[tuple[Figure, Axes]] = []
        self.y = 0.0
        self.turn()

    def turn(self) -> None:
        """Begin a new page."""
        self.sheets.append(new_sheet(self.width_mm, self.height_mm))
        self.y = MARGIN_MM

    @property
    def axes(self) -> "Axes":
        """Return the axes of the page at hand [mm]."""
        return self.sheets[-1][1]

    def need(self, height_mm: float, *, then: Callable[[], None] | None = None) -> None:
        """Make sure that so much is free below; on a fresh page run `then` first."""
        if self.y + height_mm > self.height_mm - FOOT_MM and self.y > MARGIN_MM:
            self.turn()
            if then:
                then()

    def lines(
        self,
        lines: list[str],
        *,
        size: float,
        x: float = MARGIN_MM,
        y: float | None = None,
        bold: bool = False,
        colour: str = "#000000",
    ) -> float:
        """Write lines from `y` (the flow's place if None) down and return where they end.

        Only a text that starts at the flow's place moves the flow.
        """
        at = self.y if y is None else y
        for line in lines:
            self.axes.text(
                x,
                at,
                line,
                fontsize=size,
                weight="bold" if bold else "normal",
                color=colour,
                va="top",
                ha="left",
            )
            at += line_mm(size)
        if y is None:
            self.y = at
        return at

    def paragraph(self, text: str, *, size: float, bold: bool = False, gap_mm: float = 1) -> None:
        """Write a paragraph over the full width."""
        lines = wrapped(text, width_mm=self.inner_mm, size=size, bold=bold)
        self.need(len(lines) * line_mm(size))
        self.lines(lines, size=size, bold=bold)
        self.y += gap_mm

    def pdf(self, *, title: str, foot: str) -> bytes:
        """Return the pages as PDF, each with `foot` and its number; no date, so bytes repeat."""
        from matplotlib.backends.backend_pdf import PdfPages

        for number, (_, axes) in enumerate(self.sheets, start=1):
            axes.text(
                MARGIN_MM,
                self.height_mm - 10,
                f"{foot}. Page {number} of {len(self.sheets)}",
                fontsize=7.5,
                color="#444444",
                va="top",
            )
        buffer = BytesIO()
        named = {"Title": title, "Creator": "swarmwatch", "CreationDate": None}
        with PdfPages(buffer, metadata=named) as pages:
            for figure, _ in self.sheets:
                figure.savefig(pages, format="pdf")
        return buffer.getvalue()


def png(figure: "Figure", *, dots_per_inch: int) -> bytes:
    """Return a drawing as PNG without date or version, so bytes repeat."""
    buffer = BytesIO()
    figure.savefig(buffer, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return buffer.getvalue()
