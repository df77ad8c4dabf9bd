"""The map as it is printed: true north up, one scale, shapes and words before colours."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.markers import MarkerStyle
from matplotlib.patches import Circle, PathPatch
from matplotlib.path import Path
from matplotlib_scalebar.scalebar import ScaleBar
from shapely.geometry.base import BaseGeometry

from swarmwatch.mapping.label_places import Box, on_or_round, place_labels
from swarmwatch.mapping.land import Land, LandStyle
from swarmwatch.mapping.levels import BLACK, BLUE, PURPLE, Mark
from swarmwatch.mapping.local_grid import Floats
from swarmwatch.mapping.paper import line_mm, text_mm, written
from swarmwatch.mapping.scene import Scene
from swarmwatch.mapping.spots import ASK_FIRST
from swarmwatch.mapping.walk import Walk
from swarmwatch.wording import amount

PLUM = "#8A3F6B"
RUST = "#7A2E00"
_POINTS_IN_MM = 72 / 25.4
_BADGE_MM = 6.4
_YARD_MM = 5.0
_LABEL_PT = 7.5
_TAG_PT = 6.5
_MARGIN_SHARE = 0.12
_ARROW_SHARE = 0.02  # of a leg: where the head of its arrow lies past the middle
_ONE_SWARM_MM = 3.6  # radius of the circle for one swarm a season; its area grows with the number
_CIRCLE_LEAST_MM, _CIRCLE_MOST_MM = 1.4, 12.0
_HALO = {"facecolor": "white", "edgecolor": "none", "alpha": 0.82, "pad": 0.8}


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The window onto the ground: its middle [m], its size on paper [mm], and metres a mm."""

    east: float
    north: float
    width_mm: float
    height_mm: float
    metres_a_mm: float

    def on_paper(self, metres: Floats) -> Floats:
        """Return (n, 2) places in mm right of and above the window's lower left corner."""
        middle = np.array([self.east, self.north])
        half = np.array([self.width_mm, self.height_mm]) / 2
        return np.asarray((metres - middle) / self.metres_a_mm + half)


def frame_of(scene: Scene, *, width_mm: float, height_mm: float) -> Frame:
    """Return the window that shows spots, yards and places with a margin."""
    (south, west), (north, east) = scene.bounds
    corners = scene.grid.metres([south, south, north, north], [west, east, west, east])
    low, high = corners.min(axis=0), corners.max(axis=0)
    shares = (high - low) * (1 + 2 * _MARGIN_SHARE) / np.array([width_mm, height_mm])
    middle = (low + high) / 2
    return Frame(
        east=float(middle[0]),
        north=float(middle[1]),
        width_mm=width_mm,
        height_mm=height_mm,
        metres_a_mm=float(shares.max()),
    )


def land_in(frame: Frame, scene: Scene, land: Land) -> Land:
    """Keep the land that can be seen in the window."""
    wide, high = (mm * frame.metres_a_mm / 2 for mm in (frame.width_mm, frame.height_mm))
    window = scene.grid.geometry_in_degrees(
        shapely.box(frame.east - wide, frame.north - high, frame.east + wide, frame.north + high)
    )
    return replace(land, features=tuple(f for f in land.features if window.intersects(f.geometry)))


def draw_ground(axes: Axes, scene: Scene, land: Land | None, frame: Frame) -> None:
    """Draw the whole map into `axes`, which are set to metres of the local grid."""
    half = frame.metres_a_mm / 2
    axes.set_xlim(frame.east - frame.width_mm * half, frame.east + frame.width_mm * half)
    axes.set_ylim(frame.north - frame.height_mm * half, frame.north + frame.height_mm * half)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_facecolor("#FBFAF6")
    for style, geometries in land.by_style() if land else ():
        for geometry in geometries:
            _draw(axes, scene.grid.geometry_in_metres(geometry), land_look(style))
    for barred in scene.barred:
        _draw(axes, scene.grid.geometry_in_metres(barred.area), BARRED_LOOK)
    circles = _draw_origins(axes, scene, frame)
    if scene.walk:
        _draw_walk(axes, scene, scene.walk)
    _draw_places(axes, scene)
    _draw_marks(axes, scene, frame, circles)
    _draw_scale_and_north(axes)


def land_look(style: LandStyle) -> dict[str, Any]:
    """Return how matplotlib draws a kind of land."""
    return {
        "facecolor": style.fill,
        "edgecolor": style.line,
        "linewidth": style.width,
        "hatch": style.hatch or None,
        "linestyle": (0, tuple(d / style.width for d in style.dashes)) if style.dashes else "-",
        "zorder": 1,
    }


BARRED_LOOK: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": RUST,
    "linewidth": 1.0,
    "linestyle": (0, (4, 2)),
    "hatch": "////",
    "zorder": 2,
}


def _draw(axes: Axes, geometry: BaseGeometry, look: dict[str, Any]) -> None:
    for part in shapely.get_parts(geometry):
        if part.geom_type.startswith(("Multi", "Geometry")):
            _draw(axes, part, look)
        elif part.geom_type == "Polygon":
            rings = [
                Path(np.asarray(r.coords), closed=True) for r in (part.exterior, *part.interiors)
            ]
            axes.add_patch(PathPatch(Path.make_compound_path(*rings), **look))
        elif part.geom_type == "Point":
            spot = {**look, "s": 9}
            spot.pop("hatch", None)
            axes.scatter([part.x], [part.y], **spot)
        else:
            line = {**look, "facecolor": "none"}
            line.pop("hatch", None)
            axes.add_patch(PathPatch(Path(np.asarray(part.coords)), **line))


def circle_mm(swarms: float) -> float:
    """Return the radius of a circle whose area stands for `swarms` a season [mm]."""
    radius = _ONE_SWARM_MM * math.sqrt(max(swarms, 0))
    return min(max(radius, _CIRCLE_LEAST_MM), _CIRCLE_MOST_MM)


def _draw_origins(axes: Axes, scene: Scene, frame: Frame) -> list[Box]:
    taken = []
    for origin in scene.origins:
        ((east, north),) = scene.grid.metres([origin.latitude], [origin.longitude])
        radius = circle_mm(origin.swarms)
        axes.add_patch(
            Circle(
                (east, north),
                radius * frame.metres_a_mm,
                facecolor=(*_rgb(PURPLE), 0.35),
                edgecolor=PLUM,
                linewidth=1.2,
                zorder=3,
            )
        )
        if not origin.own and radius > line_mm(_TAG_PT):
            axes.text(
                east,
                north,
                amount(origin.swarms),
                fontsize=_TAG_PT,
                ha="center",
                va="center",
                clip_on=True,
                zorder=3.5,
            )
            x, y = frame.on_paper(np.array([[east, north]]))[0]
            taken.append(Box(x, y, text_mm("0.0", size=_TAG_PT), line_mm(_TAG_PT)))
    return taken


def _rgb(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return red, green, blue


WALK_LOOK: dict[str, Any] = {"color": BLACK, "linewidth": 1.1, "linestyle": (0, (1, 1.6))}


def _draw_walk(axes: Axes, scene: Scene, walk: Walk) -> None:
    """Draw the legs as dotted lines, each with an arrow at its middle."""
    stops = scene.grid.metres(
        [walk.latitude, *(scene.spots[k].latitude for k in walk.order)],
        [walk.longitude, *(scene.spots[k].longitude for k in walk.order)],
    )
    if walk.closed:
        stops = np.vstack([stops, stops[:1]])
    axes.plot(stops[:, 0], stops[:, 1], zorder=3.8, **WALK_LOOK)
    for begin, end in pairwise(stops):
        middle = (begin + end) / 2
        axes.annotate(
            "",
            xy=middle + (end - begin) * _ARROW_SHARE,
            xytext=middle,
            arrowprops={"arrowstyle": "-|>", "color": BLACK, "linewidth": 0.8, "shrinkA": 0},
            zorder=3.8,
        )


def _draw_places(axes: Axes, scene: Scene) -> None:
    for place in scene.places:
        ((east, north),) = scene.grid.metres([place.latitude], [place.longitude])
        draw_place(axes, east, north, hanging=place.hanging)


def draw_place(axes: Axes, x: float, y: float, *, hanging: bool) -> None:
    """Draw a place that is no chosen spot: a dark box where one hangs, else a small diamond."""
    look: dict[str, Any] = {"marker": "s", "s": 30, "facecolor": "#4A4A4A", "edgecolor": "black"}
    other: dict[str, Any] = {"marker": "D", "s": 14, "facecolor": "white", "edgecolor": "#3A3A3A"}
    axes.scatter([x], [y], linewidth=1.0, zorder=4, **(look if hanging else other))


def _draw_marks(axes: Axes, scene: Scene, frame: Frame, circles: list[Box]) -> None:
    """Draw yards and badges, then names; badges that would cover others move and get a leader."""
    yards = scene.grid.metres([y.latitude for y in scene.yards], [y.longitude for y in scene.yards])
    spots = scene.grid.metres([s.latitude for s in scene.spots], [s.longitude for s in scene.spots])
    yards_mm, spots_mm = frame.on_paper(yards), frame.on_paper(spots)
    names = [[written(y.name), written(y.summary)] for y in scene.yards]
    names = [[line for line in lines if line] for lines in names]
    tag = text_mm(ASK_FIRST, size=_TAG_PT), line_mm(_TAG_PT)
    wanted: list[Sequence[Box]] = []
    for (x, y), spot in zip(spots_mm, scene.spots, strict=True):
        size = (
            (_BADGE_MM, _BADGE_MM)
            if spot.allowed
            else (max(_BADGE_MM, tag[0]), _BADGE_MM + 2 * tag[1])
        )
        wanted.append(on_or_round(x, y, width=size[0], height=size[1], reach=2.5, on_it=True))
    for (x, y), lines in zip(yards_mm, names, strict=True):
        width = max(text_mm(line, size=_LABEL_PT, bold=True) for line in lines) + 1
        wanted.append(
            on_or_round(
                x,
                y,
                width=width,
                height=len(lines) * line_mm(_LABEL_PT) + 1,
                reach=_YARD_MM * 0.6,
                on_it=False,
            )
        )
    taken = [Box(x, y, _YARD_MM, _YARD_MM) for x, y in yards_mm] + circles
    window = Box(frame.width_mm / 2, frame.height_mm / 2, frame.width_mm - 2, frame.height_mm - 2)
    placed = place_labels(wanted, taken=[*taken, *_corners(frame)], frame=window)
    paper = axes.inset_axes((0, 0, 1, 1))
    paper.set_xlim(0, frame.width_mm)
    paper.set_ylim(0, frame.height_mm)
    paper.set_axis_off()
    for (x, y), yard in zip(yards_mm, scene.yards, strict=True):
        draw_level(paper, x, y, yard.mark, size_mm=_YARD_MM)
    for box, lines in zip(placed[len(spots_mm) :], names, strict=True):
        paper.text(
            box.x,
            box.y,
            "\n".join(lines),
            fontsize=_LABEL_PT,
            weight="bold",
            ha="center",
            va="center",
            linespacing=1.2,
            bbox=_HALO,
            zorder=6,
        )
    for (x, y), box, spot in reversed(list(zip(spots_mm, placed, scene.spots, strict=False))):
        if (box.x, box.y) != (x, y):
            paper.plot([x, box.x], [y, box.y], color=BLACK, linewidth=0.8, zorder=6)
            paper.plot([x], [y], marker="o", color=BLACK, markersize=3, zorder=6)
        draw_badge(paper, box.x, box.y, str(spot.rank), allowed=spot.allowed)
        if not spot.allowed:
            paper.text(
                box.x,
                box.y - _BADGE_MM / 2 - tag[1] / 2,
                ASK_FIRST,
                fontsize=_TAG_PT,
                ha="center",
                va="center",
                bbox=_HALO,
                zorder=7,
            )


def _corners(frame: Frame) -> list[Box]:
    """Return the ground of the scale bar and the north arrow."""
    return [
        Box(20, 5, 40, 10),
        Box(frame.width_mm - 6, frame.height_mm - 9, 12, 18),
    ]


def draw_level(axes: Axes, x: float, y: float, mark: Mark, *, size_mm: float) -> None:
    """Draw a level's mark on axes in mm."""
    shape: object = MarkerStyle("o") if not mark.corners else [*mark.corners, mark.corners[0]]
    axes.plot(
        [x],
        [y],
        marker=shape,
        markersize=size_mm * _POINTS_IN_MM,
        markerfacecolor=mark.colour,
        markeredgecolor=BLACK,
        markeredgewidth=1.2,
        linestyle="none",
        zorder=5,
    )


def draw_badge(
    axes: Axes, x: float, y: float, text: str, *, allowed: bool, size_mm: float = _BADGE_MM
) -> None:
    """Draw a spot's number on axes in mm: filled where it may hang, dashed where to ask first."""
    axes.add_patch(
        Circle(
            (x, y),
            size_mm / 2,
            facecolor=BLUE if allowed else "white",
            edgecolor=BLACK if allowed else BLUE,
            linewidth=1.0 if allowed else 1.6,
            linestyle="-" if allowed else (0, (2, 1.2)),
            zorder=8,
        )
    )
    axes.text(
        x,
        y,
        text,
        fontsize=size_mm * 1.4,
        weight="bold",
        color="white" if allowed else BLACK,
        ha="center",
        va="center_baseline",
        zorder=9,
    )


def _draw_scale_and_north(axes: Axes) -> None:
    axes.add_artist(_scale_bar())
    arrow = axes.annotate(
        "",
        xy=(0.965, 0.925),
        xytext=(0.965, 0.815),
        xycoords="axes fraction",
        arrowprops={
            "arrowstyle": "-|>",
            "linewidth": 1.6,
            "color": BLACK,
            "shrinkA": 0,
            "shrinkB": 0,
        },
        zorder=10,
    )
    arrow.set_gid("north-arrow")
    axes.text(
        0.965,
        0.93,
        "N",
        transform=axes.transAxes,
        fontsize=10,
        weight="bold",
        ha="center",
        va="bottom",
        zorder=10,
    )


def _scale_bar() -> ScaleBar:
    bar = ScaleBar(
        1,
        units="m",
        location="lower left",
        length_fraction=0.25,
        box_alpha=0.85,
        border_pad=0.6,
        font_properties={"size": 8},
    )
    bar.set_zorder(10)
    return bar
