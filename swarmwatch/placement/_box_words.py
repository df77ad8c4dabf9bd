"""What is to be done at a bait box and by when, in plain words."""

from datetime import date, timedelta

from swarmwatch.evidence import Evidence
from swarmwatch.placement._box_season import BoxSeason
from swarmwatch.placement._box_state import BoxState

PRACTICE = "common practice, no source"
_M_PER_KM = 1000

_TENANTS = {
    "bird": (
        "leave it alone: birds, their nests and eggs are protected by law in many places; hang "
        "another box elsewhere, and ask the wildlife authority before you touch this one"
    ),
    "bat": (
        "leave it alone: bats and where they roost are protected by law in many places, empty or "
        "not; hang another box elsewhere, and ask the wildlife authority"
    ),
    "wasps": (
        "keep away, they sting, and some wasps and hornets are protected: no spray, no closing; "
        "clean the box when they have gone in autumn, or ask the authority"
    ),
    "ants": "brush them out and look again: ants keep scouts away",
    "wax-moth": "take it down, clean it, and take old comb out",
    "other": "find out what it is, from outside, before you touch the box: it may be protected",
}


def to_do(
    box: BoxState, *, season: BoxSeason, on: date, evidence: Evidence
) -> tuple[str, date | None]:
    """Return what to do at one box, and the last day for it."""
    if box.state == "occupied":
        return _move(box, on, evidence)
    if box.state == "tenant":
        return _TENANTS.get(str(box.tenant), _TENANTS["other"]), None
    if box.site is not None and season.is_over(box.hung_on, on):
        return "the swarm season is over: take it down", on
    if box.quorum and box.scouts_on is not None:
        within = timedelta(days=round(evidence.value("levels.scouts_look_within")))
        do = "a swarm may move in within a day: look from outside, don't open or move the box"
        return do, max(box.scouts_on + within, on)
    every = evidence["boxes.check_every_d"]
    days = round(every.low if box.state == "scouted" else every.value)
    since = box.looked_on or box.hung_on
    do = "look from the ground for scouts, and for bees that carry pollen in"
    return do, None if since is None else max(since + timedelta(days=days), on)


def _move(box: BoxState, on: date, evidence: Evidence) -> tuple[str, date | None]:
    if box.occupied_on is None:
        return "", None
    if box.kind == "afterswarm":
        first, last = (
            box.occupied_on + timedelta(days=round(evidence.value(f"boxes.eggs_{end}_d")))
            for end in ("from", "until")
        )
        do = (
            "its young queen must mate from here: leave it in place until eggs are seen, look "
            f"on a warm, dry day from {first}; then move it; no eggs by {last}: ask a mentor"
        )
        return do, max(last, on)
    first, last = move_days(box.occupied_on, evidence)
    late = f" (it was due by {last}: comb gets heavy and soft)" if on > last else ""
    do = f"move it at dusk between {max(first, on)} and {max(last, on)}{late}"
    if box.likely:
        do = f"pollen goes in, so a swarm lives there, probably: make sure; then {do}"
    if box.kind != "prime":
        do += "; an afterswarm stays until eggs are seen"
    return do, max(last, on)


def move_days(occupied_on: date, evidence: Evidence) -> tuple[date, date]:
    """Return the first and the last day on which to move a prime swarm."""
    first = timedelta(days=round(evidence.value("boxes.move_from_d")))
    last = timedelta(days=round(evidence.value("levels.move_within")))
    return occupied_on + first, occupied_on + last


def moving_steps(evidence: Evidence) -> list[str]:
    """Return how an occupied box is moved, step by step, each a whole sentence."""
    value = evidence.value
    gain = evidence["boxes.gain_kg_week"]
    far_km = value("boxes.move_far_m") / _M_PER_KM
    return [
        (
            "Ask first: movement, registration and disease rules of your place (bee inspector or "
            "authority). Never move bees out of or into a disease zone."
        ),
        (
            f"Weight: some {value('safety.box_first_week_kg'):.0f} kg in the first week, and "
            f"{gain.low:.0f} to {gain.high:.0f} kg more each week of a flow. Two people; lower it "
            "by rope, don't carry it down a ladder."
        ),
        (
            "At dusk, veil on, phone in reach: close the entrance with mesh so that air gets in, "
            "strap box and lid together, keep it level and out of the sun."
        ),
        (
            f"Take it {far_km:.0f} km or more away. Nearer, bees fly back to the old spot: keep "
            "the box closed, cool and ventilated for two to three days, then lean a leafy branch "
            "before the entrance when you open it, and leave nothing at the old spot."
        ),
        (
            "Set it apart from your other hives, share no comb or tools with them, and look at its "
            f"brood after {_weeks('from', evidence)} to {_weeks('until', evidence)} and "
            f"{_weeks('again', evidence)} weeks."
        ),
    ]


def _weeks(end: str, evidence: Evidence) -> str:
    name = "boxes.brood_check_again_d" if end == "again" else f"boxes.brood_check_{end}_d"
    return f"{evidence.value(name) / 7:.0f}"


def near_by_steps(distance_m: float, evidence: Evidence) -> str:
    """Return what a move over a distance [m] asks for, "" where bees won't fly back."""
    far_m = evidence.value("boxes.move_far_m")
    if distance_m >= far_m:
        return ""
    return (
        f"That is nearer than {far_m / _M_PER_KM:.0f} km: bees fly back to the old spot. Keep the "
        "box closed, cool and ventilated for two to three days, then lean a leafy branch before "
        f"the entrance when you open it ({PRACTICE})."
    )
