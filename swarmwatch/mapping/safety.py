"""What everybody must know who goes out with a map or sheet."""

from swarmwatch.evidence import Evidence, load_evidence

SHORT = (
    "Odds, not promises. Ask the owner first, and your local authority or bee inspector about the "
    "law. Read the safety lines before you go."
)


_LINES = (
    (
        "Stings",
        (
            "Know your allergies and have a plan. Take a charged phone and a second person. "
            "Wear a suit at a box with bees: once they have brood they defend it."
        ),
    ),
    (
        "Ladders",
        (
            "Avoid height first: hang the box where you reach it from the ground, its base up "
            "to {reach_height_m} m high. If there is no other way: 1 out for "
            "{ladder_up_per_out} up, firm level ground, three points of contact, never alone, "
            "never for a swarm."
        ),
    ),
    (
        "Power lines",
        (
            "Never raise a ladder, pole or box near an overhead line. Keep every part at least "
            "{power_line_clear_m} m away, more at high voltage; if in doubt ask the network "
            "operator."
        ),
    ),
    (
        "Weight",
        (
            "A box weighs some {box_first_week_kg} kg in its first week with bees and gains "
            "every week. Lower it by rope or with two people. Use straps, and no rotten branch."
        ),
    ),
    (
        "Permission and law",
        (
            "Have the owner's yes before you hang anything, and put your name and number on the "
            "box. Registration, movement, disease and wildlife law differ from place to place: "
            "ask the local authority or bee inspector. Don't turn out birds or bats."
        ),
    ),
    (
        "Used comb",
        (
            "Only where the law allows it and only from an inspected, disease-free source. "
            "Otherwise no comb."
        ),
    ),
    (
        "Africanized bees",
        "Where they live: no amateur catching. Call trained people.",
    ),
    (
        "Odds, not promises",
        (
            "The numbers are odds with wide ranges. They don't replace opening the hive or "
            "looking at the place itself."
        ),
    ),
)


def safety_lines(evidence: Evidence | None = None) -> tuple[tuple[str, str], ...]:
    """Return the safety lines as (heading, text), with their numbers from the evidence."""
    rules = (load_evidence() if evidence is None else evidence).group("safety")
    numbers = {name: f"{value:g}" for name, value in rules.items()}
    return tuple((heading, text.format_map(numbers)) for heading, text in _LINES)


def ground_checks(evidence: Evidence | None = None) -> str:
    """Say how bait boxes are looked at: from the ground."""
    rules = load_evidence() if evidence is None else evidence
    high_m = rules.value("site.height_asked_m")
    return (
        f"Checks are planned from the ground; above {high_m:g} m only when asked for, with rope "
        "or platform."
    )
