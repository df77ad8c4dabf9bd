"""What does a keeper see, miss and misread of queen, eggs and queen cells?"""

import numpy as np

from swarmwatch.swarming.simulation.bees import HATCHED
from swarmwatch.swarming.simulation.cells import (
    EMERGED,
    SEALED,
    STAGES,
    stages_of_cells,
)
from swarmwatch.swarming.simulation.colonies import (
    GONE,
    NEVER,
    PARTED,
    QUEENLESS,
    SUPERSEDING,
    Colonies,
)
from swarmwatch.swarming.simulation.drawing import Flags, Floats, Integers, Numbers, Words
from swarmwatch.swarming.simulation.keepers import Keepers

_SOME = np.array(["none", "some", "many"], dtype=object)
_EGGS_TO_SEE = 60  # definition: fewer eggs are no egg pattern
_DRONES_SOME, _DRONES_MANY = 40, 500  # definition: drones in a colony that a keeper calls so
_BEARD = 1.35  # definition: bees hang outside from this crowding on
_HOT_C = 25  # definition: or on such a day
_FACE, _BOTH = 0.08, 0.3  # evidence simulation.cells_mean: swarm cells hang mostly on edges


def look(
    keepers: Keepers,
    colonies: Colonies,
    opened: Flags,
    temp_max_c: Floats,
    *,
    numbers: Numbers,
    rng: np.random.Generator,
) -> dict[str, object]:
    """See what there is of queen, eggs, cells and drones in the hives opened.

    Returns
    -------
    Columns of the table ``inspections``, one value an opened hive; nothing is blank yet.
    """
    rows = np.flatnonzero(opened)
    counts = _cells_by_stage(colonies, rows, numbers)
    noticed, found = _notice(
        keepers, colonies, rows, counts, usual_combs=numbers["swarm_cell_combs"], rng=rng
    )
    found = _misread(keepers, colonies, rows, found, rng)
    egg, larva, sealed = (
        found[:, 0],
        found[:, 1] + found[:, 2],
        found[:, SEALED:EMERGED].sum(axis=1),
    )
    cells = found[:, :EMERGED]
    any_cell = np.asarray(cells.any(axis=1))
    oldest = np.where(any_cell, EMERGED - 1 - (cells[:, ::-1] > 0).argmax(axis=1), NEVER)
    share = keepers.of("finds_share", colonies)[rows]
    torn, opened_cells, cups = (
        rng.poisson(v[rows] * share) for v in (colonies.torn, colonies.opened, colonies.cups)
    )
    return {
        "eggs_seen": _eggs(keepers, colonies, rows, rng),
        "queen_seen": _queen(keepers, colonies, rows, rng),
        "queen_cups": cups,
        "queen_cells_egg": egg,
        "queen_cells_larva": larva,
        "queen_cells_capped": sealed,
        "queen_cells_emerged": np.where(noticed, opened_cells, 0),
        "queen_cells_torn": torn,
        "oldest_queen_cell": np.array([*STAGES, None], dtype=object)[oldest],
        "queen_cell_place": _place(colonies, rows, any_cell, rng),
        "piping": _piping(colonies, rows, numbers, rng),
        "bees_outside": _outside(colonies, rows, temp_max_c, rng),
        "drones": _drones(colonies, rows, rng),
        "brood_health": np.full(len(rows), "normal", dtype=object),
    }


def _cells_by_stage(colonies: Colonies, rows: Integers, numbers: Numbers) -> Integers:
    """Return the occupied queen cells of each stage, (n_rows, n_stages); held queens are ripe."""
    at = np.minimum(stages_of_cells(colonies, numbers)[rows], EMERGED - 1)
    cells = colonies.cells[rows]
    out = np.zeros((len(rows), len(STAGES)), dtype=np.int64)
    for i in range(len(STAGES)):
        out[:, i] = np.where(at == i, cells, 0).sum(axis=1)
    return out


def _notice(
    keepers: Keepers,
    colonies: Colonies,
    rows: Integers,
    counts: Integers,
    *,
    usual_combs: float,
    rng: np.random.Generator,
) -> tuple[Flags, Integers]:
    """Return whether cells were noticed at all, and how many were counted of each stage.

    The oldest stage decides whether any are noticed; a comb that is not viewed hides its cells.
    """
    # as many combs more or fewer than the usual, one for a single cell
    further = rng.binomial(round(2 * (usual_combs - 1)), 0.5, len(rows))
    combs_with = 1 + further * (counts.sum(axis=1) > 1)
    viewed = rng.binomial(combs_with, keepers.of("looked", colonies)[rows]) / combs_with
    finds = np.stack(
        [keepers.of(f"finds_{s}", colonies)[rows] for s in ("egg", "larva", "sealed")], axis=1
    )
    group = np.array([0, 1, 1, 2, 2, 2])
    there = counts > 0
    # one luck for the visit: who notices eggs in cups notices the bigger cells, too
    luck = rng.random(len(rows))
    seen = there & (luck[:, None] < finds[:, group])
    share = viewed * keepers.of("finds_share", colonies)[rows]
    found = rng.binomial(counts, np.where(seen, share[:, None], 0))
    # who notices a stage on a comb that he views counts one at least
    least = seen & (viewed[:, None] > 0) & (found.sum(axis=1) == 0)[:, None]
    top = least & (np.cumsum(least[:, ::-1], axis=1)[:, ::-1] == 1)
    return (luck < finds[:, 2]) & (viewed > 0), found + top


def _misread(
    keepers: Keepers,
    colonies: Colonies,
    rows: Integers,
    found: Integers,
    rng: np.random.Generator,
) -> Integers:
    """Take a stage for its neighbour now and then, and see cells where there are none."""
    n = len(rows)
    slips = rng.random(n) < keepers.of("misreads", colonies)[rows]
    up = rng.random(n) < 0.5
    older = np.concatenate([np.zeros((n, 1), dtype=np.int64), found[:, :-1]], axis=1)
    older[:, -2] += older[:, -1]
    older[:, -1] = 0
    younger = np.concatenate([found[:, 1:], np.zeros((n, 1), dtype=np.int64)], axis=1)
    # an egg taken for nothing is an empty cup
    moved = np.where(up[:, None], older, younger)
    found = np.where(slips[:, None], moved, found)
    bare = colonies.cells[rows].sum(axis=1) == 0
    false = bare & (rng.random(n) < keepers.of("false_cells", colonies)[rows])
    kind = rng.integers(0, EMERGED - 1, n)
    found[false, kind[false]] += 1 + rng.poisson(1, int(false.sum()))
    return np.asarray(found)


def _yes_no(yes: Flags, looked: Flags | None = None) -> Words:
    words = np.where(yes, "yes", "no").astype(object)
    if looked is not None:
        words[~looked] = None
    return words


def _eggs(keepers: Keepers, colonies: Colonies, rows: Integers, rng: np.random.Generator) -> Words:
    there = colonies.brood[rows, :HATCHED].sum(axis=1) > _EGGS_TO_SEE
    luck = rng.random(len(rows))
    right, wrong = (keepers.of(h, colonies)[rows] for h in ("eggs", "eggs_false"))
    return _yes_no(np.where(there, luck < right, luck < wrong).astype(bool))


def _queen(keepers: Keepers, colonies: Colonies, rows: Integers, rng: np.random.Generator) -> Words:
    n = len(rows)
    there = colonies.queen[rows] != GONE
    finds = keepers.of("queen", colonies)[rows] * np.where(colonies.phase[rows] == PARTED, 0.5, 1)
    looks = rng.random(n) < keepers.of("queen_looks", colonies)[rows]
    return _yes_no(there & (rng.random(n) < finds), looks)


def _place(colonies: Colonies, rows: Integers, any_cell: Flags, rng: np.random.Generator) -> Words:
    luck = rng.random(len(rows))
    quiet = np.isin(colonies.phase[rows], (SUPERSEDING, QUEENLESS))
    luck = np.where(quiet, luck * (_FACE + _BOTH * luck), luck)
    words = np.where(luck < _FACE, "face", np.where(luck < _FACE + _BOTH, "both", "edge"))
    placed: Words = words.astype(object)
    placed[~any_cell] = None
    return placed


def _piping(
    colonies: Colonies, rows: Integers, numbers: Numbers, rng: np.random.Generator
) -> Words:
    virgins = (colonies.phase[rows] == PARTED) & (colonies.virgin_day[rows] != NEVER)
    return _yes_no(virgins & (rng.random(len(rows)) < numbers["piping_heard"]))


def _outside(
    colonies: Colonies, rows: Integers, temp_max_c: Floats, rng: np.random.Generator
) -> Words:
    hot = temp_max_c[rows] >= _HOT_C
    at = (colonies.crowding[rows] >= _BEARD).astype(int) + hot
    at = np.where(rng.random(len(rows)) < 0.5, np.minimum(at, 1), at)
    return np.asarray(_SOME[at])


def _drones(colonies: Colonies, rows: Integers, rng: np.random.Generator) -> Words:
    seen = rng.poisson(np.maximum(colonies.drones[rows], 0))
    at = (seen >= _DRONES_SOME).astype(int) + (seen >= _DRONES_MANY)
    return np.asarray(_SOME[at])
