"""Seasons of another make than `simulate`: few rules, real weather, keepers who never act.

The weather is Seattle's, 2012 to 2015 (vega_datasets: seattle_weather, from NOAA); colonies, notes
and swarms are invented. A world is a handful of round numbers in or near the published ranges. No
number of the score was chosen by them: they are for looking at it from outside.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from vega_datasets import local_data

from swarmwatch.tables import TABLES, conform

YEARS = (2012, 2013, 2014, 2015)
FIRST_DAY, LAST_LOOK = 60, 235
HATCHED, SEALED, EMERGED, TORN_DOWN = 3, 8, 16, 20  # days of a queen's cell, as in the handbooks
BEES_A_COMB, COMFORTABLE = 1950, 1400
CELLS_A_COMB = 5200
BROOD_D, BROOD_LIVES, LAYS_AGAIN_D = 21, 0.85, 21
STAYS = 0.3
BLANKED = ("combs_brood", "combs_brood_capped", "queen_seen", "eggs_seen", "queen_cups")
# colder days let fewer swarms leave; the shape of swarm reports in Portland, Oregon, April 2015
WARM_C, LEAVING = (12, 15, 18, 22), (0.0, 0.1, 0.47, 1.0)


@dataclass(frozen=True, kw_only=True)
class World:
    """What differs: how readily cells are started, and why, how they end, what keepers see.

    `start` is the rate at the season's height in a comfortable hive [1/d], `crowding` its log
    slope, `unlike` the spread of colonies on the log scale; `given_up` the cells given up a day
    with eggs, larvae, sealed; `leaves` the swarms a warm day before sealing and after; `found` the
    chance to notice cells by the same stages.
    """

    start: float = 0.015
    crowding: float = 3.0
    unlike: float = 0.3
    given_up: tuple[float, float, float] = (0.12, 0.05, 0.01)
    leaves: tuple[float, float] = (0.08, 0.6)
    found: tuple[float, float, float] = (0.55, 0.8, 0.93)
    peak: int = 150
    before_d: float = 16
    after_d: float = 20
    count_error: float = 0.15
    blank: float = 0.0
    eggs_a_day: tuple[float, float] = (1700, 300)


WORLDS = {
    "usual": World(),
    "fullness decides": World(
        start=0.02, crowding=5, unlike=0.15, before_d=12, after_d=14, eggs_a_day=(1600, 450)
    ),
    "cells are kept": World(start=0.012, given_up=(0.03, 0.02, 0), leaves=(0.04, 0.75), peak=142),
    "cells are given up": World(start=0.03, given_up=(0.2, 0.1, 0.03), peak=135),
    "causes unseen": World(
        start=0.012, crowding=1.5, unlike=0.7, found=(0.4, 0.7, 0.88), count_error=0.25, blank=0.3
    ),
    "few swarm": World(start=0.008),
    "most swarm": World(start=0.12, given_up=(0.08, 0.04, 0.01)),
}


def seattle():
    """Return the weather (date, temp_max_c, temp_min_c, rain_mm); its wind is a daily mean."""
    raw = local_data.seattle_weather()
    return pd.DataFrame(
        {
            "date": pd.to_datetime(raw["date"]),
            "temp_max_c": raw["temp_max"],
            "temp_min_c": raw["temp_min"],
            "rain_mm": raw["precipitation"],
        }
    )


def seasons(world, *, colonies, rng):
    """Return (year, tables, truth) of each year, as `replay` takes them."""
    weather = seattle()
    return [_season(world, year, weather, colonies, rng) for year in YEARS]


def _season(world, year, weather, count, rng):
    days = weather[weather["date"].dt.year == year].reset_index(drop=True)
    past = weather[weather["date"].dt.year.between(year - 2, year)]
    peak = world.peak + rng.normal(0, 5)
    hives = [_Hive(f"{year}-{i:03d}", world, peak, year, rng) for i in range(count)]
    for hive in hives:
        hive.live(days)
    looks = pd.DataFrame([row for h in hives for row in h.looks])
    events = [row for h in hives for row in h.events]
    raw = {
        "apiaries": pd.DataFrame({"apiary": ["yard"], "latitude": [47.6], "longitude": [-122.3]}),
        "colonies": pd.DataFrame([h.about for h in hives]),
        "inspections": looks,
        "events": pd.DataFrame(events, columns=["colony", "date", "event"]),
        "outcomes": pd.DataFrame(columns=["colony", "season", "outcome", "date"]),
        "weather": past.assign(apiary="yard", kind="observed", provider="seattle_weather"),
    }
    truth = pd.DataFrame(
        {
            "colony": [h.name for h in hives],
            "season": year,
            "prime_on": pd.to_datetime([h.prime_on for h in hives]),
            "treated_on": pd.NaT,
            "died_on": pd.NaT,
        }
    )
    return year, {name: conform(frame, TABLES[name]) for name, frame in raw.items()}, truth


class _Hive:
    """One colony's bees, cells and keeper, day by day."""

    def __init__(self, name, world, peak, year, rng):
        self.name, self.world, self.peak, self.rng = name, world, peak, rng
        old = rng.random() < 0.5
        self.start = world.start * np.exp(rng.normal(0, world.unlike)) * 2 ** (old - 0.5)
        self.laying = max(rng.normal(*world.eggs_a_day), 700)
        self.bees, self.life = rng.normal(10_000, 2000), rng.normal(32, 4)
        self.combs = 10 if rng.random() < 0.3 else 20
        self.cell = self.prime_on = self.gone_since = None
        self.blank = [c for c in BLANKED if rng.random() < world.blank]
        self.next_look = int(rng.integers(95, 110))
        self.eggs = []
        self.looks, self.events = [], []
        self.about = {
            "colony": name,
            "apiary": "yard",
            "hive_type": "langstroth-deep-10",
            "queen_year": year - 1 - int(old),
            "queen_clipped": "no",
        }

    def live(self, days):
        self.eggs = [self._wanted(t) for t in range(FIRST_DAY)]
        for t in range(FIRST_DAY, len(days)):
            queen = self.gone_since is None or t - self.gone_since > LAYS_AGAIN_D
            self.eggs.append(self._wanted(t) * queen)
            self.bees += self.eggs[t - BROOD_D] * BROOD_LIVES - self.bees / self.life
            self._cells(t, days["date"][t], self._gate(days.iloc[t]))
            if self.next_look <= t < LAST_LOOK and days["temp_max_c"][t] >= 13:
                self._look(t, days["date"][t])

    def _wanted(self, t):
        return self.laying * np.clip((t - 40) / 75, 0.05, 1) * np.clip(1 - (t - 185) / 120, 0.2, 1)

    @staticmethod
    def _gate(day):
        return np.interp(day["temp_max_c"], WARM_C, LEAVING) * (0.4 if day["rain_mm"] > 5 else 1)

    def _cells(self, t, date, gate):
        world, rng = self.world, self.rng
        if self.cell is None:
            if self.gone_since is None and rng.random() < self._rate(t):
                self.cell = 0
            return
        self.cell += 1
        if self.gone_since is None:
            stage = _stage(self.cell)
            leaves = 0 if self.cell < 5 else world.leaves[stage == 2] * gate
            if rng.random() < leaves:
                self.prime_on, self.gone_since = date, t
                self.bees *= STAYS
                return
            if rng.random() < world.given_up[stage]:
                self.cell = None
        if self.cell is not None and self.cell > TORN_DOWN:
            self.cell = None

    def _rate(self, t):
        late = t + SEALED - self.peak
        spread = self.world.before_d if late < 0 else self.world.after_d
        full = min(self.bees / (COMFORTABLE * self.combs), 1.6)
        season = np.exp(-0.5 * (late / spread) ** 2)
        return self.start * season * np.exp(self.world.crowding * (full - 1))

    def _look(self, t, date):
        rng, error = self.rng, self.world.count_error
        self.next_look = t + int(rng.integers(7, 14))
        seen = min(self.bees / BEES_A_COMB * np.exp(rng.normal(0, error)), self.combs)
        brood = sum(self.eggs[t - BROOD_D : t]) / CELLS_A_COMB * np.exp(rng.normal(0, error / 2))
        eggs, queen = sum(self.eggs[t - HATCHED : t]) > 300, self.gone_since is None
        row = {
            "colony": self.name,
            "date": date,
            "combs": self.combs,
            "combs_bees": round(seen * 4) / 4,
            "combs_brood": round(brood * 2) / 2,
            "combs_brood_capped": round(brood * 1.1) / 2,
            "queen_cups": int(rng.poisson(4)),
            **self._counted(),
            "eggs_seen": _yes(rng.random() < (0.93 if eggs else 0.03)),
            "queen_seen": _yes(rng.random() < (0.4 if queen else 0.05)),
        }
        self.looks.append(row | dict.fromkeys(self.blank))
        if seen > 0.8 * self.combs and self.combs < 40:
            self.combs += 10
            self.events.append((self.name, date, "combs-added"))

    def _counted(self):
        """Count the cells by stage, if they are noticed; the oldest may be overlooked."""
        rng, ages = self.rng, np.array([], dtype=int)
        if self.cell is not None and rng.random() < self.world.found[_stage(self.cell)]:
            ages = rng.integers(max(self.cell - 6, 0), self.cell + 1, size=2 + rng.poisson(8))
            if rng.random() < 0.88:
                ages[0] = self.cell
        elif self.cell is None and rng.random() < 0.008:
            ages = np.array([0])
        marks = (-1, HATCHED - 1, SEALED - 1, EMERGED - 1, TORN_DOWN + 1)
        counts = np.histogram(ages, bins=np.array(marks) + 0.5)[0].tolist()
        names = ("egg", "larva", "capped", "emerged")
        return {f"queen_cells_{n}": c for n, c in zip(names, counts, strict=True)}


def _stage(age):
    return int(np.searchsorted((HATCHED, SEALED), age, side="right"))


def _yes(said):
    return "yes" if said else "no"
