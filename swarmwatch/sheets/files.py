"""Which sheets go with a plan? Box sheets, letters and labels, as PDF files by name."""

from collections.abc import Mapping
from datetime import date

import pandas as pd

from swarmwatch.evidence import Evidence
from swarmwatch.mapping.spots import Spot, spots
from swarmwatch.mapping.walk import walk_round
from swarmwatch.mapping.yards import yards
from swarmwatch.sheets.box_facts import box_facts
from swarmwatch.sheets.box_sheet import BoxPage, box_sheets
from swarmwatch.sheets.labels import labels
from swarmwatch.sheets.letters import letters
from swarmwatch.tables import TABLES, conform


def paper_files(
    plan: pd.DataFrame,
    frames: Mapping[str, pd.DataFrame],
    evidence: Evidence,
    *,
    on: date,
    paper: str = "a4",
    put_out_on: date | None = None,
    take_down_on: date | None = None,
) -> dict[str, bytes]:
    """Draw the paper that goes with a plan.

    Parameters
    ----------
    plan
        Table `plan`.
    frames
        The keeper's tables by name; `apiaries`, `sites`, `boxes` and `hangings` are read where
        they are there.
    evidence
        The numbers that the sheets name.
    on
        The evening that the plan speaks of; it stands on every page.
    paper
        "a4" or "letter".
    put_out_on, take_down_on
        From when to when the boxes should hang; left blank on paper where None.

    Returns
    -------
    ``box-sheets.pdf``, ``letters.pdf``, ``labels.pdf``. The same tables give the same bytes.

    Raises
    ------
    RecordsError
        A table breaks its contract.
    UsageError
        `paper` is not known.
    """
    chosen = spots(plan, frames.get("sites"))
    stops = _stops(chosen, frames.get("apiaries"))
    pages = [
        BoxPage(
            spot=spot,
            facts=box_facts(spot, frames.get("boxes"), evidence),
            stop=stop,
            put_out_on=put_out_on,
            take_down_on=take_down_on,
        )
        for spot, stop in zip(chosen, stops, strict=True)
    ]
    span = {"put_out_on": put_out_on, "take_down_on": take_down_on}
    return {
        "box-sheets.pdf": box_sheets(pages, evidence, paper=paper, on=on),
        "letters.pdf": letters(chosen, evidence, paper=paper, on=on, **span),
        "labels.pdf": labels(_to_label(chosen, frames.get("hangings")), paper=paper, on=on),
    }


def _stops(chosen: list[Spot], apiaries: pd.DataFrame | None) -> list[str]:
    """Return each spot's place in the walking order, in words; "" where there is no yard."""
    walk = None if apiaries is None else walk_round(chosen, yards(apiaries))
    if walk is None:
        return [""] * len(chosen)
    place = {spot: number for number, spot in enumerate(walk.order, start=1)}
    return [f"stop {place[k]} of {len(chosen)}, from {walk.start}" for k in range(len(chosen))]


def _to_label(chosen: list[Spot], hangings: pd.DataFrame | None) -> list[str]:
    """Return the boxes of the plan, "" where none is named, then those that hang already."""
    names = [spot.box for spot in chosen]
    if hangings is not None:
        table = conform(hangings, TABLES["hangings"])
        up = table.loc[table["taken_on"].isna(), "box"].astype(str)
        names += [box for box in dict.fromkeys(up) if box not in names]
    return names
