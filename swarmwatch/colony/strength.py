"""What the notes of an inspection say: bees, brood, room and what blocks the queen."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.colony.combs import SIDES, mend_hive_type
from swarmwatch.errors import Problem, RecordsError
from swarmwatch.evidence import Z_HIGH, Evidence
from swarmwatch.hives import is_long

Floats = NDArray[np.float64]

_BEES_HOW = ("seams", "packed", "loose")
_COUNTS = (
    "combs",
    "combs_foundation",
    "supers",
    "combs_bees",
    "combs_brood",
    "combs_brood_capped",
    "combs_drone",
    "combs_empty",
)
_NECTAR = ("none", "some", "heavy")


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """What the notes of n inspections amount to; every array is (n,), NaN where not known.

    Attributes
    ----------
    adults
        Adult bees.
    adults_sd
        Error of `adults` on the log scale: of the count and of what "a comb of bees" means.
    brood_capped, brood_open
        Worker brood cells, capped and open (eggs among the open).
    eggs_per_day
        Laying that keeps up this brood, at most what a queen lays.
    capacity_bees
        Bees that hang comfortably on the drawn comb and foundation there is.
    comb_capacity_bees, super_capacity_bees
        What one more drawn brood comb, and one more drawn super, adds to it.
    brood_share
        Share of the drawn brood-box combs with brood.
    congestion
        Share of the room a laying queen wants that is taken [0..1].
    drawn_known, supers_known
        False where the combs, the supers were not noted: the boxes then count as full of drawn
        comb, the supers as none.
    """

    adults: Floats
    adults_sd: Floats
    brood_capped: Floats
    brood_open: Floats
    eggs_per_day: Floats
    capacity_bees: Floats
    comb_capacity_bees: Floats
    super_capacity_bees: Floats
    brood_share: Floats
    congestion: Floats
    drawn_known: NDArray[np.bool_]
    supers_known: NDArray[np.bool_]

    @property
    def crowding(self) -> Floats:
        """Adults over the comfortable room; 1 is a hive as full as bees like it [-]."""
        return self.adults / self.capacity_bees


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """Comb of each row (n,): sizes in cm2 of one side."""

    comb_cm2: Floats
    super_cm2: Floats
    super_comb_cm2: Floats
    drawn: Floats
    foundation: Floats
    supers: Floats
    drawn_known: NDArray[np.bool_]
    supers_known: NDArray[np.bool_]


def strength_of(
    inspections: pd.DataFrame, colonies: pd.DataFrame, types: pd.DataFrame, evidence: Evidence
) -> Strength:
    """Turn the notes of inspections into bees, brood and room.

    Parameters
    ----------
    inspections
        Conformed ``inspections``, n rows.
    colonies
        Conformed ``colonies``, n rows: row i is the colony of inspection i. Neither index is read.
    types
        What `swarmwatch.hives.hive_types` gives.
    evidence
        The numbers.

    Returns
    -------
    The strength, arrays (n,).

    Raises
    ------
    RecordsError
        A hive or super type is not among `types`.

    Notes
    -----
    Blanks: without combs_bees no adults and without combs_brood no brood. Without combs the brood
    boxes count as full of drawn comb less the foundation noted: combs_max, else whole boxes for
    the brood and, where no supers are on, combs for the bees; in a long hive the combs with bees
    and ``strength.spare_combs_long`` more. Without combs_brood_capped the brood is split as under
    steady laying.

    Combs of drone brood are left out of worker brood. A comb "with brood" holds less than a comb
    full of brood: ``strength.brood_nest_share``. A super of a hive without a usual one counts
    ``strength.super_share`` of the brood combs there are, at most of one box.

    Source: evidence ``strength.*`` and ``hives.*``.
    """
    noted = _numbers(inspections)
    room = _room(noted, colonies, types, evidence)
    adults, adults_sd = _adults(inspections, noted["combs_bees"], room, evidence)
    capped, opened = _brood(noted, room, evidence)
    brood = capped + opened
    most, a_day = (
        evidence.value(f"strength.{k}") for k in ("eggs_per_day_most", "brood_per_daily_egg")
    )
    comfortable = evidence.value("strength.bees_per_cm2_comfortable") * SIDES
    hanging = room.drawn + evidence.value("strength.foundation_share") * room.foundation
    one_super = room.super_cm2 * comfortable
    one_comb = room.comb_cm2 * comfortable
    capacity = hanging * one_comb + room.supers * one_super
    return Strength(
        adults=adults,
        adults_sd=adults_sd,
        brood_capped=capped,
        brood_open=opened,
        eggs_per_day=np.minimum(brood / a_day, most),
        # a hive noted without any comb still has bees hanging somewhere: at least one comb's room
        capacity_bees=np.maximum(capacity, one_comb),
        comb_capacity_bees=one_comb,
        super_capacity_bees=one_super,
        brood_share=np.clip(noted["combs_brood"] / np.maximum(room.drawn, 1), 0, 1),
        congestion=_congestion(inspections, noted["combs_empty"], room.drawn, evidence),
        drawn_known=room.drawn_known,
        supers_known=room.supers_known,
    )


def _numbers(inspections: pd.DataFrame) -> dict[str, Floats]:
    return {n: inspections[n].to_numpy(dtype=np.float64, na_value=np.nan) for n in _COUNTS}


def _room(
    noted: dict[str, Floats], colonies: pd.DataFrame, types: pd.DataFrame, evidence: Evidence
) -> _Room:
    hive, box = _type_codes(colonies, types)
    area, a_box = (types[c].to_numpy(dtype=np.float64) for c in ("comb_area_cm2", "combs_a_box"))
    super_share = evidence.value("strength.super_share")
    has_box = box >= 0
    foundation = np.nan_to_num(noted["combs_foundation"])
    most = colonies["combs_max"].to_numpy(dtype=np.float64, na_value=np.nan)
    long = is_long(types)[hive]
    spare = np.where(long, evidence.value("strength.spare_combs_long"), np.inf)
    # with honey boxes on, bees tell nothing about the number of brood combs
    below = np.where(long | ~(noted["supers"] > 0), noted["combs_bees"], 0)
    seen = np.maximum(below, np.nan_to_num(noted["combs_brood"]))
    held = _held(noted["combs_brood"], a_box[hive], most=most, seen=seen, spare=spare)
    # bees take to drawn comb before foundation, so what they cover is drawn
    unnoted = np.fmax(held - foundation, np.fmin(held, np.nan_to_num(seen)))
    drawn = np.where(np.isnan(noted["combs"]), unnoted, noted["combs"])
    nest_cm2 = area[hive] * np.clip(drawn + foundation, 1, a_box[hive])
    return _Room(
        comb_cm2=area[hive],
        super_cm2=np.where(has_box, (area * a_box)[box], super_share * nest_cm2),
        super_comb_cm2=np.where(has_box, area[box], super_share * area[hive]),
        drawn=drawn,
        foundation=foundation,
        supers=np.nan_to_num(noted["supers"]),
        drawn_known=~np.isnan(noted["combs"]),
        supers_known=~np.isnan(noted["supers"]),
    )


def _held(
    combs_brood: Floats, a_box: Floats, *, most: Floats, seen: Floats, spare: Floats
) -> Floats:
    """Return the combs and foundation there must be where they were not counted."""
    # brood that spreads over more than one box shows that there are more boxes, bees that there
    # are more combs; whole boxes for bees would let a comb of bees more lower the crowding
    boxes = np.maximum(np.ceil(np.nan_to_num(combs_brood) / a_box), 1)
    held = np.where(np.isnan(most), np.fmax(boxes * a_box, seen), most)
    # a long hive is rarely full: the combs with bees and a few more, where bees were counted
    return np.fmin(held, seen + spare)


def _type_codes(
    colonies: pd.DataFrame, types: pd.DataFrame
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the row in `types` of each hive and of its super; -1: no usual super."""
    problems: list[Problem] = []
    found = []
    for column in ("hive_type", "super_type"):
        codes, words = pd.factorize(colonies[column])
        names = [str(w) for w in words]
        places = types.index.get_indexer(pd.Index(names, dtype="str"))
        problems += [
            Problem(
                table="colonies",
                row=0,
                column=column,
                what=f"hive type {names[i]!r} of {_first(colonies, codes == i)} is not known",
                mend=mend_hive_type(names[i], types),
            )
            for i in np.flatnonzero(places < 0)
        ]
        # factorize gives -1 for a blank, which reads the last, added place: none
        found.append(np.append(places, -1)[codes])
    if problems:
        raise RecordsError(problems)
    hive, box = found
    usual = types.index.get_indexer(pd.Index(types["default_super"], dtype=object))
    return hive, np.where(colonies["super_type"].isna(), usual[hive], box)


def _first(colonies: pd.DataFrame, these: NDArray[np.bool_]) -> str:
    return f"colony {colonies['colony'].to_numpy()[these][0]!r}"


def _codes(words: pd.Series, known: Iterable[str]) -> NDArray[np.int8]:
    """Return each word's place in `known`; a blank is -1."""
    return np.asarray(pd.Categorical(words, categories=list(known)).codes)


def _adults(
    inspections: pd.DataFrame, combs_bees: Floats, room: _Room, evidence: Evidence
) -> tuple[Floats, Floats]:
    how = _codes(inspections["bees_how"], _BEES_HOW)
    density = [evidence[f"strength.bees_per_cm2_{w}"] for w in (*_BEES_HOW, "unstated")]
    trained, untrained = (
        math.log1p(evidence.value(f"strength.count_error_{w}")) / Z_HIGH
        for w in ("trained", "untrained")
    )
    sd = [
        math.hypot(
            math.log(d.high / d.low) / 2 / Z_HIGH,
            trained if d.key.endswith("_packed") else untrained,
        )
        for d in density
    ]
    # combs of bees beyond the brood boxes hang in the supers, whose combs are smaller
    in_nest = np.where(
        room.supers > 0, np.minimum(combs_bees, room.drawn + room.foundation), combs_bees
    )
    face_cm2 = in_nest * room.comb_cm2 + (combs_bees - in_nest) * room.super_comb_cm2
    adults = face_cm2 * SIDES * np.array([d.value for d in density])[how]
    return adults, np.where(np.isnan(adults), np.nan, np.array(sd)[how])


def _brood(noted: dict[str, Floats], room: _Room, evidence: Evidence) -> tuple[Floats, Floats]:
    known = evidence.group("strength")
    cells_a_comb = (
        room.comb_cm2
        * SIDES
        * known["worker_cells_per_cm2"]
        * known["brood_fill_full_comb"]
        * known["brood_nest_share"]
    )
    combs = noted["combs_brood"]
    drone = np.minimum(np.nan_to_num(noted["combs_drone"]), combs)
    with np.errstate(divide="ignore", invalid="ignore"):
        worker_share = np.where(combs > 0, (combs - drone) / combs, np.where(combs == 0, 0, np.nan))
        seen_share = np.where(combs > 0, np.minimum(noted["combs_brood_capped"] / combs, 1), 0)
    capped_share = np.where(
        np.isnan(noted["combs_brood_capped"]), known["capped_share"], seen_share
    )
    brood = combs * worker_share * cells_a_comb
    return brood * capped_share, brood * (1 - capped_share)


def _congestion(
    inspections: pd.DataFrame, combs_empty: Floats, drawn: Floats, evidence: Evidence
) -> Floats:
    """Return the share of the queen's wanted room that is taken; the mean of the two signs."""
    words = [evidence.value(f"strength.congestion_nectar_{w}") for w in _NECTAR]
    by_nectar = np.array([*words, np.nan])[_codes(inspections["nectar_in_brood"], _NECTAR)]
    wanted = evidence.value("strength.empty_share_needed") * np.maximum(drawn, 1)
    by_empty = 1 - np.minimum(combs_empty / wanted, 1)
    both = (by_nectar + by_empty) / 2
    one = np.where(np.isnan(by_nectar), by_empty, by_nectar)
    return np.where(np.isnan(both), one, both)
