"""Bees and brood cells on so many combs of a hive type."""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.hives import closest_hive_types, hive_types

Floats = NDArray[np.float64]
SIDES = 2


def comb_capacity(
    hive_type: str,
    combs: ArrayLike,
    *,
    bees_per_cm2: float | None = None,
    types: pd.DataFrame | None = None,
) -> Floats | float:
    """Return the bees that cover both sides of so many combs.

    Parameters
    ----------
    hive_type
        A hive type of `types`.
    combs
        Combs, any number and any shape; parts of combs count.
    bees_per_cm2
        Bees on a square centimetre of one side [bees/cm2]; None is the evidence value, 1.25.
    types
        What `swarmwatch.hives.hive_types` gives; None is the shipped types.

    Returns
    -------
    Bees, shaped as `combs`; a float for one number.

    Raises
    ------
    UsageError
        The hive type is not known.

    Notes
    -----
    ``bees = combs x 2 x comb_area_cm2 x bees_per_cm2``

    Source: evidence ``strength.bees_per_cm2_packed``, ``hives.TYPE_comb_area_cm2``.

    Examples
    --------
    >>> comb_capacity("langstroth-deep-10", 7)
    15347.5
    """
    evidence = load_evidence()
    density = _given(bees_per_cm2, evidence, "bees_per_cm2_packed")
    return _on_combs(hive_type, combs, density, hive_types(evidence) if types is None else types)


def comb_brood(
    hive_type: str,
    combs: ArrayLike,
    *,
    fill: float | None = None,
    cells_per_cm2: float | None = None,
    types: pd.DataFrame | None = None,
) -> Floats | float:
    """Return the worker brood cells on both sides of so many combs full of brood.

    Parameters
    ----------
    hive_type, combs, types
        As for `comb_capacity`.
    fill
        Share of the cells that hold brood [-]; None is the evidence value, 0.85.
    cells_per_cm2
        Worker cells on a square centimetre of one side; None is the evidence value, 3.95.

    Returns
    -------
    Cells, shaped as `combs`; a float for one number.

    Raises
    ------
    UsageError
        The hive type is not known.

    Notes
    -----
    ``cells = combs x 2 x comb_area_cm2 x cells_per_cm2 x fill``

    Source: evidence ``strength.brood_fill_full_comb``, ``strength.worker_cells_per_cm2``.
    """
    evidence = load_evidence()
    density = _given(cells_per_cm2, evidence, "worker_cells_per_cm2")
    density *= _given(fill, evidence, "brood_fill_full_comb")
    return _on_combs(hive_type, combs, density, hive_types(evidence) if types is None else types)


def _on_combs(
    hive_type: str, combs: ArrayLike, per_cm2: float, types: pd.DataFrame
) -> Floats | float:
    if hive_type not in types.index:
        message = f"hive type {hive_type!r} is not known. {mend_hive_type(hive_type, types)}"
        raise UsageError(message)
    area = types["comb_area_cm2"].to_numpy(dtype=np.float64)[types.index.get_loc(hive_type)]
    number = np.asarray(combs, dtype=np.float64) * SIDES * area * per_cm2
    return number if number.ndim else float(number)


def mend_hive_type(name: str, types: pd.DataFrame) -> str:
    """Say what to write instead of a hive type that is not among `types`."""
    near = closest_hive_types(name, types.index)
    hint = f"Did you mean {', '.join(near)}? " if near else ""
    return f"{hint}Choose a shipped type or add its measures to the hives table."


def _given(value: float | None, evidence: Evidence, name: str) -> float:
    return evidence.value(f"strength.{name}") if value is None else value
