"""Field results, run through the score's own model of cells and departure.

Each experiment is told in the model's terms and must land inside the interval that the field
counts leave open (exact binomial, 95 %).
"""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from swarmwatch.evidence import load_evidence
from swarmwatch.swarming.belief import CELLS, GONE, Day, all_idle, step
from swarmwatch.swarming.departure import cell_rates, stage_shares
from swarmwatch.swarming.parameters import drawn
from swarmwatch.swarming.preparation import crowding_log_ratio
from swarmwatch.swarming.score import score_colonies
from swarmwatch.swarming.season import season_curve

EVIDENCE = load_evidence()
DRAWS = 64
PARAMETERS = drawn(EVIDENCE, draws=DRAWS, seed=8)
RATES = cell_rates(PARAMETERS)
SEASON_DAYS = 60
# a usual day's departure weather in the season of a temperate place; judgement
USUAL_GATE = 0.6
NEVER_CLIPPED = np.zeros(1, dtype=bool)


def course(start, restart, *, days=SEASON_DAYS, cells=False):
    """Follow one colony (draws, 1) day by day; `cells` begins with an egg in a cell."""
    belief = all_idle(DRAWS, 1)
    if cells:
        belief[:] = 0
        belief[..., CELLS.start] = 1
    history = [belief]
    for _ in range(days):
        day = Day(
            start=np.full((DRAWS, 1), start),
            restart=np.broadcast_to(np.asarray(restart).reshape(-1, 1), (DRAWS, 1)),
            gate=np.full((DRAWS, 1), USUAL_GATE),
        )
        belief = step(belief, day, rates=RATES, clipped=NEVER_CLIPPED)
        history.append(belief)
    return history


def gone(belief):
    return float(belief[..., GONE].sum(axis=-1).mean())


def crowded_rate(crowding):
    """The daily rate of a colony of so much crowding in the season's height, by draw."""
    # the reference colony swarms with 0.30 a year; about 0.012 starts a day at the peak
    ratio = crowding_log_ratio(np.full((1, 1), crowding), PARAMETERS)[:, 0]
    return 0.012 * np.exp(ratio)


def test_most_colonies_that_outgrew_a_small_hive_and_had_cells_swarmed():
    # 8 of 10, 95 % interval 0.44 to 0.97 (exact): Simpson & Riedel 1963, J Apic Res 2; published
    after = course(0.0, crowded_rate(1.5), cells=True)[-1]
    assert 0.44 <= gone(after) <= 0.97


def test_fewer_than_half_of_roomy_colonies_with_cells_replace_their_queen():
    # more than twice as many colonies had occupied cells as replaced their queen: Allen 1965, as
    # reported in Free 1987; published, read in a summary
    after = course(0.0, crowded_rate(0.5), cells=True)[-1]
    assert gone(after) < 0.5


def test_some_prime_swarms_leave_before_any_cell_is_sealed():
    # 2 of 8, 95 % interval 0.03 to 0.65 (exact): Simpson & Riedel 1963; published
    history = course(0.0, 0.0, cells=True, days=25)
    shares = stage_shares(PARAMETERS)
    unsealed = shares[:, :3].sum(axis=1)
    left_early = left = 0.0
    for before in history[:-1]:
        leave = before[:, 0, CELLS] * RATES.depart * USUAL_GATE
        left += float(leave.sum(axis=1).mean())
        left_early += float((leave * unsealed).sum(axis=1).mean())
    assert 0.03 <= left_early / left <= 0.65


def test_the_swarm_leaves_about_nine_days_after_the_eggs():
    # about nine days after eggs are laid in cups, postponed by bad weather: Demuth 1921, USDA
    # Farmers' Bulletin 1198; published. Day 5 to 10 typical: derived from the stage table
    history = course(0.0, 0.0, cells=True, days=25)
    left = np.array([gone(b) for b in history])
    middle = np.average(np.arange(1, len(left)), weights=np.diff(left))
    assert 7 <= middle <= 11


SEALED_SWARM_CELLS = {"queen_cells_capped": 8, "queen_seen": "yes", "eggs_seen": "yes"}


@pytest.mark.parametrize("latitude", [48.0, 52.0, 58.0])
@pytest.mark.parametrize(
    ("noted", "low", "high"),
    [
        ({"oldest_queen_cell": "egg"}, 0.15, 0.45),
        ({"queen_cells_egg": 1}, 0.15, 0.45),
        ({"oldest_queen_cell": "small-larva"}, 0.40, 0.80),
        ({"oldest_queen_cell": "large-larva"}, 0.40, 0.80),
        ({"queen_cells_larva": 8}, 0.40, 0.80),
        (SEALED_SWARM_CELLS, 0.75, 0.97),
    ],
)
def test_what_was_noted_in_season_gives_the_chance_within_a_fortnight(noted, low, high, latitude):
    # eggs in one cup or more 0.15 to 0.45, larvae in cells 0.40 to 0.80, sealed swarm cells with
    # queen and eggs 0.75 to 0.97, without action: judgement bracketed by Simpson & Riedel 1963 and
    # Allen 1965. In the usual weather of the place, at its season's height
    peak = round(season_curve(latitude).peak_day)
    on = date(2026, 1, 1) + timedelta(days=peak - 1)
    colony = {"colony": "A", "apiary": "Home", "hive_type": "zander-10", "queen_year": 2024}
    look = {"colony": "A", "date": on, "combs": 10, "combs_bees": 9, "combs_brood": 7}
    scores = score_colonies(
        pd.DataFrame([colony]),
        pd.DataFrame([look | noted]),
        None,
        on,
        apiaries=pd.DataFrame([{"apiary": "Home", "latitude": latitude, "longitude": 10.0}]),
        words=False,
    )
    assert low <= scores["p_14d"].item() <= high
