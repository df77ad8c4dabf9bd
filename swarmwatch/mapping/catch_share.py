"""Where would a bait box take how much of a swarm? Bands of equal share, for shading a map."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import contourpy
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from swarmwatch.evidence import Evidence
from swarmwatch.mapping.local_grid import Floats, LocalGrid
from swarmwatch.mapping.yards import Origin
from swarmwatch.placement.dispersal import distances_m, kernels
from swarmwatch.placement.site_quality import (
    capped,
    height_score,
    lure_factor,
    reference_box_quality,
)

# borders of the bands [per cent of a swarm]: about as many as the eye tells apart
_BORDERS = (1, 2, 3, 5, 7, 10, 15, 20, 30, 40, 50)
_BANDS_MOST = 5
_LURE = "nasonov-lure"
_MESHES = 110  # along the longer side of the ground
_MARGIN_SHARE = 0.8  # of the shown span, beyond each side: a map can be pushed about
_LABELS_A_BAND = 8  # places to choose from: the page shows those that cover nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Ground in WGS 84 where a box takes `low` to `high` per cent of a swarm; the last is open.

    `labels` are (latitude, longitude) where the band can be named, best first.
    """

    low: int
    high: int | None
    area: BaseGeometry
    labels: tuple[tuple[float, float], ...]

    @property
    def words(self) -> str:
        """Return the band in per cent."""
        return f"{self.low} % or more" if self.high is None else f"{self.low} to {self.high} %"


def share_at(
    latitude: Floats, longitude: Floats, origins: Sequence[Origin], evidence: Evidence
) -> Floats:
    """Return the share of a swarm that one more box at each place would take.

    Parameters
    ----------
    latitude, longitude
        (n,) WGS 84 [degrees].
    origins
        Where swarms leave from; each counts by its swarms a season.
    evidence
        The numbers.

    Returns
    -------
    (n,) [-], 0 where no origin sends any.

    Notes
    -----
    ``q k(r) / (D + q k(r))``: k the usual dispersal density, D the natural cavities, q the
    usual box with a Nasonov lure at the height that is reached from the ground, hung alone.
    """
    sending = [o for o in origins if o.swarms > 0]
    if not sending:
        return np.zeros(len(latitude))
    value = evidence.value
    height = height_score(value("safety.reach_height_m"), evidence)
    lure = capped(lure_factor(_LURE, evidence), evidence)
    quality = reference_box_quality(evidence) * float(height) * float(lure)
    away_m = distances_m(
        from_latitude=[o.latitude for o in sending],
        from_longitude=[o.longitude for o in sending],
        to_latitude=latitude,
        to_longitude=longitude,
    )
    pull = quality * kernels(evidence)[0].per_km2(away_m)
    share = pull / (value("dispersal.natural_cavities") + pull)
    swarms = np.array([o.swarms for o in sending])
    return np.asarray(swarms @ share / swarms.sum())


def share_bands(
    origins: Sequence[Origin],
    *,
    bounds: tuple[tuple[float, float], tuple[float, float]],
    grid: LocalGrid,
    marks: Sequence[tuple[float, float]],
    evidence: Evidence,
) -> list[Band]:
    """Return the bands of equal share over the ground that a map shows, lowest first.

    Parameters
    ----------
    origins, evidence
        As for `share_at`.
    bounds
        ((south, west), (north, east)) of what is shown [degrees]; the bands reach beyond.
    grid
        The map's grid.
    marks
        (latitude, longitude) of what a band's name should not cover.
    """
    (south, west), (north, east) = bounds
    corners = grid.metres([south, north], [west, east])
    span = corners[1] - corners[0]
    low, high = corners[0] - span * _MARGIN_SHARE, corners[1] + span * _MARGIN_SHARE
    mesh = float((high - low).max()) / _MESHES
    x, y = (np.arange(a, b + mesh, mesh) for a, b in zip(low, high, strict=True))
    across, up = np.meshgrid(x, y)
    latitude, longitude = grid.degrees(across.ravel(), up.ravel())
    share = 100 * share_at(latitude, longitude, origins, evidence).reshape(across.shape)
    inside = [b for b in _BORDERS if share.min() < b < share.max()][-_BANDS_MOST:]
    if not inside:
        return []
    drawn = contourpy.contour_generator(x, y, share, fill_type="OuterOffset")
    shown = shapely.box(*corners[0], *corners[1])
    taken = [tuple(p) for p in grid.metres([m[0] for m in marks], [m[1] for m in marks])]
    bands = []
    for at, upper in zip(inside, [*inside[1:], None], strict=True):
        area = _area(drawn, at, float("inf") if upper is None else upper, mesh)
        places = _label_places(drawn, (at + (upper or share.max())) / 2, shown, taken)
        taken += places
        names = grid.degrees([p[0] for p in places], [p[1] for p in places])
        bands.append(
            Band(
                low=at,
                high=upper,
                area=grid.geometry_in_degrees(area),
                labels=tuple((float(a), float(b)) for a, b in zip(*names, strict=True)),
            )
        )
    return bands


def _area(drawn: contourpy.ContourGenerator, low: float, high: float, mesh: float) -> BaseGeometry:
    filled = drawn.filled(low, high)
    points, offsets = filled[0], filled[1]
    polygons = []
    for ring_points, ends in zip(points, offsets, strict=True):
        corners, cuts = np.asarray(ring_points), np.asarray(ends).tolist()
        rings = [corners[a:b] for a, b in pairwise(cuts)]
        polygons.append(shapely.Polygon(rings[0], rings[1:]))
    # a tenth of a mesh is finer than the model knows, and keeps the page small
    return shapely.make_valid(shapely.simplify(shapely.MultiPolygon(polygons), mesh / 10))


def _label_places(
    drawn: contourpy.ContourGenerator,
    middle: float,
    shown: BaseGeometry,
    taken: Sequence[tuple[float, ...]],
) -> list[tuple[float, ...]]:
    """Return points on the middle line of a band, each in turn farthest from all that is there."""
    lines = [np.asarray(line) for line in drawn.lines(middle)]
    inner = np.vstack([np.empty((0, 2)), *lines])
    inner = inner[shapely.contains_xy(shown, inner)]
    if not len(inner):
        return []
    gaps = np.full(len(inner), np.inf)
    for x, y in taken:
        gaps = np.minimum(gaps, np.hypot(inner[:, 0] - x, inner[:, 1] - y))
    found: list[tuple[float, ...]] = []
    for _ in range(_LABELS_A_BAND):
        x, y = inner[gaps.argmax()].tolist()
        found.append((x, y))
        gaps = np.minimum(gaps, np.hypot(inner[:, 0] - x, inner[:, 1] - y))
    return list(dict.fromkeys(found))
