"""How do the swarms of each own colony spread over the days to come?"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from swarmwatch.evidence import Evidence
from swarmwatch.placement._box_season import BoxSeason
from swarmwatch.placement.sources import afterswarms_expected
from swarmwatch.tables import TABLES, conform

Floats = NDArray[np.float64]

# by definition of the columns p_7d and p_14d of `scores` (tables.md) [d]
_WEEK_D, _FORTNIGHT_D = 7, 14


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnSwarms:
    """What is known of each colony on the evening `start`, and how swarms follow one another.

    `p_prime` (colonies,) the season's chance of a prime swarm; `gone` flags those that were seen
    to swarm; `still` (colonies,) the chance that the prime swarm has not left unseen; `near`
    (colonies, days + 1) its chance by each of the next evenings where a score tells, NaN elsewhere;
    `known_after` (colonies, days + 1) afterswarms of swarms that left already; `lag` (days + 1,
    days + 1) turns prime swarms by day of leaving into afterswarms by day.
    """

    season: BoxSeason
    start: date
    p_prime: Floats
    gone: NDArray[np.bool_]
    still: Floats
    near: Floats
    known_after: Floats
    lag: Floats

    def by_day(self, shift_d: float) -> Floats:
        """Return the swarms still sent by each evening (colonies, days + 1), 0 on the first.

        Parameters
        ----------
        shift_d
            By how much the season is later than the rule says [d].
        """
        days = np.arange(self.lag.shape[0])
        share = self.season.prime_by((self.start - self.season.peak_on).days - shift_d + days)
        usual = self._by_season(share - share[0])
        after = min(_FORTNIGHT_D, days.size - 1)
        rest = self._by_season(np.maximum(share - share[after], 0.0))
        told = self.near + (1.0 - self.near) * rest
        prime = np.where(np.isnan(told), usual, told) * self.still[:, None]
        prime[self.gone] = 0.0
        leaving = np.diff(prime, axis=1, prepend=0.0)
        return np.asarray(prime + leaving @ self.lag + self.known_after, dtype=np.float64)

    def _by_season(self, share: Floats) -> Floats:
        return np.asarray(1.0 - (1.0 - self.p_prime[:, None]) ** share, dtype=np.float64)


def own_swarms(
    colonies: pd.DataFrame,
    *,
    season: BoxSeason,
    start: date,
    days: int,
    scores: pd.DataFrame | None,
    events: pd.DataFrame,
    evidence: Evidence,
) -> OwnSwarms:
    """Gather what is known of each colony.

    Parameters
    ----------
    colonies
        What `colony_swarms` gives.
    season
        The season.
    start, days
        The evening from which on swarms count, and how many evenings after it.
    scores
        The `scores` of `start`: they go before the season's chance for the next two weeks. None
        for none.
    events
        Colonies that swarmed in this season by `start` send no second prime swarm.
    evidence
        The numbers.
    """
    names = colonies["colony"].tolist()
    ago = _swarmed_ago(names, events, season=season, on=start)
    still, near, soon = _of_scores(names, scores, days)
    each = afterswarms_expected(evidence)
    ahead = np.arange(days + 1)
    by = _days_after(np.nan_to_num(ago)[:, None] + ahead, evidence)
    noted = (by - by[:, :1]) * each
    unseen = soon[:, None] * np.minimum(ahead / _WEEK_D, 1.0)
    gone = ~np.isnan(ago)
    return OwnSwarms(
        season=season,
        start=start,
        p_prime=colonies["p_prime"].to_numpy(dtype=np.float64),
        gone=gone,
        still=still,
        near=near,
        known_after=np.where(gone[:, None], noted, unseen),
        lag=np.triu(_days_after(ahead[None, :] - ahead[:, None], evidence)) * each,
    )


def swarms_noted(
    colonies: Sequence[str], events: pd.DataFrame, *, season: BoxSeason, on: date
) -> int:
    """Count the swarms of these colonies that were written down this season by an evening."""
    known = _of_season(events, season, on)
    swarms = known["event"].isin(["swarmed", "afterswarmed"])
    return int((swarms & known["colony"].isin(colonies)).sum())


def _of_season(events: pd.DataFrame, season: BoxSeason, on: date) -> pd.DataFrame:
    known = conform(events, TABLES["events"])
    since = known["date"] >= pd.Timestamp(season.first_day)
    return known[since & (known["date"] <= pd.Timestamp(on))]


def _swarmed_ago(names: list[str], events: pd.DataFrame, *, season: BoxSeason, on: date) -> Floats:
    """Return the days since each colony's prime swarm of this season; NaN where none is noted."""
    known = _of_season(events, season, on)
    last = known[known["event"] == "swarmed"].groupby("colony")["date"].max().to_dict()
    return np.array(
        [(pd.Timestamp(on) - last[n]).days if n in last else np.nan for n in names],
        dtype=np.float64,
    )


def _of_scores(
    names: list[str], scores: pd.DataFrame | None, days: int
) -> tuple[Floats, Floats, Floats]:
    """Return `still`, `near` of `OwnSwarms`, and the afterswarms of the next week (colonies,)."""
    near = np.full((len(names), days + 1), np.nan)
    if scores is None:
        return np.ones(len(names)), near, np.zeros(len(names))
    table = conform(scores, TABLES["scores"]).drop_duplicates("colony").set_index("colony")
    p7, p14, gone, after = (
        table[c].reindex(names).to_numpy(dtype=np.float64, na_value=np.nan)
        for c in ("p_7d", "p_14d", "p_gone", "p_after_7d")
    )
    ahead = np.arange(days + 1)
    for i in np.flatnonzero(~np.isnan(p7) & ~np.isnan(p14)):
        near[i] = np.interp(ahead, [0, _WEEK_D, _FORTNIGHT_D], [0.0, p7[i], p14[i]])
    return 1.0 - np.nan_to_num(gone), near, np.nan_to_num(after)


def _days_after(days: Floats | NDArray[np.int_], evidence: Evidence) -> Floats:
    """Return the share of afterswarms that left by so many days after their prime [-]."""
    from scipy.special import ndtr  # late: scipy is slow to load

    middle, spread = (evidence.value(f"afterswarm.day_{n}") for n in ("middle", "spread"))
    return np.asarray(ndtr((np.asarray(days, dtype=np.float64) - middle) / spread))
