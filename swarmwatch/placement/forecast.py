"""How many swarms may a keeper count on this season, by date, and how many hives does that take?

Own swarms that come back into own boxes are kept apart: a recaptured swarm is no free colony.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.placement._box_catches import Sent, boxes_at_sites, sent_to
from swarmwatch.placement._box_rates import sites_with_records
from swarmwatch.placement._box_season import BoxSeason, box_season
from swarmwatch.placement._box_state import box_states
from swarmwatch.placement._forecast_boxes import taken_by_day
from swarmwatch.placement._forecast_course import own_swarms, swarms_noted
from swarmwatch.placement._forecast_ranges import binomial_range, poisson_range
from swarmwatch.placement.sources import M_PER_DEGREE, colony_swarms, season_swarms
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

_WEEK_D = 7
# tenants that a keeper brushes or cleans out; the others are left alone
_PASSING = ("ants", "wax-moth")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Setting:
    """What a forecast rests on. `first` is the evening after which swarms count as to come."""

    frames: Mapping[str, pd.DataFrame]
    season: BoxSeason
    colonies: pd.DataFrame
    placed: pd.DataFrame
    sent: Sent
    yards: list[str]
    on: date
    first: date
    days: int
    evidence: Evidence


def season_forecast(
    frames: Mapping[str, pd.DataFrame],
    *,
    on: date,
    planned: pd.DataFrame | None = None,
    scores: pd.DataFrame | None = None,
    evidence: Evidence | None = None,
    seed: int = 0,
) -> pd.DataFrame:
    """Forecast catches and own swarms of the season, by date; after its end, of the next one.

    Parameters
    ----------
    frames
        The input tables by name, as records hold them; one yard at least. No inspection is needed.
    on
        The evening: what is noted by then counts as known.
    planned
        Boxes to be hung besides those that hang: box, site, and where known lure, height_m and
        hung_on (blank: the season's put-out day, or tomorrow).
    scores
        The `scores` of that evening, where colonies were opened this season.
    evidence
        The numbers; the shipped ones if None.
    seed
        Of the drawn assumptions.

    Returns
    -------
    `forecast`, one row a week from the boxes' put-out day to their take-down, the evening itself
    first where boxes are out. Catches and hives_to_have_ready count what is noted already;
    catches_low and catches_high are the 10th and 90th percentile of the count itself. A box
    that caught a swarm counts as full until it was moved and hangs again, ``levels.move_within``.
    hives_to_have_ready are hives that are still needed, enough in nine seasons of ten.
    `attrs`: season, put_out_on, take_down_on, peak_on, build_up_until (text or None), boxes,
    catches_noted, colonies, colonies_autumn, colonies_spring (each with low and high),
    alive_in_spring_kept and alive_in_spring_wild, catches_late (after build_up_until), seed.

    Raises
    ------
    RecordsError
        Cells that can't be read.
    """
    evidence = evidence or load_evidence()
    setting = _setting(frames, on, planned, evidence, seed)
    dates = _dates(setting)
    own, other, drawn, none, course = _catches(setting, dates, scores, seed)
    noted = _noted(setting)
    noted_own = _noted_own(setting, noted, own, other)
    total = own + other + len(noted)
    low, high = poisson_range(drawn)
    waiting = int(noted["moved_on"].isna().sum())
    at = [(d - setting.first).days for d in dates]
    names = setting.colonies["colony"].tolist()
    seen = swarms_noted(names, frames["events"], season=setting.season, on=on)
    table = pd.DataFrame(
        {
            "on": [pd.Timestamp(d) for d in dates],
            "catches_own": own + noted_own,
            "catches_other": other + len(noted) - noted_own,
            "catches_low": np.minimum(low + len(noted), total),
            "catches": total,
            "catches_high": np.maximum(high + len(noted), total),
            "p_one_or_more": 1.0 if len(noted) else 1.0 - none,
            "swarms_own": course[:, at].sum(axis=0) + seen,
            "alive_in_autumn": total * _autumn_share(setting),
            "hives_to_have_ready": (high + waiting).astype(np.float64),
        }
    )
    forecast = conform(table, TABLES["forecast"])
    forecast.attrs.update(_facts(setting, forecast, seed))
    return forecast


def assumed_sites(apiaries: pd.DataFrame, count: int, evidence: Evidence) -> pd.DataFrame:
    """Return `sites` for a keeper who has noted none: round the yards in turn, north first.

    Parameters
    ----------
    apiaries
        One yard at least.
    count
        How many.
    evidence
        Gives ``boxes.assumed_distance_m``.
    """
    yards = conform(apiaries, TABLES["apiaries"])
    at = np.arange(count)
    yard = yards.iloc[at % len(yards)]
    turn = 2 * np.pi * at / max(count, 1)
    step_deg = evidence.value("boxes.assumed_distance_m") / M_PER_DEGREE
    latitude = yard["latitude"].to_numpy(dtype=np.float64)
    longitude = yard["longitude"].to_numpy(dtype=np.float64)
    shrink = np.maximum(np.cos(np.radians(latitude)), np.finfo(np.float32).eps)
    return conform(
        pd.DataFrame(
            {
                "site": [f"near {name} {i + 1}" for i, name in enumerate(yard["apiary"])],
                "latitude": latitude + step_deg * np.cos(turn),
                "longitude": longitude + step_deg * np.sin(turn) / shrink,
            }
        ),
        TABLES["sites"],
    )


def _setting(
    frames: Mapping[str, pd.DataFrame],
    on: date,
    planned: pd.DataFrame | None,
    evidence: Evidence,
    seed: int,
) -> _Setting:
    season = box_season(frames["apiaries"], frames["weather"], on=on, evidence=evidence)
    # queens age and colonies count with the year of the season
    within = on if on.year == season.peak_on.year else date(season.peak_on.year, 1, 1)
    # a colony that is no more by `on` sends nothing; what happens later is not known
    ask = {
        "on": max(within, on),
        "inspections": frames["inspections"],
        "events": frames["events"][frames["events"]["date"] <= pd.Timestamp(on)],
        "evidence": evidence,
    }
    colonies = colony_swarms(frames["colonies"], frames["apiaries"], **ask)  # type: ignore[arg-type]  # one of each
    own = season_swarms(frames["colonies"], frames["apiaries"], **ask)  # type: ignore[arg-type]  # one of each
    sites = sites_with_records(
        frames["sites"], frames["hangings"], frames["catches"], season=season, on=on
    )
    placed = boxes_at_sites(
        _boxes_up(frames, planned, season, on, evidence), sites, frames["boxes"]
    )
    sent = sent_to(
        placed, own, frames["sources"], yards=frames["apiaries"], evidence=evidence, seed=seed
    )
    first = max(on, season.first_day)
    return _Setting(
        frames=frames,
        season=season,
        colonies=colonies,
        placed=placed,
        sent=sent,
        yards=own["source"].tolist(),
        on=on,
        first=first,
        days=max((season.take_down_on - first).days, 0),
        evidence=evidence,
    )


def _boxes_up(
    frames: Mapping[str, pd.DataFrame],
    planned: pd.DataFrame | None,
    season: BoxSeason,
    on: date,
    evidence: Evidence,
) -> pd.DataFrame:
    """Return hangings that are up and planned ones: from when to when each takes swarms.

    A box with a tenant that stays takes none; one with a swarm only once it was moved and hangs
    again.
    """
    hangings = conform(frames["hangings"], TABLES["hangings"])
    stamp = pd.Timestamp(on)
    up = hangings[(hangings["hung_on"] <= stamp) & ~(hangings["taken_on"] <= stamp)]
    states = {
        s.box: s
        for s in box_states(
            frames["checks"],
            hangings=hangings,
            catches=frames["catches"],
            on=on,
            evidence=evidence,
        )
    }
    let = [b for b, s in states.items() if s.state == "tenant" and s.tenant not in _PASSING]
    full = [b for b, s in states.items() if s.state == "occupied"]
    free_on = stamp + pd.Timedelta(days=evidence.value("levels.move_within"))
    up = up[~up["box"].isin(let)]
    up = up.assign(hung_on=up["hung_on"].mask(up["box"].isin(full), free_on), height_m=np.nan)
    parts = [up]
    if planned is not None and len(planned):
        new = planned.copy()
        usual = pd.Timestamp(max(season.put_out_on, on + timedelta(days=1)))
        hung_on = new["hung_on"] if "hung_on" in new.columns else pd.Series(pd.NaT, new.index)
        new["hung_on"] = pd.to_datetime(hung_on).fillna(usual)
        height = new["height_m"] if "height_m" in new.columns else np.nan
        parts.append(conform(new, TABLES["hangings"]).assign(height_m=np.asarray(height)))
    both = pd.concat(parts, ignore_index=True)
    down = pd.Timestamp(max(season.take_down_on, on))
    taken_on = both["taken_on"].fillna(down)
    return both.assign(taken_on=taken_on.where(taken_on <= down, down))


def _dates(setting: _Setting) -> list[date]:
    season, on = setting.season, setting.on
    out, down = season.put_out_on, season.take_down_on
    weeks = [out + timedelta(days=k) for k in range(0, (down - out).days, _WEEK_D)]
    ahead = [d for d in weeks if d > on]
    return [*([on] if out <= on <= down else []), *ahead, *([down] if down > on else [])]


def _catches(
    setting: _Setting, dates: list[date], scores: pd.DataFrame | None, seed: int
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return catches to come by date: own, other, all as drawn (draws, dates), the chance of none.

    And the swarms of each colony by day.

    Row 0 of `Sent` goes with the season's usual peak, each draw with a peak of its own.
    """
    sent, season = setting.sent, setting.season
    swarms = own_swarms(
        setting.colonies,
        season=season,
        start=setting.first,
        days=setting.days,
        scores=scores,
        events=setting.frames["events"],
        evidence=setting.evidence,
    )
    member = np.array(
        [setting.colonies["apiary"].to_numpy() == y for y in setting.yards], dtype=np.float64
    ).reshape(len(setting.yards), len(setting.colonies))
    usual = np.where(sent.own_swarms[0] > 0, sent.own_swarms[0], 1.0)
    own, other = [], []
    for i, shift in enumerate(_shifts(setting, sent.other.shape[0] - 1, seed)):
        by_yard = (member @ swarms.by_day(shift)) * (sent.own_swarms[i] / usual)[:, None]
        own.append(sent.own_share[i].T @ np.diff(by_yard, axis=1, prepend=0.0))
        after_peak = (setting.first - season.peak_on).days - shift
        share = season.swarms_by(after_peak + np.arange(setting.days + 1))
        other.append(sent.other[i][:, None] * np.diff(share, prepend=share[0]))
    up = _up(setting)
    full_d = round(setting.evidence.value("levels.move_within"))
    mine, theirs = taken_by_day(np.stack(own) * up, np.stack(other) * up, full_d=full_d)
    at = [(d - setting.first).days for d in dates]
    both = (mine + theirs)[1:, at]
    come = ((np.stack(own) + np.stack(other)) * up)[1:].sum(axis=1).cumsum(axis=1)
    none = np.exp(-come[:, at]).mean(axis=0)
    return mine[0, at], theirs[0, at], both, none, swarms.by_day(0.0)


def _shifts(setting: _Setting, count: int, seed: int) -> list[float]:
    rng = np.random.default_rng([seed, 1])
    shares = (rng.permutation(count) + 0.5) / count
    drawn = setting.evidence["season.peak_error"].quantile(shares)
    return [0.0, *(drawn * setting.season.peak_error_share).tolist()]


def _up(setting: _Setting) -> NDArray[np.bool_]:
    """Return on which days after `first` each box takes swarms (boxes, days + 1)."""
    days = pd.Timestamp(setting.first) + pd.to_timedelta(np.arange(setting.days + 1), unit="D")
    hung, taken = (setting.placed[c].to_numpy()[:, None] for c in ("hung_on", "taken_on"))
    each = days.to_numpy()[None, :]
    return np.asarray((each >= hung) & (each <= taken), dtype=bool)


def _noted(setting: _Setting) -> pd.DataFrame:
    """Return this season's catches noted by the evening."""
    catches = conform(setting.frames["catches"], TABLES["catches"])
    since = catches["caught_on"] >= pd.Timestamp(setting.season.first_day)
    return catches[since & (catches["caught_on"] <= pd.Timestamp(setting.on))]


def _noted_own(setting: _Setting, noted: pd.DataFrame, own: Floats, other: Floats) -> float:
    """Return how many of the catches so far were own swarms; one of unknown home by the odds."""
    named = noted["from_colony"].notna()
    mine = int(noted["from_colony"].isin(setting.frames["colonies"]["colony"]).sum())
    middle = setting.sent.catches[0].sum()
    share = 1.0 - float(setting.sent.other[0].sum() / middle) if middle > 0 else 0.0
    if own[-1] + other[-1] > 0:
        share = float(own[-1] / (own[-1] + other[-1]))
    return mine + share * int((~named).sum())


def _autumn_share(setting: _Setting) -> float:
    """Return the chance that a catch is alive in autumn: afterswarms need a queen that mates."""
    value = setting.evidence.value
    after = 1.0 - setting.season.prime_share
    return value("boxes.autumn_caught") * (1.0 - after * (1.0 - value("boxes.virgin_mates")))


def _facts(setting: _Setting, forecast: pd.DataFrame, seed: int) -> dict[str, object]:
    value, season = setting.evidence.value, setting.season
    autumn = float(forecast["alive_in_autumn"].iloc[-1])
    late = 0.0
    if season.build_up_until is not None:
        by = forecast.loc[forecast["on"] <= pd.Timestamp(season.build_up_until), "catches"]
        late = float(forecast["catches"].iloc[-1]) - (float(by.iloc[-1]) if len(by) else 0.0)
    return {
        "season": season.peak_on.year,
        "peak_on": season.peak_on.isoformat(),
        "put_out_on": season.put_out_on.isoformat(),
        "take_down_on": season.take_down_on.isoformat(),
        "build_up_until": None
        if season.build_up_until is None
        else season.build_up_until.isoformat(),
        "boxes": len(setting.placed),
        "catches_noted": len(_noted(setting)),
        **_colonies(setting),
        "alive_in_spring_kept": autumn * value("boxes.winter_kept_swarm"),
        "alive_in_spring_wild": autumn * value("boxes.winter_founder"),
        "catches_late": late,
        "seed": seed,
    }


def _colonies(setting: _Setting) -> dict[str, float]:
    """Return how many of the keeper's own colonies live in autumn and in spring, with ranges.

    This season's catches are not among them.
    """
    evidence = setting.evidence
    caught = setting.colonies["colony"].isin(_noted(setting)["to_colony"])
    p_prime = setting.colonies.loc[~caught, "p_prime"].to_numpy(dtype=np.float64)
    number = len(p_prime)
    facts: dict[str, float] = {"colonies": number}
    if not number:
        return facts
    shares = (np.arange(setting.sent.other.shape[0] - 1) + 0.5) / (setting.sent.other.shape[0] - 1)
    summer, mates, winter = (
        evidence[f"boxes.{n}"].quantile(shares)
        for n in ("summer_survival", "virgin_mates", "winter_kept")
    )
    # the hive that swarmed is left with a young queen who must mate
    autumn = summer * (1.0 - p_prime.mean() * (1.0 - mates))
    for name, chance in (("autumn", autumn), ("spring", autumn * winter)):
        low, high = binomial_range(number, chance)
        facts[f"colonies_{name}"] = number * float(np.median(chance))
        facts[f"colonies_{name}_low"] = low
        facts[f"colonies_{name}_high"] = high
    return facts
