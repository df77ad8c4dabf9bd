"""Which kind of land is a thing of OpenStreetMap, by its tags?

One word a kind, the same for every source. What is not named here is left out: of no use for
hanging a box, and in no one's way.
"""

from collections.abc import Mapping

# where each kind may come from; absence of a kind means "not mapped", never "none"
KINDS = (
    "tree",
    "tree-row",
    "hedge",
    "wood",
    "orchard",
    "building",
    "water",
    "field",
    "garden",
    "built-up",
    "power-line",
    "play-area",
    "school",
    "road",
    "railway",
    "path",
)
_ANY = None
_ROADS = (
    "motorway motorway_link trunk trunk_link primary primary_link secondary secondary_link "
    "tertiary tertiary_link unclassified residential living_street service road busway "
    "bus_guideway raceway"
)
# (tag, its values, kind); the first that fits counts, so what may hurt someone comes first.
# Source: the tag pages of the OpenStreetMap wiki, from memory
_RULES: tuple[tuple[str, frozenset[str] | None, str], ...] = tuple(
    (key, None if values is _ANY else frozenset(values.split()), kind)
    for key, values, kind in (
        ("power", "line minor_line tower pole portal substation transformer", "power-line"),
        ("amenity", "school kindergarten childcare", "school"),
        ("building", "school kindergarten", "school"),
        ("landuse", "school", "school"),
        ("leisure", "playground pitch track sports_centre swimming_area", "play-area"),
        ("railway", "rail light_rail tram narrow_gauge subway preserved monorail", "railway"),
        (
            "highway",
            "footway path pedestrian cycleway bridleway steps track corridor platform",
            "path",
        ),
        (
            "highway",
            _ROADS,
            "road",
        ),
        ("natural", "tree", "tree"),
        ("natural", "tree_row", "tree-row"),
        ("barrier", "hedge hedge_bank", "hedge"),
        ("natural", "water bay", "water"),
        ("waterway", "river stream canal ditch drain riverbank dock", "water"),
        ("landuse", "reservoir basin", "water"),
        ("building", _ANY, "building"),
        ("landuse", "orchard vineyard", "orchard"),
        ("natural", "wood", "wood"),
        ("landuse", "forest", "wood"),
        ("leisure", "garden park", "garden"),
        ("landuse", "allotments village_green recreation_ground cemetery", "garden"),
        ("landuse", "farmland meadow grass greenfield", "field"),
        ("natural", "grassland heath", "field"),
        ("landuse", "residential commercial retail industrial", "built-up"),
    )
)
_KEYS = frozenset(key for key, _, _ in _RULES)
_BELOW_GROUND = frozenset({"yes", "culvert", "flooded"})
_NO_WALLS = frozenset({"no", "roof", "construction", "ruins", "collapsed", "greenhouse"})
# what is worth telling about a feature, besides its kind and name
FACTS = (
    "access",
    "addr:housenumber",
    "addr:street",
    "circumference",
    "genus",
    "height",
    "leaf_type",
    "operator",
    "species",
    "voltage",
)


def kind_of(tags: Mapping[str, str]) -> str | None:
    """Return the kind of a thing, or None for what is left out.

    Left out, too, is what runs below the ground, what has no walls, and a driveway.

    Examples
    --------
    >>> kind_of({"natural": "tree_row"})
    'tree-row'
    >>> kind_of({"highway": "residential", "tunnel": "yes"}) is None
    True
    """
    if not _KEYS & tags.keys() or _unseen(tags):
        return None
    for key, values, kind in _RULES:
        found = tags.get(key)
        if found and (values is None or found in values):
            if kind == "building" and found in _NO_WALLS:
                continue
            return kind
    return None


def facts_of(tags: Mapping[str, str]) -> dict[str, str]:
    """Return what is worth telling about a thing, by the words of `FACTS`."""
    return {key: tags[key] for key in FACTS if tags.get(key)}


def _unseen(tags: Mapping[str, str]) -> bool:
    return (
        tags.get("tunnel") in _BELOW_GROUND
        or tags.get("location") in ("underground", "underwater", "indoor")
        or tags.get("service") == "driveway"
    )
