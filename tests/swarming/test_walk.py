"""The walk through a score tells what the score reckoned, to the last digit."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from scene import LOOK, NO_CELLS, ON, apiaries, colonies, weather

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.notes import read_records
from swarmwatch.swarming.parameters import central
from swarmwatch.swarming.run import blocks_of, chances_of, setting_of
from swarmwatch.swarming.walk import CHANCE_KEY, walk_through
from swarmwatch.tables import TABLES, conform

EVIDENCE = load_evidence()
CELLS = {"queen_cells_egg": 2, "queen_cells_larva": 3, "queen_cells_capped": 0}
FULL = LOOK | {"combs_bees": 20, "bees_how": "seams", "drones": "many", "eggs_seen": "yes"}


def table(name, rows):
    if isinstance(rows, pd.DataFrame):
        rows = rows.to_dict("records")
    names = list(TABLES[name].names)
    return conform(pd.DataFrame(list(rows), columns=names, dtype=object), TABLES[name])


SAME = {
    "apiaries": table("apiaries", apiaries()),
    "hives": table("hives", []),
    "weather": conform(weather(), TABLES["weather"]),
}


def tables(*seen, events=(), colony=None, sky=None):
    return SAME | {
        "colonies": table("colonies", colonies(**(colony or {}))),
        "inspections": table("inspections", seen),
        "events": table("events", events),
        "weather": SAME["weather"] if sky is None else conform(sky, TABLES["weather"]),
    }


def walked(*seen, evidence=EVIDENCE, **more):
    return walk_through(tables(*seen, **more), "A", on=ON, evidence=evidence)


def of_the_score(frames, evidence=EVIDENCE):
    """What the score's own replay gives at central values: gone by each evening, and cells."""
    records = read_records(
        frames["colonies"],
        frames["inspections"],
        on=ON,
        events=frames["events"],
        apiaries=frames["apiaries"],
        hives=frames["hives"],
    )
    middle = central(evidence)
    (block,) = blocks_of(records, frames["weather"], ahead=14, parameters=middle, evidence=evidence)
    setting = setting_of(block, middle, seed=None, chance_key=CHANCE_KEY)
    return chances_of(block, setting, tuple(range(15)))


SCENES = {
    "nobody looked": {},
    "no cells": {"seen": (LOOK | NO_CELLS,)},
    "cells": {"seen": (LOOK, FULL | CELLS | {"date": "2026-05-29"})},
    "capped": {"seen": (FULL | {"oldest_queen_cell": "capped", "eggs_seen": "no"},)},
    "clipped": {"seen": (FULL | CELLS,), "colony": {"queen_clipped": "yes", "queen_year": 2023}},
    "split": {
        "seen": (FULL | CELLS,),
        "events": ({"colony": "A", "date": "2026-05-27", "event": "split"},),
    },
    "swarmed": {
        "seen": (FULL | CELLS,),
        "events": ({"colony": "A", "date": "2026-05-28", "event": "swarmed"},),
    },
    "a new swarm": {
        "seen": (FULL | NO_CELLS,),
        "colony": {"origin": "swarm", "started": "2026-05-01", "swarmed_last_year": "yes"},
    },
}


@pytest.fixture(scope="module")
def walks():
    return {
        name: walked(*scene.get("seen", ()), **{k: v for k, v in scene.items() if k != "seen"})
        for name, scene in SCENES.items()
    }


@pytest.mark.parametrize("name", SCENES)
def test_the_days_ahead_are_those_of_the_score(walks, name):
    scene = dict(SCENES[name])
    walk = walks[name]
    chances = of_the_score(tables(*scene.pop("seen", ()), **scene))
    by = [walk.now.gone + (1 - walk.now.gone) * day.left_by for day in walk.ahead]
    np.testing.assert_allclose([walk.now.gone, *by], chances.by[0, 0], rtol=0, atol=1e-12)
    assert walk.with_look.cells == pytest.approx(chances.cells[0, 0], rel=0, abs=1e-12)


@pytest.mark.parametrize("name", SCENES)
def test_every_belief_sums_to_one(walks, name):
    for belief in (walks[name].without_look, walks[name].with_look, walks[name].now):
        assert belief.idle + belief.cells + belief.gone == pytest.approx(1, rel=0, abs=1e-12)


@pytest.mark.parametrize("name", SCENES)
def test_the_parts_of_a_start_multiply_to_its_chance(walks, name):
    start = walks[name].start
    rate = start.base * start.season * start.usual * start.together
    rate *= np.prod([f.ratio for f in start.factors])
    assert start.p == pytest.approx(-np.expm1(-rate), rel=1e-9, abs=0)


@pytest.mark.parametrize("name", SCENES)
def test_what_leaves_day_by_day_adds_up(walks, name):
    walk = walks[name]
    assert len(walk.ahead) == 14
    assert sum(d.leaves for d in walk.ahead) == pytest.approx(walk.p_within(14), rel=0, abs=1e-12)
    assert [d.day for d in walk.ahead] == [ON + dt.timedelta(days=i) for i in range(1, 15)]


def test_a_look_that_noted_nothing_changes_nothing(walks):
    blank = walked({"colony": "A", "date": "2026-05-27"})
    assert blank.without_look == blank.with_look
    nobody = walks["nobody looked"]
    assert [d.left_by for d in blank.ahead] == pytest.approx(
        [d.left_by for d in nobody.ahead], rel=1e-9, abs=0
    )


def test_cells_that_were_seen_raise_the_belief_and_none_lowers_it(walks):
    seen, none = walks["cells"], walks["no cells"]
    assert seen.with_look.cells > seen.without_look.cells
    assert none.with_look.cells < none.without_look.cells


def test_the_oldest_cell_seen_decides_how_old_the_cells_are():
    ages = {}
    for stage in ("egg", "large-larva", "capped"):
        cells = walked(FULL | {"date": ON.isoformat(), "oldest_queen_cell": stage}).cells
        assert cells.age_low <= cells.age <= cells.age_high + 1
        ages[stage] = cells
    assert ages["egg"].age < ages["large-larva"].age < ages["capped"].age
    # Winston 1987 and handbooks: a queen's egg hatches after 3 days, her cell is capped after 8
    assert ages["egg"].age < 3
    assert ages["capped"].age > 8
    assert ages["capped"].sealed_in == 0
    assert ages["capped"].leaves > ages["large-larva"].leaves > ages["egg"].leaves


def test_what_is_known_of_the_colony_is_told_as_factors(walks):
    names = {f.name for f in walks["a new swarm"].start.factors}
    assert {"swarm of this season", "swarmed last year", "crowding"} <= names
    assert {f.name for f in walks["nobody looked"].start.factors} == set()
    (split,) = [f for f in walks["split"].start.factors if f.name == "done"]
    assert split.ratio == pytest.approx(EVIDENCE.value("actions.split_factor"), rel=1e-9, abs=0)


def test_the_likely_crowding_lies_between_the_counted_and_the_usual(walks):
    crowding = walks["cells"].crowding
    low, high = sorted((crowding.counted, crowding.usual))
    assert low < crowding.likely < high
    unknown = walks["nobody looked"].crowding
    assert np.isnan(unknown.counted)
    assert unknown.likely == pytest.approx(unknown.usual, rel=1e-9, abs=0)


def test_a_cold_day_shuts_the_gate():
    cold = walked(FULL | CELLS, sky=weather(temp_max_c=9.0))
    assert max(d.gate for d in cold.ahead[:5]) < 0.1
    warm = walked(FULL | CELLS)
    assert min(d.gate for d in warm.ahead[:5]) > 0.5
    assert cold.p_within(5) < warm.p_within(5)


def test_own_numbers_are_walked_through():
    sooner = EVIDENCE.with_values({"departure.hazard_unsealed": 0.5})
    assert walked(FULL | CELLS, evidence=sooner).now.gone > walked(FULL | CELLS).now.gone


def test_own_odds_are_in_the_days_ahead_as_in_the_score():
    own = EVIDENCE.with_values({"calibration.odds": 1.8})
    walk = walked(FULL | CELLS, evidence=own)
    chances = of_the_score(tables(FULL | CELLS), evidence=own)
    by = [walk.now.gone + (1 - walk.now.gone) * day.left_by for day in walk.ahead]
    np.testing.assert_allclose([walk.now.gone, *by], chances.by[0, 0], rtol=0, atol=1e-12)
    assert walk.p_within(7) > walked(FULL | CELLS).p_within(7)


def test_rows_after_the_evening_are_not_used(walks):
    late = FULL | {"date": "2026-05-31", "oldest_queen_cell": "ripe"}
    scene = SCENES["cells"]["seen"]
    assert walked(*scene, late).ahead == walks["cells"].ahead


@pytest.mark.parametrize("event", ["died", "united", "absconded"])
def test_a_colony_that_is_no_more_has_no_walk(event):
    assert walked(events=({"colony": "A", "date": "2026-05-20", "event": event},)) is None


def test_an_unknown_colony_has_no_walk():
    assert walk_through(tables(), "B", on=ON, evidence=EVIDENCE) is None


def test_a_recorded_swarm_is_told(walks):
    assert walks["swarmed"].swarmed_on == dt.date(2026, 5, 28)
    assert walks["swarmed"].now.gone == 1
    assert walks["cells"].swarmed_on is None


def test_the_looks_are_kept_without_their_blanks(walks):
    walk = walks["cells"]
    assert walk.looks == (dt.date(2026, 5, 27), dt.date(2026, 5, 29))
    assert walk.looked["queen_cells_larva"] == 3
    assert "piping" not in walk.looked
