"""Where could a bait box hang in the invented country, and which ones hang already?"""

from math import pi

from demo_data.frame import Spot, to_globe
from demo_data.ground import WOODS

Row = dict[str, object]

_WOOD = {wood.name: wood for wood in WOODS}
_ALDER, _LONG, _SOUTH = _WOOD["Alder Wood"], _WOOD["Long Wood"], _WOOD["South Wood"]
_ESTATE, _CHAPEL, _BADGER = _WOOD["Estate Wood"], _WOOD["Chapel Copse"], _WOOD["Badger Copse"]
_RYE, _MILL, _EAST = _WOOD["Rye Copse"], _WOOD["Mill Copse"], _WOOD["East Copse"]

# site, spot, height_m, facing_deg, shade, kind, permission, owner, used, catches, seasons, note
_SITES: tuple[tuple[object, ...], ...] = (
    ("Alder corner", _ALDER.edge(1.22 * pi), 2.4, 200, "part", "tree", "yes", "I. Tarnel",
     "yes", 2, 3, ""),
    ("Alder gate", _ALDER.edge(1.36 * pi), 2.2, 170, "part", "tree", "yes", "I. Tarnel",
     "yes", 0, 2, ""),
    ("Alder west oak", _ALDER.edge(1.02 * pi), 3.4, 150, "part", "tree", "asked", "Wood board",
     "no", None, None, ""),
    ("Alder north spruce", _ALDER.edge(0.62 * pi), 4.6, 180, "full", "tree", "asked",
     "Wood board", "no", None, None, "leans; look at it again"),
    ("Long Wood bend", _LONG.edge(1.86 * pi), 2.4, 130, "part", "tree", "yes", "Orrin family",
     "no", None, None, ""),
    ("Long Wood stile", _LONG.edge(0.08 * pi), 2.0, 110, "part", "post", "yes", "Orrin family",
     "", None, None, ""),
    ("Long Wood south", _LONG.edge(1.55 * pi), 3.2, 180, "full", "tree", "asked",
     "Orrin family", "no", None, None, ""),
    ("South Wood tip", _SOUTH.edge(0.52 * pi), 2.5, 160, "part", "tree", "yes", "Wood board",
     "no", None, None, ""),
    ("South Wood ride", _SOUTH.edge(0.83 * pi), 3.0, 190, "full", "tree", "yes", "Wood board",
     "no", None, None, ""),
    ("Estate lime", _ESTATE.edge(0.60 * pi), 4.0, 180, "part", "tree", "no", "Estate", "no",
     None, None, "said no in March"),
    ("Chapel copse", _CHAPEL.edge(1.60 * pi), 2.3, 150, "part", "tree", "yes", "Chapel board",
     "yes", 1, 2, ""),
    ("Badger copse", _BADGER.edge(0.20 * pi), 2.5, 120, "part", "tree", "asked", "H. Veld",
     "no", None, None, "old sett below, keep off the north side"),
    ("Rye copse", _RYE.edge(0.30 * pi), 2.4, 140, "part", "tree", "yes", "H. Veld", "yes", 1, 3,
     ""),
    ("Mill copse", _MILL.edge(1.42 * pi), 2.6, 165, "part", "tree", "yes", "Mill house", "no",
     None, None, ""),
    ("East copse", _EAST.edge(0.90 * pi), 3.5, 180, "full", "tree", "asked", "", "", None, None,
     ""),
    ("Old dairy wall", (-330, 168), 2.8, 185, "none", "building", "yes", "I. Tarnel", "no", None,
     None, "above the hives"),
    ("Chapel porch", (-52, 60), 3.0, 175, "part", "building", "asked", "Chapel board", "no", None,
     None, ""),
    ("School shed", (-500, 235), 2.2, 160, "part", "building", "asked", "School", "no", None,
     None, "by the play ground"),
    ("Mill loft", (452, 1032), 4.8, 210, "none", "building", "yes", "Mill house", "no", None,
     None, "ladder needed"),
    ("Rye barn south", (-2012, -2134), 2.5, 180, "none", "building", "yes", "H. Veld", "no",
     None, None, ""),
    ("Rye shed roof", (-1990, -2223), 2.7, 150, "none", "roof", "yes", "H. Veld", "no", None,
     None, ""),
    ("Linden house", (-1322, 510), 2.4, 140, "part", "building", "yes", "M. Oden", "no", None,
     None, ""),
    ("Boat house", (1325, -1003), 1.9, 170, "part", "building", "asked", "Anglers", "", None,
     None, "water edge"),
    ("North house", (-310, 1690), 2.0, 190, "part", "stand", "yes", "S. Brenn", "no", None, None,
     ""),
    ("West avenue", (-2150, 370), 2.5, 160, "part", "tree", "yes", "Road office", "no", None,
     None, ""),
    ("North avenue", (-253, 1120), 2.5, 120, "part", "tree", "yes", "Road office", "yes", 0, 1,
     ""),
    ("South avenue ash", (-980, -1440), 3.1, 200, "part", "tree", "yes", "Road office", "no",
     None, None, ""),
    ("Line post", (-1004, 330), 2.0, 180, "none", "post", "yes", "M. Oden", "no", None, None,
     "under the power line"),
    ("River willow", (690, 130), 1.6, 150, "part", "tree", "yes", "Town", "no", None, None, ""),
    ("East row maple", (2900, 95), 2.4, 165, "part", "tree", "yes", "", "no", None, None, ""),
)  # fmt: skip


def sites() -> list[Row]:
    """Return the thirty sites a keeper wrote down on walks."""
    names = (
        "height_m", "facing_deg", "shade", "kind", "permission", "owner", "used_before",
        "catches_before", "seasons_before", "note",
    )  # fmt: skip
    return [
        {"site": name, **_place(spot), **dict(zip(names, rest, strict=True))}  # type: ignore[arg-type]
        for name, spot, *rest in _SITES
    ]


def boxes() -> list[Row]:
    """Return six bait boxes of unequal make."""
    made = (
        ("B1", 42, 13, "bottom", 1, "yes", ""),
        ("B2", 40, 12, "bottom", 1, "yes", ""),
        ("B3", 36, 15, "bottom", 0, "", "two bars with a strip of wax"),
        ("B4", 52, 13, "middle", 0, "", ""),
        ("B5", 28, 20, "bottom", 0, "", "light, for high places"),
        ("B6", 44, 10, "top", None, "", "bought second-hand"),
    )
    names = (
        "box", "volume_l", "entrance_cm2", "entrance_place", "old_combs",
        "comb_source_inspected", "note",
    )  # fmt: skip
    return [dict(zip(names, row, strict=True)) for row in made]


def hangings() -> list[Row]:
    """Return last season's two boxes, the two that hang now, and one that left with a swarm."""
    hung = (
        ("B1", "Alder corner", "2025-05-12", "2025-08-20", "lemongrass-oil", "2025-05-12"),
        ("B2", "Rye copse", "2025-05-14", "2025-08-20", "lemongrass-oil", "2025-05-14"),
        ("B1", "Alder corner", "2026-05-08", "", "lemongrass-oil", "2026-05-29"),
        ("B2", "Chapel copse", "2026-05-09", "", "none", ""),
        ("B6", "Mill copse", "2026-05-02", "2026-06-01", "lemongrass-oil", "2026-05-02"),
    )
    names = ("box", "site", "hung_on", "taken_on", "lure", "lure_on")
    return [dict(zip(names, row, strict=True)) for row in hung]


def checks() -> list[Row]:
    """Return what was seen at the boxes, last season's and this one's."""
    seen = (
        ("B1", "2025-05-25", 0, "no", "no", "none", ""),
        ("B1", "2025-06-12", 22, "no", "no", "none", ""),
        ("B1", "2025-06-14", None, "yes", "yes", "none", ""),
        ("B2", "2025-05-28", 0, "", "no", "bird", "blue tit; left alone"),
        ("B2", "2025-07-02", 0, "", "no", "none", "the tits have flown"),
        ("B6", "2026-05-16", 3, "no", "no", "none", ""),
        ("B6", "2026-05-25", 25, "no", "no", "none", "busy at noon"),
        ("B6", "2026-05-27", None, "yes", "yes", "none", ""),
        ("B1", "2026-05-15", 0, "no", "no", "none", ""),
        ("B1", "2026-05-22", 2, "no", "no", "none", ""),
        ("B1", "2026-05-29", 14, "no", "no", "none", "scouts all afternoon"),
        ("B2", "2026-05-18", 0, "", "no", "ants", "brushed out"),
        ("B2", "2026-05-27", 0, "", "no", "none", ""),
        ("B1", "2026-06-03", 6, "no", "no", "none", ""),
    )
    names = ("box", "date", "scouts", "pollen_in", "occupied", "tenant", "note")
    return [dict(zip(names, row, strict=True)) for row in seen]


def catches() -> list[Row]:
    """Return the one catch of last season and the one of this."""
    return [
        {
            "box": "B6", "site": "Mill copse", "caught_on": "2026-05-27", "kind": "prime",
            "from_colony": "", "moved_on": "2026-06-01", "to_colony": "",
            "note": "bees given to S. Brenn, the box came back",
        },
        {
            "box": "B1", "site": "Alder corner", "caught_on": "2025-06-14", "kind": "unknown",
            "from_colony": "", "moved_on": "2025-06-15", "to_colony": "Nettle",
            "note": "left at dusk, moved closed and strapped",
        }
    ]  # fmt: skip


def sources() -> list[Row]:
    """Return what the keeper knows of other people's bees."""
    known = (
        ("Neighbour at North house", (-240, 1760), 1.2, 0.4, 2.2),
        ("Estate walls", (2130, -1110), 0.9, 0.2, 1.8),
    )
    return [
        {
            "source": name, **_place(spot), "swarms_expected": mean,
            "swarms_low": low, "swarms_high": high,
        }
        for name, spot, mean, low, high in known
    ]  # fmt: skip


def _place(spot: Spot) -> Row:
    longitude, latitude = to_globe(spot)
    return {"latitude": latitude, "longitude": longitude}
