"""Places for labels on a map, so that none covers another."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle round its middle (x, y), in any one unit of length."""

    x: float
    y: float
    width: float
    height: float

    def overlaps(self, other: "Box") -> bool:
        """Tell whether the two share ground."""
        return (
            abs(self.x - other.x) * 2 < self.width + other.width
            and abs(self.y - other.y) * 2 < self.height + other.height
        )

    def shared(self, other: "Box") -> float:
        """Return the area that the two share."""
        wide = (self.width + other.width) / 2 - abs(self.x - other.x)
        high = (self.height + other.height) / 2 - abs(self.y - other.y)
        return max(0, min(wide, self.width, other.width)) * max(
            0, min(high, self.height, other.height)
        )

    def outside(self, frame: "Box") -> float:
        """Return how much of its area lies outside `frame`."""
        return self.width * self.height - self.shared(frame)


def on_or_round(
    x: float, y: float, *, width: float, height: float, reach: float, on_it: bool
) -> list[Box]:
    """Return places for a label, best first: on the point if `on_it`, then rings round it.

    Parameters
    ----------
    x, y
        The point that is labelled.
    width, height
        Size of the label.
    reach
        Distance that a label keeps from the point where it stands beside it.
    on_it
        Whether the label may cover its own point.
    """
    places = [Box(x, y, width, height)] if on_it else []
    for ring in range(6):
        for eighth in (6, 2, 0, 4, 7, 5, 1, 3):
            angle = eighth * math.tau / 8
            places.append(
                Box(
                    x + math.cos(angle) * (width / 2 + reach * (ring + 1)),
                    y + math.sin(angle) * (height / 2 + reach * (ring + 1)),
                    width,
                    height,
                )
            )
    return places


def place_labels(wanted: Sequence[Sequence[Box]], *, taken: Iterable[Box], frame: Box) -> list[Box]:
    """Choose a place for each label in turn: the first that is free, else the least covered.

    Parameters
    ----------
    wanted
        For each label the places it may take, best first.
    taken
        Ground that is not free.
    frame
        The map; a label should lie inside.
    """
    standing = list(taken)
    chosen = []
    for places in wanted:
        best = min(places, key=lambda p: sum(p.shared(t) for t in standing) + 2 * p.outside(frame))
        chosen.append(best)
        standing.append(best)
    return chosen
