"""How many bees and how much brood stand behind a keeper's notes, and how full the hive is.

Counts of combs become bees and cells by comb area and density (`combs`); brood becomes adults day
by day (`projection`); the notes of an inspection become strength (`strength`); bees over the room
of drawn comb are the crowding (`crowding`).
"""

from swarmwatch.colony.combs import comb_brood, comb_capacity
from swarmwatch.colony.crowding import crowding_by_day
from swarmwatch.colony.projection import project_adults
from swarmwatch.colony.strength import Strength, strength_of

__all__ = [
    "Strength",
    "comb_brood",
    "comb_capacity",
    "crowding_by_day",
    "project_adults",
    "strength_of",
]
