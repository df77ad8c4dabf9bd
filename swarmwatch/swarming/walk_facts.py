"""What is kept of one colony's score, step by step? The facts that a walk through it shows."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """What may be going on, chances that sum to 1 [-]: by the oldest cell, or the swarm is gone."""

    idle: float
    egg: float
    larva: float
    sealed: float
    gone: float

    @property
    def cells(self) -> float:
        """The chance that swarm cells are there."""
        return self.egg + self.larva + self.sealed


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """One thing that bears on the start of swarm cells: it multiplies the daily rate by `ratio`.

    `keys` are the evidence entries behind it, `seen` the number that was noted, 1 for a yes.
    """

    name: str
    seen: float
    ratio: float
    keys: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """The chance that a colony without swarm cells starts some on the day of the score.

    `base` is the reference colony's rate at the season's peak [1/d], `season` the season's height
    for a start [-], `usual` what the usual crowding of the time of year makes of it [-].
    `together` is what the factors do beyond each alone [-].
    """

    base: float
    season: float
    usual: float
    factors: tuple[Factor, ...]
    together: float
    p: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Crowding:
    """How full the hive is on the evening [-]: as counted (NaN unknown), as likely, as usual."""

    counted: float
    likely: float
    usual: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """The oldest swarm cell, if there are any: days from its egg, with the 80 % range [d].

    `sealed_in` are the days until it is sealed, 0 where it is [d]; `leaves` and `given_up` the
    chances of one day in weather that holds nothing back [1/d].
    """

    age: float
    age_low: float
    age_high: float
    sealed_in: float
    leaves: float
    given_up: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """One day ahead: its weather, the gate [0..1] and the chances of a colony that is still there.

    `leaves` is the chance that the prime swarm leaves on the day, `left_by` by its evening [-].
    """

    day: dt.date
    kind: str
    temp_max_c: float
    rain_mm: float
    wind_max_m_s: float
    gate: float
    leaves: float
    left_by: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """One colony's score at central values, with all that led to it.

    `looked` holds the cells of the last look by column, blanks left out; `without_look` and
    `with_look` the belief after the last note, had that look noted nothing and as it is; `now`
    the belief on the evening; `odds` the factor [-] that own outcomes put on the odds of `ahead`.
    """

    colony: str
    apiary: str
    on: dt.date
    peak_on: dt.date
    own_peak: bool
    looks: tuple[dt.date, ...]
    looked: Mapping[str, object]
    events: tuple[tuple[dt.date, str], ...]
    swarmed_on: dt.date | None
    clipped: bool
    without_look: Belief
    with_look: Belief
    now: Belief
    crowding: Crowding
    start: Start
    cells: Cells | None
    ahead: tuple[Ahead, ...]
    odds: float

    def p_within(self, days: int) -> float:
        """Return the chance [-] of a prime swarm within so many days, up to 14."""
        return self.ahead[days - 1].left_by
