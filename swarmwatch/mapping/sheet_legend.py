"""The legend of the printed map: a drawn key and a word for each look."""

from collections.abc import Callable, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Rectangle

from swarmwatch.mapping.land import Land, LandStyle
from swarmwatch.mapping.levels import MARKS, NOT_SCORED, PURPLE, Mark
from swarmwatch.mapping.paper import text_mm
from swarmwatch.mapping.scene import Scene
from swarmwatch.mapping.sheet_map import (
    BARRED_LOOK,
    PLUM,
    WALK_LOOK,
    draw_badge,
    draw_level,
    draw_place,
    land_look,
)

Key = tuple[Callable[[Axes, float, float], object], str]
ROW_MM = 6.6
_KEY_MM = 9.0
_GAP_MM = 4.0
_WORD_PT = 7.5


def keys(scene: Scene, land: Land | None) -> list[Key]:
    """Return what this map shows, each as a way to draw its key and the words beside it."""
    found: list[Key] = []
    if any(s.allowed for s in scene.spots):
        found.append((_badge(allowed=True), "chosen spot, 1 is the best"))
    if not all(s.allowed for s in scene.spots):
        found.append((_badge(allowed=False), "chosen spot, ask first"))
    kinds = {p.hanging for p in scene.places}
    if True in kinds:
        found.append((_place(hanging=True), "a bait box hangs here"))
    if False in kinds:
        found.append((_place(hanging=False), "place considered, not chosen"))
    marks = {y.mark for y in scene.yards}
    found += [
        (_level(m), "yard" if m is NOT_SCORED else f"yard, most urgent: {m.word}")
        for m in (*MARKS.values(), NOT_SCORED)
        if m in marks
    ]
    if scene.origins:
        found.append((_circle, "swarms leave from here, number a season"))
    if scene.walk:
        found.append((_walk, "walking order, straight lines"))
    if scene.barred:
        found.append((_rectangle(BARRED_LOOK), "keep out: no box"))
    for style, _ in land.by_style() if land else ():
        found.append((_land(style), style.word))
    return found


def rows_of(found: Sequence[Key], width_mm: float) -> list[list[tuple[float, Key]]]:
    """Return the keys in rows that fit `width_mm`, each with its distance from the left [mm]."""
    rows: list[list[tuple[float, Key]]] = [[]]
    x = 0.0
    for key in found:
        wide = _KEY_MM + text_mm(key[1], size=_WORD_PT) + _GAP_MM
        if x + wide - _GAP_MM > width_mm and rows[-1]:
            rows.append([])
            x = 0.0
        rows[-1].append((x, key))
        x += wide
    return rows


def write_rows(
    axes: Axes, rows: Sequence[Sequence[tuple[float, Key]]], *, x: float, y: float
) -> None:
    """Draw the rows on axes in mm from (`x`, `y`) down."""
    for number, row in enumerate(rows):
        middle = y + ROW_MM * (number + 0.5)
        for right, (draw, word) in row:
            draw(axes, x + right + _KEY_MM / 2 - 1, middle)
            axes.text(x + right + _KEY_MM, middle, word, fontsize=_WORD_PT, va="center")


def _badge(*, allowed: bool) -> Callable[[Axes, float, float], object]:
    return lambda axes, x, y: draw_badge(
        axes, x, y, "1" if allowed else "2", allowed=allowed, size_mm=5
    )


def _level(mark: Mark) -> Callable[[Axes, float, float], object]:
    return lambda axes, x, y: draw_level(axes, x, y, mark, size_mm=3.6)


def _place(*, hanging: bool) -> Callable[[Axes, float, float], object]:
    return lambda axes, x, y: draw_place(axes, x, y, hanging=hanging)


def _circle(axes: Axes, x: float, y: float) -> None:
    axes.add_patch(Circle((x, y), 2.4, facecolor=PURPLE, alpha=0.35))
    axes.add_patch(Circle((x, y), 2.4, facecolor="none", edgecolor=PLUM, linewidth=1.2))


def _walk(axes: Axes, x: float, y: float) -> None:
    axes.add_line(Line2D([x - 3, x + 3], [y, y], **WALK_LOOK))


def _rectangle(look: dict[str, Any]) -> Callable[[Axes, float, float], object]:
    return lambda axes, x, y: axes.add_patch(Rectangle((x - 3, y - 1.8), 6, 3.6, **look))


def _land(style: LandStyle) -> Callable[[Axes, float, float], object]:
    look = land_look(style)
    if style.fill != "none":
        return _rectangle(look)
    line: dict[str, Any] = {
        "color": style.line,
        "linewidth": style.width,
        "linestyle": look["linestyle"],
    }
    return lambda axes, x, y: axes.add_line(Line2D([x - 3, x + 3], [y, y], **line))
