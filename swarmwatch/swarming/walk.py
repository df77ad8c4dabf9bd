"""How did one colony's score come about? The model's own run at central values, step by step."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.swarming.belief import ABANDONED, CELLS, GONE, IDLE, Day, step
from swarmwatch.swarming.chances import at_odds
from swarmwatch.swarming.departure import AGES, CellRates, stage_shares
from swarmwatch.swarming.notes import Floats, read_records
from swarmwatch.swarming.parameters import Parameters, central
from swarmwatch.swarming.preparation import crowding_log_ratio, reference_crowding
from swarmwatch.swarming.readiness import Covariates, log_ratio
from swarmwatch.swarming.replay import Colonies, carry
from swarmwatch.swarming.run import (
    Block,
    Setting,
    blocks_of,
    colonies_of,
    crowding_now,
    last_look,
    setting_of,
    swarmed_on,
)
from swarmwatch.swarming.steps import Steps, looks_of, steps_of
from swarmwatch.swarming.walk_facts import (
    Ahead,
    Belief,
    Cells,
    Crowding,
    Factor,
    Start,
    Walk,
)
from swarmwatch.tables import TABLES

CHANCE_KEY = "season.yearly_chance_inspected"
_AHEAD_D = 14
# the 80 % range of what is drawn or believed
_LOW_SHARE, _HIGH_SHARE = 0.1, 0.9  # definition: 10th and 90th percentile


def walk_through(
    tables: Mapping[str, pd.DataFrame], colony: str, *, on: dt.date, evidence: Evidence
) -> Walk | None:
    """Run the score of one colony at central values and keep each step.

    Parameters
    ----------
    tables
        The keeper's tables by name: colonies, inspections, events, apiaries, hives, weather.
    colony
        Its name.
    on
        The evening.
    evidence
        The numbers.

    Returns
    -------
    The steps; None where the colony is unknown or no more.
    """
    mine = {n: tables[n][tables[n]["colony"] == colony] for n in ("colonies", "inspections")}
    records = read_records(
        mine["colonies"],
        mine["inspections"],
        on=on,
        events=tables["events"],
        apiaries=tables["apiaries"],
        hives=tables["hives"],
    )
    if records.colonies.empty:
        return None
    parameters = central(evidence)
    (block,) = blocks_of(
        records, tables["weather"], ahead=_AHEAD_D, parameters=parameters, evidence=evidence
    )
    setting = setting_of(block, parameters, seed=None, chance_key=CHANCE_KEY)
    return _Run(block, setting).walk()


class _Run:
    """The run of one colony: the same steps as in the replay, kept instead of read off."""

    def __init__(self, block: Block, setting: Setting) -> None:
        self.block, self.setting = block, setting
        self.parameters: Parameters = setting.parameters
        self.rates: CellRates = setting.rates
        self.odds = self.parameters["calibration.odds"]
        self.readiness = log_ratio(block.covariates, self.parameters)
        self.start = -np.expm1(-setting.course.season_rate[:, 0, 0] * np.exp(self.readiness[0, 0]))
        self.colonies: Colonies = colonies_of(block, self.readiness)
        self.steps: Steps = steps_of(block.records, block.notes, block.days)

    def walk(self) -> Walk:
        """Return all steps."""
        block = self.block
        yard, days = block.yards[0], block.days
        look = int(last_look(block)[0])
        with_look, since = self._carried(block)
        without, _ = self._carried(block if look < 0 else _unseen(block, look))
        now, ahead = self._ahead(with_look, since)
        rows = block.notes.rows
        events = block.records.events
        return Walk(
            colony=str(block.records.colonies["colony"].iloc[0]),
            apiary=yard.name,
            on=block.records.on,
            peak_on=yard.peak_on,
            own_peak=yard.peak_error_share < 1,
            looks=tuple(d.date() for d in rows["date"]),
            looked={} if look < 0 else _noted(rows.iloc[look]),
            events=tuple(
                (d.date(), str(e))
                for d, e in zip(events["date"], events["event"], strict=True)
                if d.date() >= days.start
            ),
            swarmed_on=swarmed_on(block)[0],
            clipped=bool(self.colonies.clipped[0]),
            without_look=self._told(without),
            with_look=self._told(with_look),
            now=self._told(now),
            crowding=self._crowding(),
            start=self._start(),
            cells=self._cells(now),
            ahead=ahead,
            odds=float(self.odds[0]),
        )

    def _carried(self, block: Block) -> tuple[Floats, int]:
        """Return the belief (n_states,) after the last note, and that note's evening."""
        belief, since, _ = carry(
            colonies=self.colonies,
            steps=self.steps,
            looks=block.looks,
            course=self.setting.course,
            rates=self.rates,
            parameters=self.parameters,
            start=self.start[None, None],
        )
        return belief[0, 0], int(since[0])

    def _ahead(self, belief: Floats, since: int) -> tuple[Floats, tuple[Ahead, ...]]:
        """Carry a belief to the evening and on; return that of the evening, and the days ahead."""
        days, course = self.block.days, self.setting.course
        daily = self.block.yards[0].daily
        clipped, out = self.colonies.clipped, []
        now, gone, here, before = belief, 0.0, 1.0, 0.0
        for t in range(since, days.count):
            if t > since:
                today = Day(
                    start=self.start[t].reshape(1, 1),
                    restart=course.restart[t, 0].reshape(1, 1),
                    gate=course.gate[t, 0].reshape(1, 1),
                )
                belief = step(belief[None, None], today, rates=self.rates, clipped=clipped)[0, 0]
            if t == days.on:
                now, gone = belief, float(belief[GONE].sum())
                here = max(1 - gone, float(np.finfo(float).tiny))
            if t > days.on:
                by = np.array([[[gone, belief[GONE].sum()]]])
                left_by = (float(at_odds(by, self.odds)[0, 0, 1]) - gone) / here
                row = daily.iloc[t]
                out.append(
                    Ahead(
                        day=days.date(t),
                        kind=str(row["kind"]),
                        temp_max_c=float(row["temp_max_c"]),
                        rain_mm=float(row["rain_mm"]),
                        wind_max_m_s=float(row["wind_max_m_s"]),
                        gate=float(course.gate[t, 0, 0]),
                        leaves=left_by - before,
                        left_by=left_by,
                    )
                )
                before = left_by
        return now, tuple(out)

    def _told(self, belief: Floats) -> Belief:
        stages = stage_shares(self.parameters)[0] @ belief[CELLS]
        return Belief(
            idle=float(belief[IDLE] + belief[ABANDONED]),
            egg=float(stages[0]),
            larva=float(stages[1:3].sum()),
            sealed=float(stages[3:].sum()),
            gone=float(belief[GONE].sum()),
        )

    def _crowding(self) -> Crowding:
        covariates, on = self.block.covariates, self.block.days.on
        usual = reference_crowding(covariates.from_peak[:, on], self.parameters)
        # the ratio of the crowding alone says which crowding the score took for likely
        least, most = (self.parameters[f"preparation.crowding_{k}"][0] for k in ("least", "most"))
        alone = log_ratio(_only_crowding(covariates), self.parameters)[0, 0, on]
        alone -= self.parameters["preparation.unseen_readiness"][0]
        peak = self.parameters["preparation.reference_crowding_peak"][0]
        likely = peak + alone / self.parameters["preparation.crowding_effect"][0]
        return Crowding(
            counted=float(crowding_now(self.block)[0]),
            likely=float(np.clip(likely, least, most)),
            usual=float(usual[0]),
        )

    def _start(self) -> Start:
        covariates, on = self.block.covariates, self.block.days.on
        yard = self.block.yards[0]
        lead = float(self.parameters["preparation.lead_before_departure"][0])
        late = float(self.parameters["season.peak_error"][0]) * yard.peak_error_share
        from_peak = float(covariates.from_peak[0, on])
        season = float(yard.curve.weight_from_peak(from_peak + lead - late))
        rate = float(self.setting.course.season_rate[on, 0, 0])
        usual = reference_crowding(covariates.from_peak[:, on], self.parameters)
        plain = float(crowding_log_ratio(usual[None], self.parameters)[0, 0])
        factors = self._factors()
        alone = plain + sum(float(np.log(f.ratio)) for f in factors)
        return Start(
            base=rate / season if season else rate,
            season=season,
            usual=float(np.exp(plain)),
            factors=factors,
            together=float(np.exp(self.readiness[0, 0, on] - alone)),
            p=float(self.start[on]),
        )

    def _factors(self) -> tuple[Factor, ...]:
        """Return what each thing known does beside the others, by leaving it out."""
        covariates, on = self.block.covariates, self.block.days.on
        out = []
        for name, (field, blank, keys) in _FACTORS.items():
            ratio = self._ratio(_blanked(covariates, field, blank))
            values = np.atleast_1d(getattr(covariates, field)[0].astype(np.float64))
            seen = float(values[on] if len(values) > 1 else values[0])
            if field == "queen_age_y":
                keys = (*keys, *_keys_of_age(seen))
            out.append(Factor(name=name, seen=seen, ratio=ratio, keys=keys))
        for key, working in covariates.actions.items():
            others = {k: v for k, v in covariates.actions.items() if k != key}
            ratio = self._ratio(replace(covariates, actions=others))
            seen = float(working[0, on])
            out.append(Factor(name="done", seen=seen, ratio=ratio, keys=(key,)))
        return tuple(f for f in out if f.ratio != 1)

    def _ratio(self, without: Covariates) -> float:
        on = self.block.days.on
        effect = self.readiness[0, 0, on] - log_ratio(without, self.parameters)[0, 0, on]
        return float(np.exp(effect))

    def _cells(self, belief: Floats) -> Cells | None:
        mass = belief[CELLS]
        whole = float(mass.sum())
        if not whole > 0:
            return None
        share = mass / whole
        low, high = (
            float(AGES[int(np.searchsorted(np.cumsum(share), q))])
            for q in (_LOW_SHARE, _HIGH_SHARE)
        )
        # the oldest cell of age a has lived a to a + 1 days by the evening
        age = float(share @ (AGES + 0.5))
        hazard, give_up = self.rates.of(clipped=bool(self.colonies.clipped[0]))
        return Cells(
            age=age,
            age_low=low,
            age_high=high,
            sealed_in=max(float(self.parameters["cells.sealing_age"][0]) - age, 0.0),
            leaves=float(share @ hazard[0]),
            given_up=float(share @ give_up[0]),
        )


# name: field of the covariates, its blank, and the evidence behind it
_FACTORS: dict[str, tuple[str, float | bool, tuple[str, ...]]] = {
    "crowding": ("crowding", np.nan, ("preparation.crowding_effect",)),
    "congestion": (
        "congestion",
        np.nan,
        ("preparation.congestion_effect", "preparation.reference_congestion"),
    ),
    "no drones": ("no_drones", False, ("preparation.factor_no_drones",)),
    "bees outside": ("bees_outside", False, ("preparation.odds_bees_outside",)),
    "queen's age": (
        "queen_age_y",
        np.nan,
        ("preparation.odds_queen_second_year", "preparation.share_queen_second_year"),
    ),
    "swarmed last year": ("swarmed_last_year", np.nan, ("preparation.odds_swarmed_last_year",)),
    "swarm of this season": ("new_swarm", False, ("preparation.factor_origin_swarm",)),
    "made this season": ("new_colony", False, ("preparation.factor_origin_new",)),
}


def _keys_of_age(queen_age_y: float) -> tuple[str, ...]:
    """Return what stands behind a queen's age beside the usual mix of ages."""
    if queen_age_y < 1:
        return ("preparation.factor_queen_this_year",)
    return ("preparation.odds_queen_older",) if queen_age_y > 2 else ()


def _blanked(covariates: Covariates, field: str, blank: float | bool) -> Covariates:
    empty = np.full_like(getattr(covariates, field), blank)
    return replace(covariates, **{field: empty})


def _only_crowding(covariates: Covariates) -> Covariates:
    for field, blank, _ in _FACTORS.values():
        if field != "crowding":
            covariates = _blanked(covariates, field, blank)
    return replace(covariates, actions={})


def _unseen(block: Block, look: int) -> Block:
    """Return the block as if the look in that row had noted nothing."""
    rows = block.notes.rows.copy()
    keys = set(TABLES["inspections"].key)
    for column in set(rows.columns) - keys:
        rows.loc[rows.index[look], column] = pd.NA
    unseen = replace(
        block.notes,
        rows=rows,
        log_bees=np.where(np.arange(len(rows)) == look, np.nan, block.notes.log_bees),
    )
    looks = looks_of(
        unseen,
        block.covariates.crowding[unseen.colony, unseen.day],
        central(block.evidence),
        block.evidence.value("advice.crowded"),
    )
    return replace(block, notes=unseen, looks=looks)


def _noted(row: "pd.Series[str]") -> dict[str, object]:
    return {str(n): v for n, v in row.items() if not pd.isna(v) and n != "colony"}
