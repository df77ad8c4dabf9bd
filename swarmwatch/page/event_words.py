"""What can be noted of what was done to a colony or happened to it, and what each asks for."""

from dataclasses import dataclass
from functools import cache

from swarmwatch.page.field_words import Field, Group, field_of

_NOTE = ("Note", "Anything else.")
_FROM = ("Not before", "Found later? The first day on which it may have happened.")
_HOW = ("How you know", "Seen with your own eyes, inferred from what you found, or a guess.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One kind of event: its name on a button, and the fields that it asks for, each in words."""

    name: str
    line: str
    asks: dict[str, tuple[str, str]]


_FOUND = {"how_known": _HOW, "date_from": _FROM}
# by what a keeper has in mind; what is done most comes first
EVENTS: dict[str, dict[str, Event]] = {
    "Room and combs": {
        "room-added": Event(
            name="Room added",
            line="A box, or room for bars, given.",
            asks={
                "amount": ("How many boxes", "Blank counts as one."),
                "where": ("Where", "Above or below the brood, or on which side."),
            },
        ),
        "combs-added": Event(
            name="Combs added",
            line="Combs, frames or bars given.",
            asks={
                "amount": ("How many combs", "Blank counts as one."),
                "where": ("Where", "Among the brood, at its edge or far from it."),
            },
        ),
        "brood-removed": Event(
            name="Brood taken out",
            line="Combs of brood taken away.",
            asks={"amount": ("How many combs", "Combs that left the hive.")},
        ),
        "honey-removed": Event(
            name="Honey taken off",
            line="Honey combs or boxes taken away.",
            asks={"amount": ("How many", "Combs or boxes; say which in the note.")},
        ),
        "excluder-on": Event(name="Excluder put in", line="She stays below it.", asks={}),
        "excluder-off": Event(name="Excluder taken out", line="She may go up.", asks={}),
    },
    "Splits and queen cells": {
        "split": Event(
            name="Split",
            line="Bees and brood taken away to a colony of their own.",
            asks={
                "amount": ("Share of the bees that left", "From 0 to 1: 0.5 is one half."),
                "queen_went": ("The old queen", "Did she stay here, or go with the part?"),
                "other_colony": ("The other colony", "The name of the part that was taken."),
                "cells_left": ("Queen cells left", "Left on purpose. 0: none."),
            },
        ),
        "queen-cells-removed": Event(
            name="Queen cells removed", line="All that you found were taken out.", asks={}
        ),
        "queen-cells-thinned": Event(
            name="Queen cells thinned",
            line="All but a few were taken out.",
            asks={"cells_left": ("Queen cells left", "Left on purpose.")},
        ),
    },
    "Queen": {
        "requeened": Event(
            name="Requeened",
            line="A new queen, or a cell, was given.",
            asks={"queen_kind": ("What was given", "A mated queen, a virgin or a ripe cell.")},
        ),
        "queen-removed": Event(name="Queen removed", line="Taken out or killed.", asks={}),
        "queen-confined": Event(name="Queen confined", line="Caged, or kept to combs.", asks={}),
        "queen-lost": Event(name="Queen lost", line="No queen and no eggs.", asks=_FOUND),
        "superseded": Event(
            name="Superseded", line="They replaced her without a swarm.", asks=_FOUND
        ),
    },
    "Swarms": {
        "swarmed": Event(name="Swarmed", line="A swarm left with the old queen.", asks=_FOUND),
        "afterswarmed": Event(
            name="Afterswarmed", line="A later swarm left, with a young queen.", asks=_FOUND
        ),
        "swarm-returned": Event(name="Swarm came back", line="By itself.", asks=_FOUND),
        "swarm-hived": Event(
            name="Swarm hived",
            line="Its swarm was caught and housed.",
            asks={"other_colony": ("The other colony", "The name under which it lives now.")},
        ),
    },
    "The rest": {
        "fed": Event(name="Fed", line="Say in the note what and how much.", asks={}),
        "treated": Event(name="Treated", line="Say in the note with what.", asks={}),
        "moved": Event(name="Moved", line="Say in the note where from.", asks={}),
        "united": Event(
            name="United with another",
            line="Its bees live in the other colony now: this one is no more.",
            asks={"other_colony": ("The other colony", "The name of the one that goes on.")},
        ),
        "absconded": Event(name="Absconded", line="All left: this colony is no more.", asks=_FOUND),
        "died": Event(name="Died", line="This colony is no more.", asks=_FOUND),
    },
}
_SHOWN = {
    "where": {
        "in-nest": "among the brood",
        "nest-edge": "at the brood's edge",
        "far-end": "far end",
    },
    "queen_went": {"stayed": "stayed here", "moved": "went with the part", "unknown": "not known"},
    "queen_kind": {"mated": "mated queen", "virgin": "virgin queen", "cell": "queen cell"},
}
BY_WORD = {word: event for group in EVENTS.values() for word, event in group.items()}


@cache
def event_group(word: str) -> Group:
    """Return the fields of one kind of event."""
    asks = {**BY_WORD[word].asks, "note": _NOTE}
    fields = [
        field_of("events", n, *words, shown=_SHOWN.get(n, {}), blank="not noted")
        for n, words in asks.items()
    ]
    return Group(title="What you know of it", fields=tuple(fields))


@cache
def all_fields() -> tuple[Field, ...]:
    """Return every field that some kind of event asks for, once."""
    found = {f.name: f for word in BY_WORD for f in event_group(word).fields}
    return tuple(found.values())
