"""Read off many colonies that were looked at once: what they share is worked out once.

All colonies of a yard that were looked at on one day, and of which the same was noted, share
reference belief and likelihood. The states but idle then keep their proportions, so that what
they are worth comes down to a few numbers a pattern; a colony adds only its own readiness.
"""

from dataclasses import dataclass, fields, replace
from itertools import pairwise

import numpy as np

from swarmwatch.swarming.belief import ABANDONED, CELLS, GONE, IDLE, LONGEST_GONE, STATES
from swarmwatch.swarming.chances import Chances, at_odds
from swarmwatch.swarming.departure import value_of
from swarmwatch.swarming.notes import Floats, Integers
from swarmwatch.swarming.parameters import Parameters
from swarmwatch.swarming.readiness import log_ratio
from swarmwatch.swarming.replay import (
    afterswarm_ahead,
    afterswarm_reward,
    reference_course,
    without_the_done,
)
from swarmwatch.swarming.run import Block, Setting, colonies_of
from swarmwatch.swarming.seen import Look, likelihood
from swarmwatch.swarming.timeline import Days

# the columns of what a state is worth: any but idle, given up, cells, then each target, afterswarm
_BUSY, _GIVEN_UP, _HAS_CELLS, _TARGETS = 0, 1, 2, 3
# numerical: with fewer the many short calls were measured to keep the other core waiting
_COLONIES_A_PIECE = 4096
_READINESS = ("preparation", "actions")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """What all colonies of some yards share, worked out once.

    `reference` the reference colony's belief (n_draws, n_yards, n_states) on evenings of looks;
    `cells`, by whether the queen is clipped, the worth (n_days, n_targets + 1, n_yards, n_draws,
    n_ages) of cells: the swarm by each target, then the afterswarm; `ahead` (n_draws, n_days) the
    chance of an afterswarm by the days since the prime swarm; `days` the line of days up to the
    last on which cells may be started whose swarm leaves by the last target.
    """

    setting: Setting
    reference: dict[int, Floats]
    cells: dict[bool, Floats]
    ahead: Floats
    days: Days
    readiness: Parameters

    def days_from(self, first: int) -> Days:
        """Return the line of days that begins on the evening of a look."""
        return replace(self.days, start=self.days.date(first), on=self.days.on - first)


def shared_of(
    setting: Setting, days: Days, *, looked: set[int], clipped: set[bool], targets: tuple[int, ...]
) -> Shared:
    """Work out what colonies share.

    Parameters
    ----------
    setting, days
        Rates and weather of each draw, on the line of days.
    looked
        The evenings of looks, as indices on the line of days.
    clipped
        Whether there are queens that can't fly, and whether there are others.
    targets
        Days after `on` by which a swarm is asked for.
    """
    course, ahead = setting.course, afterswarm_ahead(setting.parameters)
    first = min(looked)
    asked = (
        (tuple(days.on + t for t in targets), None),
        ((days.on,), afterswarm_reward(ahead, days)),
    )
    cells = {
        cut: np.concatenate(
            [
                value_of(
                    rates=setting.rates,
                    clipped=cut,
                    gate=course.gate,
                    restart=course.restart,
                    horizons=horizons,
                    first=first,
                    reward=reward,
                ).cells
                for horizons, reward in asked
            ],
            axis=1,
        )
        for cut in clipped
    }
    last_start = max((_last_start(worth) for worth in cells.values()), default=0)
    sets = {k: v for k, v in setting.parameters.sets.items() if k.partition(".")[0] in _READINESS}
    return Shared(
        setting=setting,
        reference=reference_course(course, setting.rates, looked),
        cells=cells,
        ahead=ahead,
        days=replace(days, ahead=max(last_start - days.on, 0)),
        readiness=Parameters(sets=sets, draws=setting.parameters.draws),
    )


def _last_start(cells: Floats) -> int:
    """Return the last evening on which new cells are worth anything, 0 where there is none."""
    return int(np.flatnonzero(cells[..., 0].any(axis=(1, 2, 3))).max(initial=0))


def chances_of_single_looks(block: Block, shared: Shared, *, first: int, targets: int) -> Chances:
    """Return the chances of colonies that were all looked at once, on the block's first evening.

    Parameters
    ----------
    block
        The colonies, in order of yard, on the days that `shared` gives from the look on; note i
        is that of colony i.
    shared
        What they share.
    first
        The evening of the look on the line of days of `shared`.
    targets
        The number of targets of `shared`.
    """
    draws = shared.readiness.draws
    colonies = colonies_of(block, np.empty(0))
    out = np.empty((draws, block.count, targets + 2))
    chance = np.empty((draws, block.count))
    said, kind = _patterns(block.looks)
    seen_as = likelihood(block.looks.take(said), shared.setting.parameters)
    key = block.yard * 2 + colonies.clipped
    for row in range(0, block.count, _COLONIES_A_PIECE):
        piece = slice(row, min(row + _COLONIES_A_PIECE, block.count))
        ends = np.flatnonzero(np.diff(key[piece], prepend=-1, append=-1)).tolist()
        groups = []
        for begin, end in pairwise(ends):
            first_of, mine = row + begin, slice(begin, end)
            here, of_kind = np.unique(kind[piece][mine], return_inverse=True)
            worth = _worth(
                shared,
                block.days,
                seen_as[:, here],
                yard=int(block.yard[first_of]),
                clipped=bool(colonies.clipped[first_of]),
                first=first,
            )
            groups.append(_Group(colonies=mine, kind=of_kind, worth=worth))
        ratio = log_ratio(block.covariates.take(piece), shared.readiness)
        np.exp(ratio, out=ratio)
        out[:, piece], chance[:, piece] = _piece(ratio, groups)
    by = at_odds(np.clip(out[..., 1:-1], 0, 1), shared.setting.parameters["calibration.odds"])
    after = without_the_done(out[..., -1], colonies, shared.setting.parameters)
    return Chances(by=by, after=after, cells=out[..., 0], weight=chance / chance.sum(axis=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worth:
    """What the states are worth on the evening of a look, by what was seen.

    `busy` (n_draws, n_patterns, n_columns) the worth of all states but idle, weighed by the
    reference belief and by what was seen; `idle` (n_draws, n_patterns) the likelihood of idle;
    `fall` (n_draws, n_days, 1 + n_targets) how much less new cells are worth a day later, for
    each day after the look; `reference_idle` and `restart` (n_draws, 1) of the reference colony;
    `season` (n_draws, 1, n_days) the rate of starts at reference readiness [1/d].
    """

    busy: Floats
    idle: Floats
    fall: Floats
    reference_idle: Floats
    restart: Floats
    season: Floats


def _worth(
    shared: Shared, days: Days, seen_as: Floats, *, yard: int, clipped: bool, first: int
) -> _Worth:
    course = shared.setting.course
    cells = shared.cells[clipped][first:, :, yard]
    states = _worth_of_states(cells[0], shared.ahead, days.on)
    starts = np.moveaxis(cells[1 : days.count, ..., 0], -1, 0)
    reference = shared.reference[first][:, yard, None]
    weighed = reference * seen_as
    # what is impossible under every state tells nothing
    impossible = weighed.sum(axis=-1, keepdims=True) <= 0
    weighed = np.where(impossible, reference, weighed)
    return _Worth(
        busy=weighed @ states,
        idle=np.where(impossible, 1.0, seen_as)[..., IDLE],
        fall=np.ascontiguousarray(-np.diff(starts, axis=1, append=0.0)),
        reference_idle=reference[..., IDLE],
        restart=course.restart[first, yard][:, None],
        season=course.season_rate[first : first + days.count, yard].T[:, None],
    )


def _worth_of_states(cells: Floats, ahead: Floats, days_since: int) -> Floats:
    """Return (n_draws, n_states, n_columns) from cells of (1 + n_targets, n_draws, n_ages)."""
    columns, draws = cells.shape[:2]
    states = np.zeros((draws, STATES, _TARGETS + columns))
    states[:, IDLE + 1 :, _BUSY] = 1
    states[:, ABANDONED, _GIVEN_UP] = 1
    states[:, CELLS, _HAS_CELLS] = 1
    states[:, CELLS, _TARGETS:] = np.moveaxis(cells, 0, -1)
    states[:, GONE, _TARGETS:-1] = 1
    age = np.arange(LONGEST_GONE + 1) + days_since
    known = ahead[:, np.minimum(age, LONGEST_GONE)]
    states[:, GONE, -1] = np.where(age <= LONGEST_GONE, known, 0)
    return states


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Which colonies of a piece share a yard and a kind of queen, what was seen of each, its worth.

    `kind` (n,) is the place of each colony's pattern in `worth`.
    """

    colonies: slice
    kind: Integers
    worth: _Worth


def _piece(ratio: Floats, groups: list[_Group]) -> tuple[Floats, Floats]:
    """Return (n_draws, n, 1 + n_targets + 1): cells now, gone by each target, an afterswarm.

    Beside it the chance (n_draws, n) of what was seen. `ratio` (n_draws, n, n_days) is the hazard
    ratio to the reference colony's; it is written over. What does not differ by group is done for
    all at once: many short calls would keep the other core waiting.
    """
    tiny = np.finfo(float).tiny
    worths = [g.worth for g in groups]
    whose = np.repeat(np.arange(len(groups)), [len(g.kind) for g in groups])
    before = np.cumsum([0, *(w.idle.shape[1] for w in worths)])
    kind = np.concatenate([g.kind for g in groups]) + before[whose]
    restart, reference_idle = (
        np.concatenate([getattr(w, name) for w in worths], axis=1)[:, whose]
        for name in ("restart", "reference_idle")
    )
    for group in groups:
        ratio[:, group.colonies] *= group.worth.season
    rate = ratio  # of starts, now that the season is in it
    multiple = np.exp(
        np.log(np.maximum(-np.expm1(-rate[..., 0]), tiny)) - np.log(np.maximum(restart, tiny))
    )
    stayed = np.maximum(reference_idle**multiple, tiny)
    busy = 1 - reference_idle
    scale = np.where(busy > 0, (1 - stayed) / np.where(busy > 0, busy, 1), 0)
    seen_idle = np.concatenate([w.idle for w in worths], axis=1)[:, kind]
    idle = np.where(busy > 0, stayed, 1) * seen_idle
    of_kind = np.concatenate([w.busy for w in worths], axis=1)[:, kind]
    total = idle + scale * of_kind[..., _BUSY]
    scale /= total
    # cells given up count as idle from the look on
    idle = idle / total + scale * of_kind[..., _GIVEN_UP]
    # rates add up over the days: exp(- sum) are idle still, the rest began on one of them
    began = rate[..., 1:]
    np.negative(began, out=began)
    for day in range(1, began.shape[-1]):
        began[..., day] += began[..., day - 1]
    np.exp(began, out=began)
    np.subtract(1, began, out=began)
    out = of_kind[..., _HAS_CELLS:] * scale[..., None]
    for group in groups:
        mine = group.colonies
        out[:, mine, 1:] += idle[:, mine, None] * (began[:, mine] @ group.worth.fall)
    return np.asarray(out), np.asarray(total)


def _patterns(looks: Look) -> tuple[Integers, Integers]:
    """Return a row of each thing noted, and which of them each row is."""
    columns = [getattr(looks, f.name) for f in fields(looks)]
    noted = np.column_stack([np.nan_to_num(c, nan=-1.0) for c in columns])
    as_one = noted.view(np.dtype((np.void, noted.dtype.itemsize * noted.shape[1])))[:, 0]
    _, said, kind = np.unique(as_one, return_index=True, return_inverse=True)
    return said, kind
