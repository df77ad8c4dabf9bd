"""What does the invented ground look like? Woods, water, fields, a town, roads, hedges."""

from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, hypot, pi, sin

import numpy as np

from demo_data.frame import Spot, to_globe

Line = list[Spot]
Feature = dict[str, object]

RIVER: Line = [
    (1750, 3000), (1480, 2350), (1600, 1700), (1150, 1120), (620, 820), (560, 240), (900, -350),
    (820, -900), (1150, -1350), (1350, -1750), (1150, -2250), (1350, -2800), (1250, -3500),
]  # fmt: skip
MAIN_ROAD: Line = [
    (-5950, 820), (-4800, 900), (-3600, 560), (-2700, 380), (-1800, 420), (-900, 120),
    (-200, 0), (560, -60), (1500, 180), (2500, 60), (3700, 320), (4900, 120), (6150, 380),
]  # fmt: skip
NORTH_ROAD: Line = [
    (-120, 0), (-60, 500), (-280, 1150), (-120, 1850), (-340, 2450), (-260, 3000),
]  # fmt: skip
SOUTH_ROAD: Line = [
    (-160, 0), (-260, -520), (-820, -1150), (-1250, -1800), (-1420, -2350), (-1300, -3500),
]  # fmt: skip
WOOD_ROAD: Line = [(1500, 180), (1720, 700), (2000, 1080), (2160, 1380)]
FARM_TRACK: Line = [(-1400, -2200), (-1700, -2240), (-1960, -2180)]
STREETS: list[Line] = [
    [(-60, 330), (-420, 360), (-640, 300), (-700, 60)],
    [(-90, 180), (180, 230), (420, 200)],
    [(-190, -170), (160, -230), (400, -200)],
    [(-210, -330), (-520, -300), (-660, -80)],
]
PATHS: list[Line] = [
    [(400, 200), (500, 420), (520, 760), (1000, 1120), (1500, 1640)],
    [(2160, 1380), (2500, 1620), (2620, 2020), (2950, 2300)],
    [(-1850, 420), (-2250, 760), (-2600, 1150), (-2700, 1700)],
    [(-820, -1150), (-250, -1300), (380, -1240), (760, -1080)],
]
POWER_LINE: Line = [(-1180, 3000), (-1020, 1500), (-1000, 300), (-760, -1300), (-520, -3500)]
SCHOOL_GROUND: Line = [(-620, 140), (-480, 160), (-460, 250), (-600, 240), (-620, 140)]
ESTATE: Line = [
    (1700, -900), (2500, -760), (2720, -1400), (2150, -1700), (1640, -1380), (1700, -900),
]  # fmt: skip
TREE_ROWS: list[Line] = [
    [(-2500, 330), (-2150, 370), (-1800, 395)],
    [(-1560, 330), (-1250, 210)],
    [(-210, 900), (-255, 1120), (-215, 1420)],
    [(-870, -1260), (-1090, -1620)],
    [(-1850, -2330), (-1850, -2640), (-2050, -2680)],
    [(1240, 130), (1440, 190)],
    [(2650, 30), (3150, 160)],
    [(640, 330), (690, 130), (800, -60)],
]

# where the lanes between the fields run north [m east]; wider apart far from the yards
_COLUMNS_M = (-5900, -4600, -3500, -2605, -1710, -815, 80, 975, 1870, 2765, 3660, 4800, 6100)


@dataclass(frozen=True, slots=True)
class Blob:
    """A wood, copse or lake: an oval with a soft, irregular edge."""

    name: str
    centre: Spot
    radii: Spot
    waves: tuple[float, float, float, float]
    points: int = 48

    def edge(self, turn: float, *, out_m: float = 0.0) -> Spot:
        """Return the spot on the edge seen from the centre at `turn` (radians from east)."""
        a2, p2, a3, p3 = self.waves
        reach = 1 + a2 * cos(2 * turn + p2) + a3 * cos(3 * turn + p3)
        east = self.radii[0] * reach * cos(turn)
        north = self.radii[1] * reach * sin(turn)
        far = hypot(east, north)
        return (
            self.centre[0] + east * (far + out_m) / far,
            self.centre[1] + north * (far + out_m) / far,
        )

    def ring(self) -> Line:
        """Return the closed outline."""
        turns = [2 * pi * i / self.points for i in range(self.points)]
        ring = [self.edge(turn) for turn in turns]
        return [*ring, ring[0]]

    def holds(self, spot: Spot, *, margin_m: float = 0.0) -> bool:
        """Say whether `spot` lies inside, or closer to it than the margin."""
        east, north = spot[0] - self.centre[0], spot[1] - self.centre[1]
        turn = atan2(north / self.radii[1], east / self.radii[0])
        rim = self.edge(turn)
        reach = hypot(rim[0] - self.centre[0], rim[1] - self.centre[1])
        return hypot(east, north) < reach + margin_m


WOODS = (
    Blob("Alder Wood", (2750, 1950), (880, 780), (0.10, 0.6, 0.07, 1.9), 64),
    Blob("Long Wood", (-2750, 1500), (620, 980), (0.12, 2.1, 0.06, 0.4), 64),
    Blob("South Wood", (150, -2750), (640, 480), (0.11, 1.2, 0.08, 2.6), 56),
    Blob("Far Wood", (-4850, -1150), (620, 820), (0.11, 1.5, 0.07, 0.9), 56),
    Blob("Dawn Wood", (4900, -1500), (640, 760), (0.12, 2.7, 0.06, 1.3), 56),
    Blob("Estate Wood", (2250, -1300), (430, 330), (0.08, 0.3, 0.06, 1.1)),
    Blob("Chapel Copse", (-1650, 1180), (210, 160), (0.10, 1.0, 0.07, 0.2), 36),
    Blob("Badger Copse", (-2600, -1250), (240, 170), (0.12, 2.4, 0.05, 1.4), 36),
    Blob("Rye Copse", (-2420, -2560), (190, 140), (0.10, 0.9, 0.08, 2.2), 36),
    Blob("Mill Copse", (330, 1500), (200, 260), (0.09, 1.7, 0.07, 0.8), 36),
    Blob("High Copse", (4700, 1650), (260, 210), (0.10, 1.9, 0.07, 0.6), 36),
    Blob("East Copse", (3150, -650), (210, 240), (0.12, 0.2, 0.06, 2.0), 36),
)
LAKE = Blob("Lake Sarn", (1080, -1480), (390, 300), (0.11, 0.8, 0.07, 1.6), 56)
PONDS = (
    Blob("Mill Pond", (520, 980), (95, 60), (0.08, 0.4, 0.05, 1.0), 28),
    Blob("Rye Pond", (-2130, -1870), (80, 55), (0.08, 1.4, 0.05, 0.3), 28),
)


def smooth(line: Line, rounds: int = 3) -> Line:
    """Round off the corners of `line`, keeping its ends (Chaikin's corner cutting)."""
    for _ in range(rounds):
        cut: Line = [line[0]]
        for (x0, y0), (x1, y1) in pairwise(line):
            cut += [(0.75 * x0 + 0.25 * x1, 0.75 * y0 + 0.25 * y1)]
            cut += [(0.25 * x0 + 0.75 * x1, 0.25 * y0 + 0.75 * y1)]
        line = [*cut, line[-1]]
    return line


def beside(line: Line, offset_m: float) -> Line:
    """Return `line` moved to its left by `offset_m`."""
    moved: Line = []
    for i, (x, y) in enumerate(line):
        (x0, y0), (x1, y1) = line[max(i - 1, 0)], line[min(i + 1, len(line) - 1)]
        far = hypot(x1 - x0, y1 - y0)
        moved.append((x - offset_m * (y1 - y0) / far, y + offset_m * (x1 - x0) / far))
    return moved


def band(line: Line, width_m: float) -> Line:
    """Return the closed outline of a band along `line`."""
    left, right = beside(line, width_m / 2), beside(line, -width_m / 2)
    return [*left, *reversed(right), left[0]]


def land(rng: np.random.Generator) -> list[Feature]:
    """Draw the ground as GeoJSON features, lowest layer first."""
    return [
        *_fields(rng),
        *(_area("wood", blob.ring(), blob.name) for blob in WOODS),
        _area("water", band(smooth(RIVER), 26), "River Sarn"),
        *(_area("water", blob.ring(), blob.name) for blob in (LAKE, *PONDS)),
        *(_track("path", smooth(path), "") for path in PATHS),
        *(_track("road", smooth(road), name) for road, name in _roads()),
        *(_track("tree-row", row, "") for row in TREE_ROWS),
        *_buildings(rng),
    ]


def keep_out() -> list[Feature]:
    """Return the ground where no box may hang, as GeoJSON features; None is the usual distance."""
    lines = (("power-line", POWER_LINE, 30), ("path", smooth(PATHS[3]), None))
    areas = (
        ("play-area", SCHOOL_GROUND, 40),
        ("no-permission", ESTATE, 0),
        ("water", LAKE.ring(), None),
    )
    return [
        *(
            _feature("LineString", _on_globe(line), {"kind": kind, "buffer_m": buffer_m})
            for kind, line, buffer_m in lines
        ),
        *(
            _feature("Polygon", [_on_globe(ring)], {"kind": kind, "buffer_m": buffer_m})
            for kind, ring, buffer_m in areas
        ),
    ]


def _roads() -> list[tuple[Line, str]]:
    named = [
        (MAIN_ROAD, "Varrula road"), (NORTH_ROAD, "North road"), (SOUTH_ROAD, "South road"),
        (WOOD_ROAD, "Wood lane"), (FARM_TRACK, "Rye lane"),
    ]  # fmt: skip
    return named + [(street, "") for street in STREETS]


def _fields(rng: np.random.Generator) -> list[Feature]:
    """Lay a bent grid over the country; cells in woods, water and town stay open ground."""
    columns, rows = len(_COLUMNS_M) - 1, 6
    nodes = {
        (i, j): _node(i, j, rng.uniform(-70, 70, size=2))
        for i in range(columns + 1)
        for j in range(rows + 1)
    }
    fields: list[Feature] = []
    hedges: list[Feature] = []
    for i in range(columns):
        for j in range(rows):
            cell = [nodes[i, j], nodes[i + 1, j], nodes[i + 1, j + 1], nodes[i, j + 1]]
            hedge = rng.random() < 0.14
            fields.extend(
                _area("field", [*field, field[0]], "") for field in _cut(cell, rng) if _open(field)
            )
            if hedge and j > 0 and all(_dry(spot) for spot in (cell[0], cell[1])):
                hedges.append(_track("hedge", [cell[0], _middle(cell[0], cell[1]), cell[1]], ""))
    return fields + hedges


def _node(i: int, j: int, shift: np.ndarray) -> Spot:
    x, y = _COLUMNS_M[i], -3420 + 1045 * j
    bent = (x + 140 * sin(y / 1300) + shift[0], y + 160 * sin(x / 1500) + shift[1])
    return float(bent[0]), float(bent[1])


def _middle(one: Spot, other: Spot) -> Spot:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def _cut(cell: Line, rng: np.random.Generator) -> list[Line]:
    """Split some cells in two, and draw every field in from its lanes."""
    a, b, c, d = cell
    way = rng.random()
    if way < 0.07:
        parts = [[a, _middle(a, b), _middle(c, d), d], [_middle(a, b), b, c, _middle(c, d)]]
    elif way < 0.14:
        parts = [[a, b, _middle(b, c), _middle(a, d)], [_middle(a, d), _middle(b, c), c, d]]
    else:
        parts = [cell]
    return [_drawn_in(part, 0.955) for part in parts]


def _drawn_in(part: Line, share: float) -> Line:
    x = sum(spot[0] for spot in part) / len(part)
    y = sum(spot[1] for spot in part) / len(part)
    return [(x + share * (px - x), y + share * (py - y)) for px, py in part]


def _open(field: Line) -> bool:
    centre = _middle(_middle(field[0], field[2]), _middle(field[1], field[3]))
    if hypot(centre[0] + 120, centre[1]) < 700:
        return False
    if any(blob.holds(centre) for blob in (*WOODS, LAKE)):
        return False
    covered = sum(any(blob.holds(spot) for blob in (*WOODS, LAKE)) for spot in field)
    return covered < 3


def _dry(spot: Spot) -> bool:
    clear = not any(blob.holds(spot, margin_m=40) for blob in (*WOODS, LAKE))
    return clear and hypot(spot[0] + 120, spot[1]) > 750


def _buildings(rng: np.random.Generator) -> list[Feature]:
    features: list[Feature] = []
    for street in STREETS:
        for (x0, y0), (x1, y1) in pairwise(street):
            length = hypot(x1 - x0, y1 - y0)
            turn = atan2(y1 - y0, x1 - x0)
            for step in np.arange(60.0, length - 35, 104.0):
                for side in (-1, 1):
                    spot = (x0 + step * cos(turn), y0 + step * sin(turn))
                    set_back = side * rng.uniform(32, 40)
                    centre = (spot[0] - set_back * sin(turn), spot[1] + set_back * cos(turn))
                    size = (rng.uniform(30, 52), rng.uniform(18, 26))
                    if rng.random() < 0.8 and not _in_school(centre):
                        features.append(_area("building", _house(centre, size, turn), ""))
    for centre, size, turn, name in _LANDMARKS:
        features.append(_area("building", _house(centre, size, turn), name))
    return features


_LANDMARKS: tuple[tuple[Spot, Spot, float, str], ...] = (
    ((-30, 75), (46, 24), 0.1, "Chapel"),
    ((-545, 280), (70, 26), 0.12, "School"),
    ((-360, 190), (58, 34), -0.05, "Old dairy"),
    ((470, 1040), (34, 22), 0.7, "Mill"),
    ((-2010, -2120), (52, 24), 0.25, "Rye barn"),
    ((-1935, -2105), (26, 16), 0.25, "Rye house"),
    ((-1990, -2230), (30, 14), 0.25, "Rye shed"),
    ((2090, 1330), (20, 13), 0.9, "Wood hut"),
    ((2120, -1120), (60, 30), 0.3, "Estate house"),
    ((-1330, 520), (30, 18), -0.1, "Linden house"),
    ((1330, -1010), (18, 12), 0.4, "Boat house"),
    ((-300, 1700), (32, 20), 0.2, "North house"),
)


def _in_school(spot: Spot) -> bool:
    return -660 < spot[0] < -430 and 110 < spot[1] < 310


def _house(centre: Spot, size: Spot, turn: float) -> Line:
    corners = [(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]
    ring: Line = []
    for east, north in corners:
        x, y = east * size[0] / 2, north * size[1] / 2
        ring.append(
            (centre[0] + x * cos(turn) - y * sin(turn), centre[1] + x * sin(turn) + y * cos(turn))
        )
    return ring


def _area(kind: str, ring: Line, name: str) -> Feature:
    return _feature("Polygon", [_on_globe(ring)], {"kind": kind, "name": name})


def _track(kind: str, line: Line, name: str) -> Feature:
    return _feature("LineString", _on_globe(line), {"kind": kind, "name": name})


def _on_globe(line: Line) -> list[list[float]]:
    return [list(to_globe(spot)) for spot in line]


def _feature(shape: str, coordinates: object, properties: dict[str, object]) -> Feature:
    geometry = {"type": shape, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}
