"""What is an evidence entry, and how is a value drawn from its range?"""

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from statistics import NormalDist
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from swarmwatch.errors import EvidenceError

Floats = NDArray[np.float64]

GRADES = (
    "published",
    "published, read in a summary",
    "from memory",
    "common practice, no source",
    "judgement",
)
DISTRIBUTIONS = ("fixed", "uniform", "normal", "lognormal", "logit-normal")
UNITS = frozenset(
    {
        "1",
        "1/C",
        "1/cm2",
        "1/d",
        "1/km2",
        "1/year",
        "C",
        "C/d",
        "C/km",
        "C_d",
        "bees",
        "bees/cm2",
        "boxes",
        "cells",
        "cells/cm2",
        "cm",
        "cm2",
        "combs",
        "d",
        "day-of-year",
        "days-per-degree",
        "deg",
        "eggs/d",
        "g",
        "h",
        "kg",
        "km",
        "l",
        "m",
        "m/degree",
        "m_s",
        "mm",
        "mm2",
        "people",
        "s",
        "swarms",
        "text",
    }
)

# low and high are the central 80 % of a drawn entry: the ranges of the `scores` table, too
Z_HIGH = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One number with its unit, range, source and grade.

    `low` and `high` bound the central 80 % of what the sources allow. A ``fixed`` entry is never
    drawn. The others have their median at `value` and their 10th and 90th percentile at `low` and
    `high`, on the scale that the distribution names; ``uniform`` runs from `low` to `high`.
    """

    key: str
    value: float
    unit: str
    low: float
    high: float
    distribution: str
    source: str
    grade: str
    note: str = ""

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            self._refuse(
                f"unit {self.unit!r} is not known", f"Use one of {', '.join(sorted(UNITS))}."
            )
        if self.grade not in GRADES:
            self._refuse(f"grade {self.grade!r} is not known", f"Use one of: {'; '.join(GRADES)}.")
        if self.distribution not in DISTRIBUTIONS:
            self._refuse(
                f"distribution {self.distribution!r} is not known",
                f"Use one of {', '.join(DISTRIBUTIONS)}.",
            )
        if not all(map(math.isfinite, (self.low, self.value, self.high))):
            self._refuse("value, low and high must be finite numbers", "Mend the number.")
        if not self.low <= self.value <= self.high:
            self._refuse(
                f"value {self.value} is outside its own range {self.low} to {self.high}",
                "Mend the value or the range.",
            )
        if self.distribution == "lognormal" and self.low <= 0:
            self._refuse("a lognormal entry needs low above 0", "Raise low or choose normal.")
        if self.distribution == "logit-normal" and not (self.low > 0 and self.high < 1):
            self._refuse("a logit-normal entry needs 0 < low and high < 1", "Mend the range.")
        if not self.source.strip():
            self._refuse("the source is blank", "Name it, or write 'none' with its grade.")

    def _refuse(self, what: str, mend: str) -> None:
        message = f"evidence {self.key}: {what}. {mend}"
        raise EvidenceError(message)

    def quantile(self, share: Floats) -> Floats:
        """Return the value below which `share` of the allowed values lie.

        Parameters
        ----------
        share
            (n,) in (0, 1) [-]; quasi-random numbers give draws.

        Returns
        -------
        (n,) values in the entry's unit. A ``fixed`` entry gives its value throughout.
        """
        share = np.asarray(share, dtype=np.float64)
        if self.distribution == "fixed":
            return np.full(share.shape, self.value)
        if self.distribution == "uniform":
            return self.low + share * (self.high - self.low)
        from scipy.special import ndtri  # late: scipy is slow to load

        to_scale, from_scale = scale_of(self.distribution)
        middle, low, high = (to_scale(v) for v in (self.value, self.low, self.high))
        z = ndtri(share) / Z_HIGH
        return np.asarray(
            from_scale(middle + np.where(z < 0, z * (middle - low), z * (high - middle))),
            dtype=np.float64,
        )

    def moved_to(self, value: float) -> "Entry":
        """Return the entry round another value: its range moves along, as wide on its own scale.

        The range of a ``fixed`` or ``uniform`` entry, which is not spread about its value, widens
        to hold it.
        """
        low, high = min(self.low, value), max(self.high, value)
        if self.distribution not in ("fixed", "uniform"):
            to_scale, from_scale = scale_of(self.distribution)
            # a value off the scale, such as a share above 1, is refused with the entry
            with suppress(ValueError):
                by = to_scale(value) - to_scale(self.value)
                low, high = (float(from_scale(to_scale(v) + by)) for v in (self.low, self.high))
        # the way to the scale and back rounds
        return replace(self, value=value, low=min(low, value), high=max(high, value))


def scale_of(distribution: str) -> tuple[Callable[[float], float], Callable[..., Any]]:
    """Return the way to the scale on which a drawn entry is spread, and the way back.

    The way back takes arrays, too.
    """
    from scipy.special import expit  # late: scipy is slow to load

    scales: dict[str, tuple[Callable[[float], float], Callable[..., Any]]] = {
        "normal": (float, np.asarray),
        "lognormal": (math.log, np.exp),
        "logit-normal": (lambda share: math.log(share) - math.log(1 - share), expit),
    }
    return scales[distribution]


class Evidence(Mapping[str, Entry]):
    """An immutable set of entries by key."""

    def __init__(self, entries: Mapping[str, Entry]) -> None:
        self._entries = MappingProxyType(dict(entries))
        # asked for over and over, and slow to gather
        self._groups: dict[str, dict[str, float]] = {}

    def __getitem__(self, key: str) -> Entry:
        try:
            return self._entries[key]
        except KeyError:
            message = f"evidence {key}: no such entry. See `swarmwatch evidence` for the keys."
            raise EvidenceError(message) from None

    def __contains__(self, key: object) -> bool:
        return key in self._entries

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def value(self, key: str) -> float:
        """Return the central value of one entry in its own unit."""
        return self[key].value

    def group(self, subject: str) -> dict[str, float]:
        """Return the central values of one subject (file), by the part of the key after the dot."""
        found = self._groups.get(subject)
        if found is None:
            start = f"{subject}."
            found = {k.removeprefix(start): e.value for k, e in self.items() if k.startswith(start)}
            self._groups[subject] = found
        return dict(found)

    def with_values(self, values: Mapping[str, float]) -> "Evidence":
        """Return a copy in which some entries have another value, and their ranges move along."""
        return Evidence({**self._entries, **{k: self[k].moved_to(v) for k, v in values.items()}})
