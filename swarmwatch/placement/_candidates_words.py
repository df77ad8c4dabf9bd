"""What to tell a keeper of a spot that was made from a map: what stands there, by its own tags."""

from collections.abc import Mapping, Sequence, Set

import pandas as pd
import shapely

from swarmwatch.placement._candidates_grid import Shapes
from swarmwatch.placement._candidates_spots import Spots

_ON = {"tree": "tree", "tree row": "tree-row", "building wall": "building", "hedge": "hedge"}
_ON |= {"wood edge": "wood", "orchard edge": "orchard"}
_BESIDE_M = 1.0  # numerical: a wall is straightened by half of it before spots are set along it
_TREE_FACTS = ("species", "genus")
_WHERE = {
    "tree": "on trees",
    "tree row": "along tree rows",
    "wood edge": "along wood edges",
    "orchard edge": "along orchard edges",
    "building wall": "on building walls",
    "hedge": "along hedges",
}
_STANDS_BESIDE = ", beside it, on a stand or post"


Tags = tuple[str, Mapping[str, str]]


def tags_at(spots: Spots, land: pd.DataFrame, shapes: Shapes) -> list[Tags]:
    """Return name and facts of the feature on which each spot was made; blank where none is near.

    Parameters
    ----------
    spots
        On a grid [m].
    land
        `kind`, `name`, `facts` of the features.
    shapes
        (features,) their geometries on the grid [m].
    """
    tags: list[Tags] = [("", {})] * len(spots)
    points = spots.points
    kinds = land["kind"].to_numpy(dtype=object)
    facts, named = land["facts"].tolist(), land["name"].tolist()
    for word, kind in _ON.items():
        rows = (kinds == kind).nonzero()[0]
        asking = (spots.kind == word).nonzero()[0]
        if not len(rows) or not len(asking):
            continue
        found, at = shapely.STRtree(shapes[rows]).query_nearest(
            points[asking], max_distance=_BESIDE_M, all_matches=False
        )
        for i, j in zip(asking[found].tolist(), rows[at].tolist(), strict=True):
            tags[i] = named[j], facts[j]
    return tags


def told_of(spots: Spots, tags: Sequence[Tags]) -> list[str]:
    """Return a note for each spot: what stands there, by the map."""
    return [
        f"from a map: {kind}{_more(kind, *own)}{_STANDS_BESIDE if kind == 'hedge' else ''}"
        for kind, own in zip(spots.kind.tolist(), tags, strict=True)
    ]


def names_of(spots: Spots, tags: Sequence[Tags], used: Set[str]) -> list[str]:
    """Return a name for each spot: kind and number, past those in use, and a wall's street.

    Parameters
    ----------
    spots
        In the order of the numbers.
    tags
        From `tags_at`.
    used
        Names that the keeper's sites have.
    """
    numbers: dict[str, int] = {}
    names = []
    for kind, (_, facts) in zip(spots.kind.tolist(), tags, strict=True):
        street = _street(facts) if kind == "building wall" else ""
        while True:
            numbers[kind] = numbers.get(kind, 0) + 1
            name = f"{kind} {numbers[kind]}" + (f", {street}" if street else "")
            if name not in used:
                break
        names.append(name)
    return names


def _street(facts: Mapping[str, str]) -> str:
    return " ".join(facts[k] for k in ("addr:street", "addr:housenumber") if facts.get(k))


def _more(word: str, name: str, facts: Mapping[str, str]) -> str:
    if word == "building wall":
        parts = [p for p in (name, _street(facts)) if p]
        return f" of {', '.join(parts)}" if parts else ""
    kind = next((facts[k] for k in _TREE_FACTS if facts.get(k)), "")
    parts = [p for p in (name, kind) if p]
    return f" ({', '.join(parts)})" if parts else ""


def summary_of(found: Mapping[str, int], report: pd.DataFrame, left: int) -> str:
    """Say how many spots a map showed, which rule removed how many, and how many are left."""
    total = sum(found.values())
    if not total:
        return "The map shows nothing to hang a box on within the ground."
    kinds = ", ".join(f"{n:,} {_WHERE[k]}" for k, n in found.items())
    struck = report[report["removed"] > 0]
    parts = [f"{rule}: {n:,}" for rule, n in zip(struck["rule"], struck["removed"], strict=True)]
    removed = f"; removed: {'; '.join(parts)}" if parts else ""
    spots = "1 spot" if total == 1 else f"{total:,} spots"
    over = "1 is left" if left == 1 else f"{left:,} are left"
    return f"The map shows {spots} within the ground ({kinds}){removed}; {over}."


def nothing_left(found: Mapping[str, int], report: pd.DataFrame) -> str:
    """Say that no spot is left, why, and how to mend it."""
    nothing = (
        "A map lacks what nobody drew: go and look, and add places of your own to the table sites"
    )
    mend = (
        ", or give a wider ground."
        if not found
        else ", give a wider ground, or mend the keep-out areas if they are wrong; never go nearer "
        "to a power line."
    )
    return f"No site is left. {summary_of(found, report, 0)} {nothing}{mend}"
