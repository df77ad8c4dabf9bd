"""What combs does a keeper count in an open hive?"""

import numpy as np

from swarmwatch.swarming.simulation.bees import CAPPED, Day, backfilled, nest_cells
from swarmwatch.swarming.simulation.colonies import Colonies
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Integers, Numbers, Words
from swarmwatch.swarming.simulation.keepers import HOW, Keepers

_QUARTERS = 4  # tables.md: quarters of combs are allowed
_NECTAR_SOME, _NECTAR_HEAVY = 0.12, 0.35  # definition: food in the nest, of its brood and food


def count_combs(
    keepers: Keepers,
    colonies: Colonies,
    opened: Flags,
    *,
    day: Day,
    numbers: Numbers,
    rng: np.random.Generator,
) -> dict[str, object]:
    """Count drawn combs, bees, brood, food and room in the hives opened.

    Returns
    -------
    Columns of the table ``inspections``, one value an opened hive; nothing is blank yet.
    """
    rows = np.flatnonzero(opened)

    def error() -> Floats:
        return _error(keepers, colonies, rows, rng)

    combs = np.round(colonies.combs[rows])
    foundation = np.round(colonies.combs[rows] + colonies.foundation[rows]) - combs
    supers = colonies.supers[rows]
    total = combs + foundation + supers * colonies.combs_a_super[rows]
    bees = _bees(keepers, colonies, rows, day, numbers)
    brood = true_brood_combs(colonies, numbers)[rows]
    seen_brood = _quarters(np.minimum(brood * error(), combs))
    workers = colonies.brood[rows].sum(axis=1)
    capped = colonies.brood[rows, CAPPED:].sum(axis=1) / np.maximum(workers, 1)
    drone = colonies.drone_brood[rows].sum(axis=1) / np.maximum(workers, 1)
    usable, free = (cells[rows] for cells in nest_cells(colonies, numbers))
    a_comb = usable / np.maximum(colonies.combs[rows], 1)
    honey = colonies.honey_g[rows] / (
        2 * colonies.area_cm2[rows] * numbers["honey_per_cm2"] * numbers["cells_usable"]
    )
    return {
        "combs": combs,
        "combs_foundation": foundation,
        "supers": supers,
        "combs_bees": _quarters(np.minimum(bees * error(), total)),
        "bees_how": np.array([*HOW, None], dtype=object)[keepers.how[colonies.keeper[rows]]],
        "combs_brood": seen_brood,
        "combs_brood_capped": np.minimum(_quarters(seen_brood * capped * error()), seen_brood),
        "combs_drone": np.minimum(_quarters(seen_brood * drone * error()), seen_brood),
        "combs_honey": _quarters(np.minimum(honey * error(), total)),
        "combs_empty": _quarters(np.minimum(free / a_comb * error(), combs)),
        "combs_looked": np.ceil(seen_brood * keepers.of("looked", colonies)[rows]),
        "nectar_in_brood": _nectar(backfilled(colonies, numbers)[rows] * error()),
    }


def true_brood_combs(colonies: Colonies, numbers: Numbers) -> Floats:
    """Return the combs over which the brood is spread, (n,)."""
    cells = colonies.brood.sum(axis=1) + colonies.drone_brood.sum(axis=1)
    full = 2 * colonies.area_cm2 * numbers["worker_cells"] * numbers["brood_comb_fill"]
    return np.asarray(np.minimum(cells / full, colonies.combs))


def _bees(
    keepers: Keepers, colonies: Colonies, rows: Integers, day: Day, numbers: Numbers
) -> Floats:
    """Return the combs that the bees at home cover, as each keeper understands it."""
    densities = np.array([numbers[f"comb_bees_{how}"] for how in (*HOW, "seams")])
    density = densities[keepers.how[colonies.keeper[rows]]]
    home = colonies.workers()[rows] * (1 - numbers["away_share"] * day.flight[rows])
    return np.asarray(home / (2 * colonies.area_cm2[rows] * density))


def _error(
    keepers: Keepers, colonies: Colonies, rows: Integers, rng: np.random.Generator
) -> Floats:
    noise = rng.normal(0, 1, len(rows)) * keepers.of("noise", colonies)[rows]
    return np.asarray(keepers.of("bias", colonies)[rows] * np.exp(noise))


def _quarters(combs: Floats) -> Floats:
    return np.asarray(np.round(combs * _QUARTERS) / _QUARTERS)


def _nectar(share: Floats) -> Words:
    at = (share >= _NECTAR_SOME).astype(int) + (share >= _NECTAR_HEAVY)
    return np.asarray(np.array(["none", "some", "heavy"], dtype=object)[at])
