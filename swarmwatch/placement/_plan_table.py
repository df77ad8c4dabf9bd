"""What the plan says of each site."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.placement._plan_boxes import Fitted
from swarmwatch.placement._plan_catches import (
    Field,
    Quality,
    Range,
    catch_range,
    contributions,
)
from swarmwatch.placement._plan_choice import Choice, Setting, close_boxes
from swarmwatch.placement._plan_words import because, nearest_source, warnings_of
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]


def plan_table(
    setting: Setting,
    choice: Choice,
    fitted: Fitted,
    *,
    spacing_m: float,
    allow_high: bool,
    rng: np.random.Generator,
) -> tuple[pd.DataFrame, Range]:
    """Return `plan` and the catches of all its boxes together."""
    order, held = choice.order, setting.held
    shown = np.concatenate([order, held])
    field = _part(setting.field, shown)
    quality = Quality(
        place=np.concatenate([setting.place[order] * fitted.quality, setting.quality.place[held]]),
        attraction=np.concatenate(
            [setting.quality.attraction[order] * fitted.comb, setting.quality.attraction[held]]
        ),
    )
    new = np.arange(shown.size) < order.size
    catches = catch_range(
        field,
        quality,
        evidence=setting.evidence,
        lure=setting.lure,
        central=setting.central,
        new=new,
        rng=rng,
    )
    whole = quality.with_lure(setting.central.lure, setting.evidence)
    sites = setting.candidates.sites.iloc[order].reset_index(drop=True)
    table = pd.DataFrame(
        {
            "rank": np.arange(1, order.size + 1),
            "site": sites["site"],
            "box": pd.Series(fitted.names, dtype=object),
            "latitude": sites["latitude"],
            "longitude": sites["longitude"],
            "height_m": setting.heights_m[order],
            "catches_low": catches.low,
            "catches": catches.middle,
            "catches_high": catches.high,
            "p_any": catches.p_any,
            "gain": _gains(field, whole, setting, order.size),
            "quality": whole[new],
            "robust": np.where(choice.robust, "yes", "no"),
        }
    )
    density = setting.central.kernel.per_km2(field.distance_m)
    sent = contributions(field, density, whole, setting.central)
    words = _words(setting, choice, fitted, sites, sent, spacing_m=spacing_m, allow_high=allow_high)
    return conform(pd.concat([table, words], axis=1), TABLES["plan"]), catches


def _part(field: Field, sites: NDArray[np.intp]) -> Field:
    return Field(
        distance_m=field.distance_m[:, sites],
        swarms=field.swarms,
        swarms_low=field.swarms_low,
        swarms_high=field.swarms_high,
        unknown=field.unknown,
    )


def _gains(field: Field, quality: Floats, setting: Setting, count: int) -> Floats:
    """Return what each new box adds to all that hang before it (new,)."""
    pull = setting.central.kernel.per_km2(field.distance_m) * quality
    swarms = setting.central.swarms(field)
    running = pull[:, count:].sum(axis=1, keepdims=True) + np.cumsum(pull[:, :count], axis=1)
    before = running - pull[:, :count]
    cavities = setting.central.cavities
    # a / (D + a) less b / (D + b), written without the difference of near numbers
    added = pull[:, :count] * cavities / ((cavities + running) * (cavities + before))
    return np.asarray(swarms @ added, dtype=np.float64)


def _words(
    setting: Setting,
    choice: Choice,
    fitted: Fitted,
    sites: pd.DataFrame,
    sent: Floats,
    *,
    spacing_m: float,
    allow_high: bool,
) -> pd.DataFrame:
    close = close_boxes(setting.candidates.sites, choice.order, setting.held, spacing_m)
    rows = []
    for i, site in enumerate(choice.order.tolist()):
        near = nearest_source(setting.names, setting.field, site)
        height_m = float(setting.heights_m[site])
        reasons = because(
            sites.iloc[i],
            names=setting.names,
            field=setting.field,
            site=site,
            sent=sent[:, i],
            height_m=height_m,
            lure=setting.lure,
        )
        mind = warnings_of(
            sites.iloc[i],
            height_m=height_m,
            catches=float(sent[:, i].sum()),
            comb_refused=fitted.refusals[i],
            close=close[i],
            spacing_m=spacing_m,
            allow_high=allow_high,
            evidence=setting.evidence,
        )
        rows.append((near.name, near.distance_m, reasons, mind))
    return pd.DataFrame(rows, columns=["nearest_source", "distance_m", "because", "warnings"])
