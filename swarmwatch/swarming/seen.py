"""How likely is what the keeper saw, under each state the colony may be in?

Blank is "not looked": it says nothing. 0 and `none` are "looked, none": they count for as much
as the chance to miss.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, ndtr

from swarmwatch.swarming.belief import ABANDONED, CELLS, GONE, IDLE, LONGEST_GONE, STATES
from swarmwatch.swarming.departure import (
    OLDEST_AGE,
    STAGES,
    cell_rates,
    stage_shares,
    usual_ages,
)
from swarmwatch.swarming.parameters import Parameters

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
_N_STAGES = len(STAGES)
_MARKS = ("hatch_age", "large_larva_age", "sealing_age", "ripe_age", "emergence_age")
MANY_CELLS = 10  # definition: more cells than this tell no more
_DAYS_GONE = np.arange(LONGEST_GONE + 1, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What was noted at one look per colony; every array (n,) but the two by stage.

    NaN is "not looked" or "can't tell"; 1 is yes, 0 no. `stages_looked` (n, n_stages): a note
    speaks of cells of that stage. `oldest` (n, n_stages): the oldest cell noted may be of that
    stage; all False where none was noted. `cells` is the number of occupied cells counted, NaN
    where none was or they were not counted; `one_age` whether few cells that were all seen in an
    uncrowded hive are of one age. `share_looked` is the share of brood combs viewed. `log_bees` is
    the log of counted to projected bees.
    """

    stages_looked: Flags
    oldest: Flags
    cells: Floats
    one_age: Floats
    share_looked: Floats
    eggs: Floats
    queen: Floats
    emerged: Floats
    torn: Floats
    piping: Floats
    log_bees: Floats

    def take(self, rows: NDArray[np.int64]) -> "Look":
        """Return some rows."""
        return Look(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})


def likelihood(look: Look, parameters: Parameters) -> Floats:
    """Return the chance of what was seen under each state.

    Parameters
    ----------
    look
        One look per colony.
    parameters
        The draws.

    Returns
    -------
    (n_draws, n, n_states) [-], up to a factor that is the same for all states.
    Source: evidence ``seeing.*``.
    """
    by_stage = _noted_given_stage(look, parameters)
    total = _cells_noted(look, by_stage, parameters)
    total *= _yes_no(look.eggs, _eggs_by_state(parameters))
    total *= _yes_no(look.queen, _queen_by_state(parameters))
    rest = _yes_no(look.emerged, _emerged_by_state(parameters))
    rest *= _yes_no(look.torn, _torn_by_state(parameters))
    rest *= _yes_no(look.piping, _piping_by_state(parameters))
    rest *= _bees(look.log_bees, parameters)
    share = parameters.column("seeing.other_cells")
    others = _other_cells(look, by_stage, parameters)
    total[..., IDLE] = (1 - share) * total[..., IDLE] + share * others
    return np.asarray(total * rest)


def _other_cells(look: Look, by_stage: Floats, parameters: Parameters) -> Floats:
    """Return the chance (n_draws, n) of the note where cells replace a failing or a lost queen.

    Such cells are met at any age alike, and the opened cell for some days after. A failing queen
    is there and lays, and her cells are few; of a lost one there are many cells and no eggs.
    """
    ages = np.stack([parameters[f"cells.{m}"] for m in _MARKS], axis=1)
    lengths = np.diff(ages, axis=1, prepend=0.0)
    seen_days = np.append(lengths, parameters.column("seeing.other_cells_open_days"), axis=1)
    shares = seen_days / seen_days.sum(axis=1, keepdims=True)
    cells = np.einsum("dns,ds->dn", by_stage, shares)
    failing, lost = (
        _pattern(look, parameters, kind)[..., 0]
        * _yes_no(look.eggs, parameters.column(f"seeing.eggs_seen_{eggs}"))[..., 0]
        * _yes_no(look.queen, parameters.column(f"seeing.queen_seen_{queen}"))[..., 0]
        for kind, eggs, queen in (
            ("supersedure", "laying", "present"),
            ("emergency", "gone", "gone"),
        )
    )
    share = parameters.column("seeing.other_cells_queenless")
    replacing = (1 - share) * failing + share * lost
    return np.where(_any(look.stages_looked)[None], cells * replacing, replacing)


def _pattern(look: Look, parameters: Parameters, kind: str) -> Floats:
    """Return (n_draws, n, 1): the chance of so many cells of such ages, if cells were noted.

    `kind` is ``swarm``, ``supersedure``, ``emergency`` or ``false`` (there are none).
    """
    one_age = parameters.column(f"seeing.one_age_{'swarm' if kind == 'swarm' else 'other'}")
    # a single cell has one age whatever it is for
    told = np.where(look.cells > 1, look.one_age, np.nan)
    return _number(look.cells, parameters, kind) * _yes_no(told, one_age)


def _number(cells: Floats, parameters: Parameters, kind: str) -> Floats:
    """Return (n_draws, n, 1): the chance to count so many cells; 1 where not counted.

    The number is lognormal, read off at whole cells; of `MANY_CELLS` or more the tail is taken.
    """
    middle = np.log(parameters.column(f"seeing.cells_noted_{kind}"))
    spread = parameters.column(f"seeing.cells_noted_{kind}_spread")
    many = cells >= MANY_CELLS
    # one cell gathers all below, many cells all above
    least = np.where(cells > 1, np.log(np.maximum(np.minimum(cells, MANY_CELLS), 1) - 0.5), -np.inf)
    most = np.where(many, np.inf, np.log(np.maximum(cells, 1) + 0.5))
    chance = ndtr((most - middle) / spread) - ndtr((least - middle) / spread)
    return np.asarray(np.where(np.isnan(cells), 1.0, chance)[..., None])


def _by_state(idle: Floats, abandoned: Floats, cells: Floats, gone: Floats) -> Floats:
    """Gather (n_draws, n_states) from parts that are (n_draws,) or (n_draws, n_part)."""
    draws = len(idle)
    out = np.empty((draws, STATES))
    out[:, IDLE] = idle
    out[:, ABANDONED] = abandoned
    out[:, CELLS] = cells if cells.ndim == 2 else cells[:, None]
    out[:, GONE] = gone if gone.ndim == 2 else gone[:, None]
    return out


def _yes_no(noted: Floats, chance: Floats) -> Floats:
    """Return (n_draws, n, n_states): the chance of a yes or a no, 1 where not looked."""
    yes = chance[:, None, :]
    said = noted[None, :, None]
    return np.where(np.isnan(said), 1.0, np.where(said > 0, yes, 1 - yes))


def _eggs_by_state(parameters: Parameters) -> Floats:
    laying = parameters["seeing.eggs_seen_laying"]
    sealed = stage_shares(parameters)[:, 3:].sum(axis=1)
    late = parameters["seeing.eggs_seen_cells"]
    cells = laying[:, None] + sealed * (late - laying)[:, None]
    left = parameters["seeing.eggs_seen_gone"]
    fresh = parameters.column("seeing.egg_days") > _DAYS_GONE
    middle = (parameters["afterswarm.eggs_from_day"] + parameters["afterswarm.eggs_until_day"]) / 2
    spread = (parameters["afterswarm.eggs_until_day"] - parameters["afterswarm.eggs_from_day"]) / 2
    new_queen = expit((_DAYS_GONE - middle[:, None]) / spread[:, None])
    gone = left[:, None] + new_queen * (laying - left)[:, None]
    return _by_state(laying, laying, cells, np.where(fresh, late[:, None], gone))


def _queen_by_state(parameters: Parameters) -> Floats:
    present = parameters["seeing.queen_seen_present"]
    return _by_state(present, present, present, parameters["seeing.queen_seen_gone"])


def _age_of_cells_left(parameters: Parameters) -> NDArray[np.int64]:
    """Return the age index of the oldest cell left behind, by days since the swarm left."""
    at_departure = parameters["cells.sealing_age"].mean()
    return np.asarray(np.minimum(np.rint(at_departure + _DAYS_GONE), OLDEST_AGE), dtype=np.int64)


def _emerged_by_state(parameters: Parameters) -> Floats:
    emerged = stage_shares(parameters)[:, -1]
    noted, false = (
        parameters.column("seeing.emerged_noted"),
        parameters.column("seeing.emerged_false"),
    )
    cells = false + emerged * (noted - false)
    idle = false[:, 0]
    return _by_state(idle, idle, cells, cells[:, _age_of_cells_left(parameters)])


def _torn_by_state(parameters: Parameters) -> Floats:
    emerged = stage_shares(parameters)[:, -1]
    noted, false = (
        parameters.column("seeing.torn_noted_abandoned"),
        parameters.column("seeing.torn_false"),
    )
    late = false + emerged * (noted - false)
    return _by_state(
        false[:, 0],
        noted[:, 0],
        np.broadcast_to(false, late.shape),
        late[:, _age_of_cells_left(parameters)],
    )


def _piping_by_state(parameters: Parameters) -> Floats:
    late = stage_shares(parameters)[:, 4:].sum(axis=1)
    heard, false = (
        parameters.column("seeing.piping_heard"),
        parameters.column("seeing.piping_false"),
    )
    cells = false + late * (heard - false)
    gone = cells[:, _age_of_cells_left(parameters)].copy()
    gone[:, parameters["afterswarm.last_day"][0] < _DAYS_GONE] = false
    return _by_state(false[:, 0], false[:, 0], cells, gone)


def _bees(log_bees: Floats, parameters: Parameters) -> Floats:
    """Return (n_draws, n, n_states): counted bees fit the projection, or the loss of a swarm."""
    sd = parameters.column("seeing.bees_log_sd")
    # more bees than projected speak no louder for "not gone" than as many as projected
    log_bees = np.minimum(log_bees, 0.0)[None]
    astray = parameters.column("seeing.bees_astray")
    stayed = astray + (1 - astray) * np.exp(-0.5 * (log_bees / sd) ** 2)
    lost = np.log1p(-parameters.column("seeing.share_leaving"))
    left = astray + (1 - astray) * np.exp(-0.5 * ((log_bees - lost) / sd) ** 2)
    unknown = np.isnan(log_bees)
    out = np.empty((len(sd), log_bees.shape[1], STATES))
    out[...] = np.where(unknown, 1.0, stayed)[..., None]
    out[..., GONE] = np.where(unknown, 1.0, left)[..., None]
    return out


def _cells_noted(look: Look, by_stage: Floats, parameters: Parameters) -> Floats:
    """Return (n_draws, n, n_states): the chance of the oldest cell noted, or of none."""
    stages, rates = stage_shares(parameters), cell_rates(parameters)
    usual = usual_ages(rates, parameters)
    cells = np.einsum("dns,dsa->dna", by_stage, stages)
    any_noted, looked = _any(look.oldest), _any(look.stages_looked)
    out = np.empty((parameters.draws, len(looked), STATES))
    out[..., CELLS] = cells * _pattern(look, parameters, "swarm")
    out[..., GONE] = out[..., CELLS][..., _age_of_cells_left(parameters)]
    for state, key, shares, pattern in (
        (IDLE, "seeing.false_cells", _mistaken(stages, usual, parameters), "false"),
        (
            ABANDONED,
            "seeing.old_cells_after_abandoning",
            _given_up(stages, usual * rates.abandon),
            "supersedure",
        ),
    ):
        chance = parameters.column(key)
        noted = chance * (shares @ look.oldest.T.astype(np.float64))
        noted *= _pattern(look, parameters, pattern)[..., 0]
        out[..., state] = np.where(any_noted, noted, 1 - chance)
    return np.where(looked[None, :, None], out, 1.0)


def _given_up(stages: Floats, by_age: Floats) -> Floats:
    """Return in which stage cells are given up, (n_draws, n_stages): mostly with eggs."""
    given_up = by_age / by_age.sum(axis=1, keepdims=True)
    return np.asarray(np.einsum("dsa,da->ds", stages, given_up))


def _mistaken(stages: Floats, usual: Floats, parameters: Parameters) -> Floats:
    """Return how a mistaken note spreads over the stages, (n_draws, n_stages): mostly eggs.

    The later stages are as usual for swarm cells.
    """
    egg = parameters.column("seeing.false_cells_egg")
    later = np.einsum("dsa,da->ds", stages, usual)[:, 1:]
    return np.hstack([egg, (1 - egg) * later / later.sum(axis=1, keepdims=True)])


def _noted_given_stage(look: Look, parameters: Parameters) -> Floats:
    """Return (n_draws, n, n_stages): the chance of the note if the oldest cell is in each stage."""
    find = np.stack(
        [
            parameters[f"seeing.find_{k}_cells"]
            for k in ("egg", "larva", "larva", "sealed", "sealed", "sealed")
        ],
        axis=1,
    )
    combs = parameters["seeing.combs_with_cells"][0]
    reached = 1 - (1 - look.share_looked) ** combs
    found = find[:, None, :] * reached[None, :, None] * look.stages_looked[None]
    seen_as = np.einsum("dst,nt->dns", _reading(parameters), look.oldest.astype(np.float64))
    any_noted = _any(look.oldest)[None, :, None]
    noted = find[:, None, :] * reached[None, :, None] * seen_as
    return np.asarray(np.where(any_noted, noted, 1 - found))


def _any(by_stage: Flags) -> Flags:
    return np.asarray(by_stage.any(axis=1), dtype=bool)


def _reading(parameters: Parameters) -> Floats:
    """Return (n_draws, n_stages, n_stages): the stage read, given the true oldest one."""
    missed, misread = parameters["seeing.oldest_missed"], parameters["seeing.misread_stage"]
    reading = np.zeros((parameters.draws, _N_STAGES, _N_STAGES))
    for true in range(_N_STAGES):
        near = [s for s in (true - 1, true + 1) if 0 <= s < _N_STAGES]
        for s in near:
            reading[:, true, s] += misread / len(near)
        for s in range(true):
            reading[:, true, s] += (1 - misread) * missed / true
        reading[:, true, true] += (1 - misread) * (1 - missed if true else 1)
    return reading
