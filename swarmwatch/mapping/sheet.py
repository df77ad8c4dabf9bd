"""The printed sheet: the map, what to do at each spot, and what to mind before going."""

from collections.abc import Iterable, Sequence
from datetime import date

import pandas as pd
from matplotlib.patches import Rectangle

from swarmwatch.mapping.escaping import NO_GLYPH
from swarmwatch.mapping.exports import box_words
from swarmwatch.mapping.land import Land
from swarmwatch.mapping.paper import (
    MARGIN_MM,
    Paper,
    line_mm,
    new_sheet,
    our_look,
    png,
    wrapped,
    written,
)
from swarmwatch.mapping.safety import SHORT, ground_checks, safety_lines
from swarmwatch.mapping.scene import Scene, read_scene
from swarmwatch.mapping.sheet_legend import ROW_MM, keys, rows_of, write_rows
from swarmwatch.mapping.sheet_map import draw_badge, draw_ground, frame_of, land_in
from swarmwatch.mapping.spots import Spot
from swarmwatch.mapping.walk import walk_steps, walk_total

_MAP_MM = 108
_CELL_PT = 8.0
_COLUMNS = (
    ("Spot", 13),
    ("Site", 36),
    ("Hang it", 43),
    ("Swarms a season", 36),
    ("Permission, warnings", 54),
)
_PICTURE_MM = (200, 150)
_PICTURE_DPI = 130


def map_sheet(
    plan: pd.DataFrame,
    *,
    sources: pd.DataFrame,
    apiaries: pd.DataFrame,
    sites: pd.DataFrame | None = None,
    scores: pd.DataFrame | None = None,
    keep_out: pd.DataFrame | None = None,
    hangings: pd.DataFrame | None = None,
    boxes: pd.DataFrame | None = None,
    land: Land | None = None,
    credits: Iterable[str] = (),  # noqa: A002 - the field's word
    title: str = "Where to hang bait boxes",
    made_on: date,
    size: str = "a4",
) -> bytes:
    """Draw the plan as a PDF: map, walking order, table of spots, safety lines.

    Parameters
    ----------
    plan, sources, apiaries, sites, scores, keep_out, hangings, boxes
        Tables of that name; places in WGS 84 [degrees]; `boxes` adds the volumes.
    land, credits, title, made_on
        As for `interactive_map`.
    size
        Of the paper: "a4" or "letter".

    Returns
    -------
    The PDF. The same tables give the same bytes.

    Raises
    ------
    RecordsError
        A table breaks its contract.
    UsageError
        `size` is not known.
    """
    scene = read_scene(
        plan,
        sources=sources,
        apiaries=apiaries,
        sites=sites,
        scores=scores,
        keep_out=keep_out,
        hangings=hangings,
    )
    with our_look():
        paper = Paper(size=size)
        paper.paragraph(title, size=16, bold=True)
        lead = f"Made on {made_on.isoformat()}. {scene.together} {SHORT}"
        paper.paragraph(lead, size=8.5, gap_mm=2)
        _map_block(paper, scene, land)
        if land and land.attribution:
            paper.paragraph(f"Map: {land.attribution}", size=7.5, gap_mm=1)
        _walk_lines(paper, scene)
        _spot_table(paper, scene.spots, boxes)
        _safety_block(paper)
        thanks = [*credits]
        if _letters_lacking(scene):
            thanks.append("? stands for a letter that this sheet's font lacks; map.html shows it.")
        for line in thanks:
            paper.paragraph(line, size=7.5, gap_mm=0)
        foot = f"swarmwatch, made on {made_on.isoformat()}: odds, not promises"
        return paper.pdf(title=written(title), foot=foot)


def map_picture(
    plan: pd.DataFrame,
    *,
    sources: pd.DataFrame,
    apiaries: pd.DataFrame,
    sites: pd.DataFrame | None = None,
    scores: pd.DataFrame | None = None,
    keep_out: pd.DataFrame | None = None,
    hangings: pd.DataFrame | None = None,
    land: Land | None = None,
) -> bytes:
    """Draw the map alone, with its legend, as PNG; arguments as for `map_sheet`."""
    scene = read_scene(
        plan,
        sources=sources,
        apiaries=apiaries,
        sites=sites,
        scores=scores,
        keep_out=keep_out,
        hangings=hangings,
    )
    width, height = _PICTURE_MM
    with our_look():
        figure, page = new_sheet(width, height)
        # the legend takes some of this height, so that the window may yet become a little smaller
        whole = frame_of(scene, width_mm=width - 8, height_mm=height - 8)
        land = land and land_in(whole, scene, land)
        rows = rows_of(keys(scene, land), width - 8)
        map_mm = height - 8 - len(rows) * ROW_MM - 2
        axes = figure.add_axes(
            (4 / width, 1 - (4 + map_mm) / height, (width - 8) / width, map_mm / height)
        )
        draw_ground(axes, scene, land, frame_of(scene, width_mm=width - 8, height_mm=map_mm))
        write_rows(page, rows, x=4, y=4 + map_mm + 3)
        return png(figure, dots_per_inch=_PICTURE_DPI)


def _letters_lacking(scene: Scene) -> bool:
    texts = [t for s in scene.spots for t in (s.site, s.owner, s.note, *s.warnings)]
    texts += [y.name for y in scene.yards]
    return any(written(t).count(NO_GLYPH) > t.count(NO_GLYPH) for t in texts)


def _map_block(paper: Paper, scene: Scene, land: Land | None) -> None:
    figure, _ = paper.sheets[-1]
    axes = figure.add_axes(
        (
            MARGIN_MM / paper.width_mm,
            1 - (paper.y + _MAP_MM) / paper.height_mm,
            paper.inner_mm / paper.width_mm,
            _MAP_MM / paper.height_mm,
        )
    )
    frame = frame_of(scene, width_mm=paper.inner_mm, height_mm=_MAP_MM)
    land = land and land_in(frame, scene, land)
    draw_ground(axes, scene, land, frame)
    paper.y += _MAP_MM + 3
    rows = rows_of(keys(scene, land), paper.inner_mm)
    write_rows(paper.axes, rows, x=MARGIN_MM, y=paper.y)
    paper.y += len(rows) * ROW_MM + 2


def _walk_lines(paper: Paper, scene: Scene) -> None:
    paper.paragraph(ground_checks(), size=_CELL_PT, gap_mm=1)
    if scene.walk:
        steps = "; ".join(walk_steps(scene.walk, scene.spots))
        text = f"Walking order from {scene.walk.start}: {steps}. {walk_total(scene.walk)}"
        paper.paragraph(text, size=_CELL_PT, gap_mm=2)


def _spot_table(paper: Paper, spots: Sequence[Spot], boxes: pd.DataFrame | None) -> None:
    def head() -> None:
        x = float(MARGIN_MM)
        for name, width in _COLUMNS:
            paper.lines([name], size=_CELL_PT, x=x, y=paper.y, bold=True)
            x += width
        paper.y += line_mm(_CELL_PT) + 0.6
        _rule(paper, width=1.0)

    if not spots:
        paper.paragraph("No spot was chosen.", size=10)
        return
    shared = _shared_warnings(spots)
    first = _row(spots[0], boxes, shared)
    paper.need(line_mm(_CELL_PT) + 2 + _height(first))
    head()
    for spot in spots:
        cells = _row(spot, boxes, shared)
        paper.need(_height(cells), then=head)
        _write_row(paper, spot, cells)
        _rule(paper, width=0.4)
    paper.y += 1.5
    if shared:
        paper.paragraph(f"At every spot: {'; '.join(shared)}.", size=_CELL_PT)
    paper.y += 2


def _shared_warnings(spots: Sequence[Spot]) -> tuple[str, ...]:
    """Return what is to be minded at every spot: said once below the table."""
    if len(spots) == 1:
        return ()
    return tuple(w for w in spots[0].warnings if all(w in s.warnings for s in spots))


def _row(
    spot: Spot, boxes: pd.DataFrame | None, shared: Sequence[str]
) -> list[list[tuple[str, bool]]]:
    """Return the cells right of the number, as lines that fit, each bold or not."""
    own = [w for w in spot.warnings if w not in shared]
    hang = [box_words(spot.box, boxes), spot.height and f"{spot.height} high"]
    texts = [
        [(spot.site, True), (spot.owner and f"owner: {spot.owner}", False), (spot.note, False)],
        [*((t, False) for t in hang), (spot.facing and f"entrance {spot.facing}", False)],
        [
            (spot.catches, True),
            (spot.likely, False),
            (spot.chance and f"{spot.chance} for one or more", False),
        ],
        [(spot.permission, not spot.allowed), *((f"mind: {w}", False) for w in own)],
    ]
    return [
        [
            (line, bold)
            for text, bold in cell
            for line in wrapped(text, width_mm=width - 3, size=_CELL_PT, bold=bold)
        ]
        for cell, (_, width) in zip(texts, _COLUMNS[1:], strict=True)
    ]


def _height(cells: list[list[tuple[str, bool]]]) -> float:
    return max(3, *(len(cell) for cell in cells)) * line_mm(_CELL_PT) + 3


def _write_row(paper: Paper, spot: Spot, cells: list[list[tuple[str, bool]]]) -> None:
    top = paper.y + 1.8
    draw_badge(paper.axes, MARGIN_MM + 3.4, top + 3.3, str(spot.rank), allowed=spot.allowed)
    paper.axes.add_patch(
        Rectangle((MARGIN_MM + 8, top + 1.6), 3.2, 3.2, facecolor="none", edgecolor="black", lw=0.8)
    )
    x = float(MARGIN_MM + _COLUMNS[0][1])
    for cell, (_, width) in zip(cells, _COLUMNS[1:], strict=True):
        at = top
        for line, bold in cell:
            at = paper.lines([line], size=_CELL_PT, x=x, y=at, bold=bold)
        x += width
    paper.y += _height(cells)


def _rule(paper: Paper, *, width: float) -> None:
    ends = [MARGIN_MM, paper.width_mm - MARGIN_MM]
    paper.axes.plot(ends, [paper.y, paper.y], color="black", linewidth=width)


def _safety_block(paper: Paper) -> None:
    size, heading_mm = 9.0, 36.0
    rows = [
        (
            wrapped(h, width_mm=heading_mm - 3, size=size, bold=True),
            wrapped(t, width_mm=paper.inner_mm - heading_mm, size=size),
        )
        for h, t in safety_lines()
    ]
    heights = [max(len(h), len(t)) * line_mm(size) + 1.4 for h, t in rows]
    paper.need(line_mm(12) + 2 + sum(heights))
    paper.paragraph("Before you go", size=12, bold=True, gap_mm=1.5)
    for (heading, text), height in zip(rows, heights, strict=True):
        paper.lines(heading, size=size, y=paper.y, bold=True)
        paper.lines(text, size=size, x=MARGIN_MM + heading_mm, y=paper.y)
        paper.y += height
    paper.y += 3
