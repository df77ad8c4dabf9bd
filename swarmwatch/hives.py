"""Which hive types there are, and how much comb and room a box of each holds."""

from collections.abc import Iterable
from difflib import get_close_matches
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.errors import Problem, RecordsError
from swarmwatch.evidence import Evidence

_MEASURES = ("comb_area_cm2", "combs_a_box", "volume_l")
OWN_FAMILY = "own"
_LONG_FAMILIES = ("layens", "top-bar")
_NEEDED = ("comb_length_mm", "comb_height_mm", "combs_a_box")
_CM2_PER_MM2 = 0.01


class _Kind(NamedTuple):
    family: str
    default_super: str | None
    frames: bool = True


# which boxes stand on one footprint, and which of them is the usual honey box there: names only,
# every measure is evidence. A type of the evidence that is not named here stands for itself.
_KINDS = {
    "langstroth-deep-10": _Kind("langstroth-10", "langstroth-medium-10"),
    "langstroth-jumbo-10": _Kind("langstroth-10", "langstroth-medium-10"),
    "langstroth-medium-10": _Kind("langstroth-10", "langstroth-medium-10"),
    "langstroth-shallow-10": _Kind("langstroth-10", "langstroth-shallow-10"),
    "langstroth-deep-8": _Kind("langstroth-8", "langstroth-medium-8"),
    "langstroth-medium-8": _Kind("langstroth-8", "langstroth-medium-8"),
    "langstroth-deep-8-australian": _Kind("langstroth-8-australian", "australian-ideal-8"),
    "australian-ideal-8": _Kind("langstroth-8-australian", "australian-ideal-8"),
    "langstroth-nucleus-5": _Kind("langstroth-nucleus-5", None),
    "langstroth-nucleus-6": _Kind("langstroth-nucleus-6", None),
    "national-deep": _Kind("national", "national-shallow"),
    "national-14x12": _Kind("national", "national-shallow"),
    "national-shallow": _Kind("national", "national-shallow"),
    "national-nucleus-5": _Kind("national-nucleus-5", None),
    # outside 465 mm square, so the 460 mm box of the National stands on it
    "commercial-11": _Kind("commercial", "national-shallow"),
    "smith-11": _Kind("smith", "smith-shallow-11"),
    "smith-shallow-11": _Kind("smith", "smith-shallow-11"),
    "wbc-10": _Kind("wbc", "wbc-shallow-10"),
    "wbc-shallow-10": _Kind("wbc", "wbc-shallow-10"),
    "dadant-10": _Kind("dadant-10", "dadant-super-10"),
    "dadant-super-10": _Kind("dadant-10", "dadant-super-10"),
    "dadant-12": _Kind("dadant-12", "dadant-super-12"),
    "dadant-super-12": _Kind("dadant-12", "dadant-super-12"),
    "dadant-square-12": _Kind("dadant-square", "dadant-square-super-10"),
    "dadant-square-super-10": _Kind("dadant-square", "dadant-square-super-10"),
    "zander-10": _Kind("zander", "zander-10"),
    "deutsch-normal-11": _Kind("deutsch-normal", "deutsch-normal-11"),
    "deutsch-normal-one-and-half-11": _Kind("deutsch-normal", "deutsch-normal-11"),
    "layens-14": _Kind("layens", None),
    "voirnot-10": _Kind("voirnot", None),
    "warre": _Kind("warre", "warre", frames=False),
    "top-bar": _Kind("top-bar", None, frames=False),
}


def hive_types(evidence: Evidence, own: pd.DataFrame | None = None) -> pd.DataFrame:
    """Return the measures of every hive type, the keeper's own on top.

    Parameters
    ----------
    evidence
        The numbers; its subject ``hives`` holds ``TYPE_comb_area_cm2``, ``TYPE_combs_a_box`` and
        ``TYPE_volume_l``.
    own
        A conformed ``hives`` table. Combs may taper: the area is that of a trapezoid, or of a
        rectangle where ``comb_bottom_mm`` is blank. A name of the evidence is replaced.

    Returns
    -------
    One row a type, index ``hive_type``: ``comb_area_cm2`` of one side of one comb [cm2],
    ``combs_a_box``, ``volume_l`` of one box [l] (NaN where an own hive doesn't say), ``frames``
    (bool; where an own hive doesn't say, combs that taper hang without), ``default_super`` (the
    box used for honey where none is named; None: there is no usual one) and ``family`` (types of
    one family stand on one footprint).

    Raises
    ------
    RecordsError
        Rows of `own` lack a measure or hold one of 0.
    """
    measures: dict[str, dict[str, float]] = {}
    for key, value in evidence.group("hives").items():
        name, _, measure = key.partition("_")
        measures.setdefault(name, {})[measure] = value
    rows: dict[str, dict[str, object]] = {}
    for name, known in measures.items():
        kind = _KINDS.get(name, _Kind(name, None))
        rows[name] = {**{m: known[m] for m in _MEASURES}, **kind._asdict()}
    if own is not None:
        rows |= _own_rows(own)
    return _frame(rows)


def is_long(types: pd.DataFrame) -> NDArray[np.bool_]:
    """Return which of `types` (n_types,) grow along one long box and stand half empty at first.

    Own hives without frames are taken for such.
    """
    own = (types["family"] == OWN_FAMILY) & ~types["frames"]
    return (types["family"].isin(_LONG_FAMILIES) | own).to_numpy(dtype=np.bool_)


def _frame(rows: dict[str, dict[str, object]]) -> pd.DataFrame:
    index = pd.Index(list(rows), name="hive_type", dtype="str")
    columns = (*_MEASURES, "frames", "default_super", "family")
    frame = pd.DataFrame(
        {c: pd.Series([r[c] for r in rows.values()], index=index, dtype=object) for c in columns}
    )
    return frame.astype(dict.fromkeys(_MEASURES, "float64") | {"frames": bool, "family": "str"})


def _own_rows(own: pd.DataFrame) -> dict[str, dict[str, object]]:
    problems = [
        Problem(
            table="hives",
            row=i + 2,
            column=column,
            what=f"hive {own['hive_type'].iloc[i]!r} lacks this measure"
            if pd.isna(own[column].iloc[i])
            else "this measure is 0",
            mend="Measure it and write it in; the comb's inside, not the frame's outside.",
        )
        for i in range(len(own))
        for column in _NEEDED
        if pd.isna(own[column].iloc[i]) or own[column].iloc[i] <= 0
    ]
    if problems:
        raise RecordsError(problems)
    bottom = own["comb_bottom_mm"].fillna(own["comb_length_mm"])
    # a comb that tapers hangs free: frames are rectangles
    framed = own["frames"].eq("yes") | (own["frames"].isna() & own["comb_bottom_mm"].isna())
    area = (own["comb_length_mm"] + bottom) / 2 * own["comb_height_mm"] * _CM2_PER_MM2
    return {
        str(own["hive_type"].iloc[i]): {
            "comb_area_cm2": area.iloc[i],
            "combs_a_box": own["combs_a_box"].iloc[i],
            "volume_l": float("nan") if pd.isna(v := own["volume_l"].iloc[i]) else v,
            "frames": bool(framed.iloc[i]),
            "default_super": None,
            "family": OWN_FAMILY,
        }
        for i in range(len(own))
    }


def closest_hive_types(
    name: str, known: Iterable[str] = tuple(_KINDS), *, count: int = 3
) -> list[str]:
    """Return the hive types whose names come closest to `name`, best first.

    Parameters
    ----------
    name
        What the keeper wrote.
    known
        The names to choose from, such as the index of `hive_types`; the shipped ones by default.
    count
        How many at most.

    Returns
    -------
    Names; none where nothing comes near.
    """
    asked = "-".join(name.lower().replace("_", " ").replace("-", " ").split())
    names = list(known)
    near = get_close_matches(asked, names, n=count, cutoff=0.5)
    holding = [n for n in names if asked and (n.startswith(asked) or asked in n.split("-"))]
    return list(dict.fromkeys([*holding, *near]))[:count]
