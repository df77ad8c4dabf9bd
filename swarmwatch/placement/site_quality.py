"""How attractive a box and its site are to scouts, a natural hole being 1.

Each cue is a factor with its own evidence entry; they are multiplied because no trial combined
them. Lure, comb, history and land together are capped. Source: evidence ``site.*``.
"""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from swarmwatch.errors import UsageError
from swarmwatch.evidence import Evidence

Floats = NDArray[np.float64]

_LURES = {"nasonov-lure": "site.lure_nasonov", "lemongrass-oil": "site.lure_lemongrass"}
_NO_LURE = ("none", "other")
_CIRCLE_DEG = 360
_HALF_CIRCLE_DEG = 180


def volume_score(volume_l: ArrayLike, evidence: Evidence) -> Floats:
    """Score inner volumes [l]: a bump on the log scale, steeper above than below [-]."""
    best = evidence.value("site.volume_best_l")
    small = evidence.value("site.volume_spread_small")
    large = evidence.value("site.volume_spread_large")
    volume = np.maximum(np.asarray(volume_l, dtype=np.float64), np.finfo(np.float64).tiny)
    distance = np.log(volume / best)
    spread = np.where(volume < best, small, large)
    return np.asarray(np.exp(-(distance**2) / (2 * spread**2)), dtype=np.float64)


def entrance_score(entrance_cm2: ArrayLike, evidence: Evidence) -> Floats:
    """Score entrance areas [cm2]: flat at the best sizes, linear in the log area beside [-]."""
    value = evidence.value
    knots = [
        (value("site.entrance_small_cm2"), value("site.entrance_small_score")),
        (value("site.entrance_best_from_cm2"), 1.0),
        (value("site.entrance_best_to_cm2"), 1.0),
        (value("site.entrance_wide_cm2"), value("site.entrance_wide_score")),
        (value("site.entrance_too_wide_cm2"), value("site.entrance_too_wide_score")),
    ]
    areas, scores = (np.asarray(side) for side in zip(*knots, strict=True))
    area = np.maximum(np.asarray(entrance_cm2, dtype=np.float64), np.finfo(np.float64).tiny)
    return np.asarray(np.interp(np.log(area), np.log(areas), scores), dtype=np.float64)


def height_score(height_m: ArrayLike, evidence: Evidence) -> Floats:
    """Score heights of the box [m]: rising to the full height, flat above [-]."""
    ground = evidence.value("site.height_ground_score")
    full = evidence.value("site.height_full_m")
    height = np.asarray(height_m, dtype=np.float64)
    return np.asarray(ground + (1.0 - ground) * np.clip(height, 0.0, full) / full, dtype=np.float64)


def direction_score(facing_deg: ArrayLike, latitude: ArrayLike, evidence: Evidence) -> Floats:
    """Score compass directions of the entrance [deg]; 1 where unknown or hot [-]."""
    facing, place = (np.asarray(a, dtype=np.float64) for a in (facing_deg, latitude))
    equator_deg = np.where(place >= 0, _HALF_CIRCLE_DEG, 0)
    off = np.abs((facing - equator_deg + _HALF_CIRCLE_DEG) % _CIRCLE_DEG - _HALF_CIRCLE_DEG)
    near = evidence.value("site.facing_half_angle")
    score = np.full(np.broadcast(facing, place).shape, evidence.value("site.facing_side"))
    score = np.where(off <= near, evidence.value("site.facing_equator"), score)
    score = np.where(off >= _HALF_CIRCLE_DEG - near, evidence.value("site.facing_pole"), score)
    return np.where(np.isnan(facing) | _hot(place, evidence), 1.0, score)


def history_score(catches: ArrayLike, seasons: ArrayLike, evidence: Evidence) -> Floats:
    """Score sites by their own record: catches over what was expected, shrunk to 1 [-].

    Notes
    -----
    Gamma-Poisson: with mean m and weight b seasons beforehand, ``(m b + catches) / (b + seasons)``
    over m. Seasons unknown with catches known count as one season, the least it can be.
    """
    mean = evidence.value("site.history_mean")
    weight = evidence.value("site.history_weight")
    c, n = (np.asarray(a, dtype=np.float64) for a in (catches, seasons))
    n = np.where(np.isnan(n), np.where(np.isnan(c), 0.0, 1.0), n)
    known = ~np.isnan(c)
    score = (mean * weight + np.where(known, c, 0.0)) / (weight + n) / mean
    return np.where(known, score, 1.0)


def lure_factor(lure: str, evidence: Evidence) -> float:
    """Return the factor of a lure named in the `hangings` table [-]."""
    if lure in _NO_LURE:
        return 1.0
    if lure not in _LURES:
        message = f"lure: {lure!r} is not known. Use one of {', '.join([*_NO_LURE, *_LURES])}."
        raise UsageError(message)
    return evidence.value(_LURES[lure])


def lure_entry(lure: str) -> str | None:
    """Return the evidence key of a lure's factor, or None for no lure."""
    return _LURES.get(lure)


def box_quality(boxes: pd.DataFrame, evidence: Evidence) -> Floats:
    """Score boxes by volume, entrance and its place; blanks count as the reference box's.

    Parameters
    ----------
    boxes
        `boxes` of tables.md, conformed.

    Returns
    -------
    (boxes,) [-], without lure and comb, which are capped together with the site's factors.
    """
    volume = _known(boxes["volume_l"], evidence.value("site.reference_volume_l"))
    entrance = _known(boxes["entrance_cm2"], evidence.value("site.reference_entrance_cm2"))
    places = {p: evidence.value(f"site.entrance_{p}") for p in ("bottom", "middle", "top")}
    place = boxes["entrance_place"].map(places).to_numpy(dtype=float, na_value=1.0)
    return volume_score(volume, evidence) * entrance_score(entrance, evidence) * place


def reference_box_quality(evidence: Evidence) -> float:
    """Return the score of the box that sites are compared with [-]."""
    volume = volume_score(evidence.value("site.reference_volume_l"), evidence)
    entrance = entrance_score(evidence.value("site.reference_entrance_cm2"), evidence)
    return float(volume * entrance) * evidence.value("site.entrance_bottom")


def hanging_heights_m(sites: pd.DataFrame, evidence: Evidence, *, allow_high: bool) -> Floats:
    """Return the height to hang each box at (sites,) [m], by safety first.

    A blank height becomes the height that is reached from the ground or a low step. Heights above
    ``site.height_asked_m`` are brought down to it unless the keeper asked for them.
    """
    reach = evidence.value("safety.reach_height_m")
    height = _known(sites["height_m"], reach)
    if allow_high:
        return height
    return np.where(height > evidence.value("site.height_asked_m"), reach, height)


def place_quality(sites: pd.DataFrame, heights_m: Floats, evidence: Evidence) -> Floats:
    """Score sites by height and direction (sites,) [-]; `sites` of tables.md, conformed."""
    latitude = sites["latitude"].to_numpy(dtype=float)
    facing = sites["facing_deg"].to_numpy(dtype=float, na_value=np.nan)
    sun = (sites["shade"] == "none").to_numpy(dtype=bool) & _hot(latitude, evidence)
    shade = np.where(sun, evidence.value("site.full_sun_hot"), 1.0)
    direction = direction_score(facing, latitude, evidence)
    return np.asarray(height_score(heights_m, evidence) * direction * shade, dtype=np.float64)


def site_attraction(sites: pd.DataFrame, evidence: Evidence) -> Floats:
    """Score sites (sites,) by history and by a column `land` {wood, urban, farm} if there [-]."""
    history = history_score(
        sites["catches_before"].to_numpy(dtype=float, na_value=np.nan),
        sites["seasons_before"].to_numpy(dtype=float, na_value=np.nan),
        evidence,
    )
    if "land" not in sites.columns:
        return history
    lands = {name: evidence.value(f"site.land_{name}") for name in ("wood", "urban", "farm")}
    return history * sites["land"].map(lands).to_numpy(dtype=float, na_value=1.0)


def capped(attraction: ArrayLike, evidence: Evidence) -> Floats:
    """Cap the product of lure, comb, history and land [-]."""
    cap = evidence.value("site.attraction_cap")
    return np.minimum(np.asarray(attraction, dtype=np.float64), cap)


def _hot(latitude: Floats, evidence: Evidence) -> NDArray[np.bool_]:
    return np.asarray(np.abs(latitude) < evidence.value("site.hot_latitude"), dtype=bool)


def _known(cells: pd.Series, otherwise: float) -> Floats:
    return cells.to_numpy(dtype=np.float64, na_value=otherwise)
