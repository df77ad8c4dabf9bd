"""Who lives in the invented yards, and what did their keeper see this spring?"""

from dataclasses import dataclass, field

import numpy as np

from demo_data.frame import to_globe

Row = dict[str, object]

_TOWN = ("2026-04-18", "2026-04-28", "2026-05-08", "2026-05-18", "2026-05-27", "2026-06-04")
_WOOD = ("2026-04-19", "2026-05-01", "2026-05-10", "2026-05-20", "2026-05-29", "2026-06-03")
_FARM = ("2026-04-14", "2026-04-26", "2026-05-08", "2026-05-17", "2026-05-28", "2026-06-05")
_CELLS = (
    "queen_cells_egg", "queen_cells_larva", "queen_cells_capped",
    "queen_cells_emerged", "queen_cells_torn",
)  # fmt: skip
# from this visit of a yard on the keeper looked for queen cells and drones
_FIRST_SEARCH = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One colony's spring: what was counted at each visit, and what stood out at some of them."""

    colony: str
    dates: tuple[str, ...]
    combs: tuple[float, ...]
    foundation: tuple[float, ...]
    bees: tuple[float, ...]
    brood: tuple[float, ...]
    supers: tuple[float, ...] = ()
    bees_how: str = "seams"
    seen: dict[int, Row] = field(default_factory=dict)


_STORIES = (
    # it left in the fair days before 30 May and nobody saw it
    Story(
        colony="Anvil", dates=_TOWN,
        combs=(8, 8, 9, 10, 10, 10), foundation=(2, 2, 1, 0, 0, 0), supers=(0, 0, 0, 1, 1, 1),
        bees=(5, 6, 8, 11, 13.5, 6.5), brood=(3, 4, 6, 7.5, 7.5, 5),
        seen={
            4: {"combs_looked": 3, "queen_cups": 5, "nectar_in_brood": "some", "drones": "many",
                "queen_seen": "no", "bees_outside": "many", "note": "rain coming, looked at 3"},
            5: {"combs_brood_capped": 4.5, "combs_looked": 5, "eggs_seen": "no",
                "queen_seen": "no", "queen_cells_egg": 0, "queen_cells_larva": 0,
                "queen_cells_capped": 9, "oldest_queen_cell": "ripe", "queen_cell_place": "edge"},
        },
    ),
    # crowded, cups only
    Story(
        colony="Bobbin", dates=_TOWN, bees_how="packed",
        combs=(7, 8, 10, 12, 13, 14), foundation=(2, 2, 1, 1, 1, 0),
        bees=(5, 6.5, 9, 12, 13.5, 15), brood=(3, 4, 6, 7, 8, 8),
        seen={
            5: {"combs_looked": 8, "eggs_seen": "yes", "queen_seen": "yes", "queen_cups": 6,
                "queen_cells_egg": 0, "queen_cells_larva": 0, "queen_cells_capped": 0,
                "combs_empty": 0.5, "nectar_in_brood": "some", "drones": "many",
                "bees_outside": "some", "note": "hive full to the last bar"},
        },
    ),
    # eggs in queen cells
    Story(
        colony="Candle", dates=_TOWN, bees_how="packed",
        combs=(6, 7, 9, 11, 12, 13), foundation=(2, 2, 2, 1, 1, 0),
        bees=(4.5, 6, 8, 11, 12.5, 13.5), brood=(2.5, 4, 5.5, 7, 7.5, 8),
        seen={
            5: {"combs_looked": 8, "eggs_seen": "yes", "queen_cups": 4, "queen_cells_egg": 5,
                "queen_cells_larva": 0, "queen_cells_capped": 0, "oldest_queen_cell": "egg",
                "queen_cell_place": "edge", "combs_empty": 0.5, "drones": "many"},
        },
    ),
    # a quiet nucleus
    Story(
        colony="Dibber", dates=_TOWN[3:],
        combs=(4, 5, 6), foundation=(6, 5, 4), bees=(3, 4, 5), brood=(2.5, 3.5, 4),
        seen={
            2: {"combs_looked": 4, "eggs_seen": "yes", "queen_seen": "yes", "queen_cups": 0,
                "queen_cells_egg": 0, "queen_cells_larva": 0, "queen_cells_capped": 0,
                "nectar_in_brood": "none", "brood_health": "normal"},
        },
    ),
    # a clipped queen of 2023, larvae in cells
    Story(
        colony="Ember", dates=_TOWN,
        combs=(9, 9, 10, 10, 10, 10), foundation=(1, 1, 0, 0, 0, 0), supers=(0, 0, 1, 1, 2, 2),
        bees=(6, 8, 10, 13, 15, 17), brood=(4, 5, 7, 8, 8, 7.5),
        seen={
            5: {"combs_looked": 7, "eggs_seen": "yes", "queen_seen": "yes", "queen_cups": 3,
                "queen_cells_egg": 2, "queen_cells_larva": 4, "queen_cells_capped": 0,
                "oldest_queen_cell": "small-larva", "queen_cell_place": "edge",
                "note": "wing clipped last autumn"},
        },
    ),
    # swarmed on 28 May and was seen; virgins pipe
    Story(
        colony="Flint", dates=(*_WOOD[:4], _WOOD[5]), bees_how="packed",
        combs=(7, 8, 11, 13, 14), foundation=(2, 2, 1, 1, 0),
        bees=(5, 7, 10, 14, 6), brood=(3, 4.5, 7, 8, 5),
        seen={
            3: {"combs_looked": 6, "eggs_seen": "yes", "queen_cups": 5, "queen_cells_egg": 4,
                "queen_cells_larva": 0, "queen_cells_capped": 0, "oldest_queen_cell": "egg",
                "queen_cell_place": "edge"},
            4: {"combs_brood_capped": 4.5, "combs_looked": 3, "eggs_seen": "no",
                "queen_cells_capped": 6, "queen_cells_emerged": 0, "oldest_queen_cell": "ripe",
                "piping": "yes", "note": "piping in the evening; closed again at once"},
        },
    ),
    # larvae in queen cells
    Story(
        colony="Garnet", dates=_WOOD,
        combs=(6, 7, 9, 10, 11, 12), foundation=(2, 2, 2, 1, 1, 1),
        bees=(4, 5.5, 7.5, 10, 12, 13.5), brood=(2.5, 4, 5.5, 7, 8, 7.5),
        seen={
            5: {"combs_looked": 7, "eggs_seen": "yes", "queen_cups": 2, "queen_cells_egg": 3,
                "queen_cells_larva": 6, "queen_cells_capped": 0,
                "oldest_queen_cell": "large-larva", "queen_cell_place": "edge",
                "nectar_in_brood": "some", "drones": "many"},
        },
    ),
    # two capped cells on the face of the comb, one age, room enough
    Story(
        colony="Heron", dates=_WOOD,
        combs=(7, 7, 8, 8, 9, 9), foundation=(3, 3, 2, 2, 1, 1),
        bees=(4, 4.5, 5.25, 5.5, 6, 6), brood=(2, 2.5, 3.5, 4, 4, 4),
        seen={
            5: {"combs_looked": 4, "eggs_seen": "yes", "queen_seen": "yes", "queen_cups": 1,
                "queen_cells_egg": 0, "queen_cells_larva": 0, "queen_cells_capped": 2,
                "oldest_queen_cell": "capped", "queen_cell_place": "face", "combs_empty": 2,
                "nectar_in_brood": "none", "note": "old queen walks slowly"},
        },
    ),
    # split on 20 May, the queen moved to Pebble
    Story(
        colony="Iris", dates=_WOOD, bees_how="packed",
        combs=(6, 8, 10, 12, 8, 8), foundation=(2, 2, 1, 1, 2, 2),
        bees=(4.5, 6.5, 9, 12, 7, 7), brood=(3, 4, 6, 8, 4, 3),
        seen={
            3: {"combs_looked": 8, "eggs_seen": "yes", "queen_seen": "yes", "queen_cups": 4,
                "queen_cells_egg": 3, "queen_cells_larva": 0, "queen_cells_capped": 0,
                "oldest_queen_cell": "egg", "queen_cell_place": "edge"},
            4: {"combs_brood_capped": 3.5, "combs_looked": 2, "eggs_seen": "no",
                "queen_cells_capped": 5, "oldest_queen_cell": "capped"},
            5: {"combs_brood_capped": 3, "combs_looked": 3, "eggs_seen": "no",
                "queen_cells_capped": 1, "queen_cells_egg": 0, "queen_cells_larva": 0,
                "oldest_queen_cell": "capped", "queen_cell_place": "edge"},
        },
    ),
    # quiet, plenty of room, a queen of last year
    Story(
        colony="Jackdaw", dates=_WOOD,
        combs=(6, 6, 7, 8, 9, 9), foundation=(4, 4, 3, 2, 1, 1), supers=(0, 0, 0, 0, 1, 1),
        bees=(3.5, 4, 5, 6.5, 7.5, 8), brood=(2, 3, 4, 5, 5.5, 6),
        seen={
            5: {"combs_looked": 6, "eggs_seen": "yes", "queen_cups": 2, "queen_cells_egg": 0,
                "queen_cells_larva": 0, "queen_cells_capped": 0, "nectar_in_brood": "none",
                "drones": "some", "combs_empty": 1},
        },
    ),
    # the brood looks wrong
    Story(
        colony="Kettle", dates=_FARM,
        combs=(6, 7, 8, 9, 9, 9), foundation=(2, 2, 2, 1, 1, 1),
        bees=(3.5, 4, 5, 6, 6, 5.5), brood=(2, 3, 4, 4.5, 4.5, 4),
        seen={
            4: {"brood_health": "unsure", "note": "patchy brood"},
            5: {"combs_looked": 4, "eggs_seen": "yes", "queen_cups": 2, "queen_cells_egg": 0,
                "queen_cells_larva": 0, "queen_cells_capped": 0, "brood_health": "suspect",
                "note": "sunken caps, odd smell; closed up"},
        },
    ),
    # last year's catch, small
    Story(
        colony="Nettle", dates=_FARM, bees_how="loose",
        combs=(5, 5, 6, 7, 8, 9), foundation=(2, 2, 2, 2, 2, 2),
        bees=(2.5, 3, 4, 5, 6.5, 7), brood=(1.5, 2, 3, 4, 5, 5),
        seen={
            5: {"combs_looked": 5, "eggs_seen": "yes", "queen_cups": 1, "queen_cells_egg": 0,
                "queen_cells_larva": 0, "queen_cells_capped": 0, "drones": "some"},
        },
    ),
    # strong; cells were taken out on 28 May with the queen seen
    Story(
        colony="Oriole", dates=_FARM,
        combs=(9, 9, 10, 10, 10, 10), foundation=(1, 1, 0, 0, 0, 0), supers=(0, 0, 1, 1, 2, 2),
        bees=(6, 8, 11, 14, 16, 16.5), brood=(4, 5, 7, 8, 8, 8),
        seen={
            4: {"combs_looked": 8, "eggs_seen": "yes", "queen_seen": "yes", "queen_cups": 4,
                "queen_cells_egg": 2, "queen_cells_larva": 3, "queen_cells_capped": 0,
                "oldest_queen_cell": "small-larva", "queen_cell_place": "edge"},
            5: {"combs_looked": 5, "eggs_seen": "yes", "queen_seen": "no", "queen_cups": 5,
                "queen_cells_egg": 0, "queen_cells_larva": 0, "queen_cells_capped": 0,
                "nectar_in_brood": "some", "drones": "many", "bees_outside": "some"},
        },
    ),
    # the part of Iris with the old queen
    Story(
        colony="Pebble", dates=_FARM[4:], bees_how="loose",
        combs=(5, 6), foundation=(2, 2), bees=(4, 4.5), brood=(3, 3.5),
        seen={
            1: {"combs_looked": 3, "eggs_seen": "yes", "queen_seen": "yes", "queen_cups": 1,
                "queen_cells_egg": 0, "queen_cells_larva": 0, "queen_cells_capped": 0},
        },
    ),
)  # fmt: skip


_COLONIES: tuple[tuple[object, ...], ...] = (
    ("Anvil", "Dairy Lane", "dadant-10", "dadant-super-10", 10, 2024, "no", "swarm", "2023-06-18",
     "no", ""),
    ("Bobbin", "Dairy Lane", "top-bar", "", 22, 2024, "no", "split", "2024-05-30", "no", ""),
    ("Candle", "Dairy Lane", "top-bar", "", 24, 2024, "no", "swarm", "2024-06-09", "", ""),
    ("Dibber", "Dairy Lane", "zander-10", "", 10, 2025, "no", "nucleus", "2026-05-09", "",
     "bought"),
    ("Ember", "Dairy Lane", "dadant-10", "dadant-super-10", 10, 2023, "yes", "package",
     "2023-05-06", "no", ""),
    ("Flint", "Alder Edge", "top-bar", "", 22, 2024, "no", "swarm", "2024-06-21", "no", ""),
    ("Garnet", "Alder Edge", "spruce-trough", "", 16, 2024, "", "split", "2024-06-02", "no",
     ""),
    ("Heron", "Alder Edge", "zander-10", "", 10, 2023, "no", "nucleus", "2023-05-20", "no",
     ""),
    ("Iris", "Alder Edge", "top-bar", "", 22, None, "no", "unknown", "", "",
     "its queen of 2024 went to Pebble"),
    ("Jackdaw", "Alder Edge", "dadant-10", "dadant-super-10", 10, 2025, "no", "unknown", "", "yes",
     ""),
    ("Kettle", "Long Rye", "spruce-trough", "", 16, 2025, "no", "split", "2024-06-02", "no",
     ""),
    ("Lantern", "Long Rye", "layens-14", "", 14, None, "", "swarm", "2025-06-29", "",
     "heavy; not opened yet"),
    ("Marrow", "Long Rye", "zander-10", "", 10, 2025, "no", "nucleus", "2024-05-11", "yes",
     ""),
    ("Nettle", "Long Rye", "top-bar", "", 20, None, "", "swarm", "2025-06-15", "no",
     "from the box at Alder corner"),
    ("Oriole", "Long Rye", "dadant-10", "dadant-super-10", 10, 2024, "no", "unknown", "", "no", ""),
    ("Pebble", "Long Rye", "top-bar", "", 20, 2024, "no", "split", "2026-05-20", "no",
     "split of Iris"),
)  # fmt: skip


def apiaries() -> list[Row]:
    """Return the three yards."""
    yards = (
        ("Dairy Lane", (-330.0, 145.0), 61, "06-14", "invented-1", "town, behind the old dairy"),
        ("Alder Edge", (2060.0, 1290.0), 74, "", "invented-2", "wood edge"),
        ("Long Rye", (-2030.0, -2190.0), 66, "", "invented-3", "farmland"),
    )
    rows: list[Row] = []
    for name, spot, elevation_m, peak, registration, note in yards:
        longitude, latitude = to_globe(spot)
        rows.append(
            {
                "apiary": name, "latitude": latitude, "longitude": longitude,
                "elevation_m": elevation_m, "season_peak": peak, "africanized_area": "no",
                "used_comb_allowed": "yes", "registration": registration, "note": note,
            }
        )  # fmt: skip
    return rows


def hives() -> list[Row]:
    """Return the one hive type that the keeper built to own measures."""
    return [
        {
            "hive_type": "spruce-trough", "comb_length_mm": 420, "comb_bottom_mm": 420,
            "comb_height_mm": 250, "combs_a_box": 16, "volume_l": 92, "frames": "yes",
        }
    ]  # fmt: skip


def colonies() -> list[Row]:
    """Return the sixteen colonies; Marrow died in winter and Lantern was never opened."""
    names = (
        "colony", "apiary", "hive_type", "super_type", "combs_max", "queen_year",
        "queen_clipped", "origin", "started", "swarmed_last_year", "note",
    )  # fmt: skip
    return [dict(zip(names, row, strict=True)) for row in _COLONIES]


def events() -> list[Row]:
    """Return what was done and what happened this spring."""
    return [
        {"colony": "Marrow", "date": "2026-04-14", "date_from": "2026-02-01", "event": "died",
         "how_known": "inferred", "note": "small cluster, stores left"},
        {"colony": "Oriole", "date": "2026-05-08", "event": "room-added", "amount": 1,
         "where": "above", "how_known": "seen"},
        {"colony": "Ember", "date": "2026-05-08", "event": "room-added", "amount": 1,
         "where": "above", "how_known": "seen"},
        {"colony": "Dibber", "date": "2026-05-09", "event": "fed", "how_known": "seen"},
        {"colony": "Anvil", "date": "2026-05-18", "event": "room-added", "amount": 1,
         "where": "above", "how_known": "seen"},
        {"colony": "Bobbin", "date": "2026-05-18", "event": "combs-added", "amount": 2,
         "where": "nest-edge", "how_known": "seen"},
        {"colony": "Iris", "date": "2026-05-20", "event": "split", "amount": 0.5,
         "queen_went": "moved", "other_colony": "Pebble", "how_known": "seen"},
        {"colony": "Ember", "date": "2026-05-27", "event": "room-added", "amount": 1,
         "where": "above", "how_known": "seen"},
        {"colony": "Flint", "date": "2026-05-28", "event": "swarmed", "how_known": "seen",
         "note": "into the tall alders, not reached"},
        {"colony": "Oriole", "date": "2026-05-28", "event": "queen-cells-removed",
         "cells_left": 0, "how_known": "seen"},
        {"colony": "Iris", "date": "2026-05-29", "event": "queen-cells-thinned", "cells_left": 1,
         "how_known": "seen"},
    ]  # fmt: skip


def outcomes() -> list[Row]:
    """Return how last season ended, as far as it is known; Candle, Iris and Lantern are not."""
    ended = (
        ("Anvil", "no-swarm", "", ""),
        ("Bobbin", "no-swarm", "", ""),
        ("Ember", "no-swarm", "", ""),
        ("Flint", "no-swarm", "", ""),
        ("Garnet", "no-swarm", "", ""),
        ("Heron", "no-swarm", "", ""),
        ("Jackdaw", "swarmed", "2025-06-11", ""),
        ("Kettle", "treated", "2025-06-02", ""),
        ("Marrow", "swarmed", "2025-06-21", "2025-06-16"),
        ("Oriole", "no-swarm", "", ""),
    )
    return [
        {"colony": colony, "season": 2025, "outcome": outcome, "date": day, "date_from": since}
        for colony, outcome, day, since in ended
    ]


def inspections(rng: np.random.Generator) -> list[Row]:
    """Write the notes of every visit: what the story tells, and the small things round it."""
    rows = [_notes(story, visit, rng) for story in _STORIES for visit in range(len(story.dates))]
    return sorted(rows, key=lambda row: (str(row["date"]), str(row["colony"])))


def _notes(story: Story, visit: int, rng: np.random.Generator) -> Row:
    combs, brood = story.combs[visit], story.brood[visit]
    honey = _quarters(min(combs * rng.uniform(0.15, 0.28), combs - brood))
    searched = story.dates[visit] >= _TOWN[_FIRST_SEARCH]
    looked = min(brood, float(np.ceil(brood * rng.uniform(0.6, 1.0))))
    row: Row = {
        "bees_how": story.bees_how,
        "combs_brood_capped": _quarters(brood * rng.uniform(0.48, 0.62)),
        "combs_drone": _quarters(brood * rng.uniform(0.0, 0.12)) if searched else None,
        "combs_honey": honey,
        "combs_empty": _quarters(max(0.0, combs - brood - honey) * rng.uniform(0.4, 1.0)),
        "combs_looked": looked if searched else None,
        "nectar_in_brood": str(rng.choice(["none", "none", "some"])),
        "eggs_seen": "yes",
        "queen_seen": str(rng.choice(["yes", "no", "no"])),
        "queen_cups": int(rng.poisson(1.6)) if searched else None,
        "drones": "some" if searched else "none",
        "brood_health": "normal",
        "note": "",
    }
    row |= dict.fromkeys(_CELLS[:3], 0 if searched else None)
    for name in row:
        if rng.random() < 0.24:
            row[name] = None
    return {
        "colony": story.colony,
        "date": story.dates[visit],
        "combs": combs,
        "combs_foundation": story.foundation[visit],
        "supers": story.supers[visit] if story.supers else None,
        "combs_bees": story.bees[visit],
        "combs_brood": brood,
        **row,
        **story.seen.get(visit, {}),
    }


def _quarters(combs: float) -> float:
    return int(4 * combs) / 4
