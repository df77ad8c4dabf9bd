"""What lies round the boxes: woods, water, buildings, ways, read from GeoJSON and checked."""

import json
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any, NoReturn

import shapely
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from swarmwatch.errors import Problem, RecordsError

if TYPE_CHECKING:
    from geopandas import GeoDataFrame

_WGS84_NAMES = ("CRS84", "EPSG::4326", "EPSG:4326")
_MEND_FILE = "Save the layer as GeoJSON in longitude and latitude (WGS 84)."


@dataclass(frozen=True, slots=True, kw_only=True)
class LandStyle:
    """The look of a kind of land: its word for the legend, fill and line, on paper a hatch."""

    word: str
    fill: str
    line: str
    width: float
    dashes: tuple[int, ...] = ()
    hatch: str = ""


# in the order of drawing; pale, so that marks stand out, and told apart in grey by their lines
LAND_STYLES = {
    "field": LandStyle(word="field or meadow", fill="#F6F1DC", line="#D9CFA8", width=0.6),
    "garden": LandStyle(word="garden or park", fill="#E9F2DB", line="#C3D3A6", width=0.6),
    "orchard": LandStyle(word="orchard", fill="#DDECCB", line="#9DB983", width=0.8, hatch="oo"),
    "wood": LandStyle(word="wood", fill="#C5DDB4", line="#7FA36A", width=0.8, hatch="..."),
    "play-area": LandStyle(word="play area or school", fill="#F3DCC8", line="#B98A63", width=0.8),
    "school": LandStyle(word="play area or school", fill="#F3DCC8", line="#B98A63", width=0.8),
    "water": LandStyle(word="water", fill="#C6E1F2", line="#6FA9CF", width=1.0, hatch="---"),
    "building": LandStyle(word="building", fill="#B5ADA8", line="#5F5854", width=0.7),
    "road": LandStyle(word="road", fill="none", line="#A8A29E", width=2.6),
    "path": LandStyle(word="path", fill="none", line="#8C7B6B", width=1.2, dashes=(4, 3)),
    "railway": LandStyle(word="railway", fill="none", line="#6B6B6B", width=1.6, dashes=(6, 2)),
    "hedge": LandStyle(word="hedge", fill="none", line="#5E8A4A", width=2.0),
    "tree-row": LandStyle(word="tree row", fill="none", line="#3F6B2F", width=2.4, dashes=(1, 4)),
    "tree": LandStyle(word="tree", fill="#5E8A4A", line="#3F6B2F", width=0.8),
    "power-line": LandStyle(
        word="power line", fill="none", line="#8A1C1C", width=1.4, dashes=(8, 2)
    ),
}
UNKNOWN_STYLE = LandStyle(word="other ground", fill="#E4E4E4", line="#9A9A9A", width=0.8)


@dataclass(frozen=True, slots=True)
class LandFeature:
    """A piece of land: one of the known kinds, or another word that is drawn grey."""

    kind: str
    geometry: BaseGeometry

    @property
    def style(self) -> LandStyle:
        """Return how it is drawn."""
        return LAND_STYLES.get(self.kind, UNKNOWN_STYLE)


@dataclass(frozen=True, slots=True)
class Land:
    """Checked land features in the order of drawing, and whom to thank for them."""

    features: tuple[LandFeature, ...]
    attribution: str = ""

    def by_style(self) -> list[tuple[LandStyle, list[BaseGeometry]]]:
        """Return the geometries of each look, in the order of drawing."""
        return [
            (style, [f.geometry for f in group])
            for style, group in groupby(self.features, key=lambda f: f.style)
        ]


def read_land(source: "str | GeoDataFrame") -> Land:
    """Read and check land features.

    Parameters
    ----------
    source
        The text of a GeoJSON FeatureCollection in WGS 84, or a GeoDataFrame with a CRS. Each
        feature has a property (column) `kind`; a top-level member `attribution` is kept.

    Returns
    -------
    The features with a geometry, made valid where they cross themselves. A kind that is not
    known keeps its place and is drawn grey.

    Raises
    ------
    RecordsError
        It is not GeoJSON, not in WGS 84, or holds features that can't be read: all of them.
    """
    if isinstance(source, str):
        return _from_text(source)
    if source.crs is None:
        _refuse("the layer has no coordinate system", "Set one, such as EPSG:4326.")
    frame = source.to_crs(4326)
    kinds = frame["kind"] if "kind" in frame.columns else [None] * len(frame)
    return _checked(list(zip(kinds, frame.geometry, strict=True)), attribution="")


def _from_text(text: str) -> Land:
    try:
        document = json.loads(text)
    except json.JSONDecodeError as error:
        _refuse(f"it is not JSON (line {error.lineno}: {error.msg})", _MEND_FILE, error)
    if not isinstance(document, dict) or not isinstance(document.get("features"), list):
        _refuse("it is not a GeoJSON FeatureCollection", _MEND_FILE)
    named = document.get("crs")
    if named and not json.dumps(named).upper().rstrip('"} ').endswith(_WGS84_NAMES):
        _refuse("it is in another coordinate system than WGS 84", _MEND_FILE)
    rows, problems = [], []
    for number, feature in enumerate(document["features"], start=1):
        try:
            rows.append(_read_feature(feature))
        except (ValueError, TypeError, KeyError, AttributeError, shapely.errors.ShapelyError):
            problems.append(_problem(number, "this feature can't be read", _MEND_FILE))
    if problems:
        raise RecordsError(problems)
    return _checked(rows, attribution=str(document.get("attribution") or ""))


def _read_feature(feature: Any) -> tuple[object, BaseGeometry | None]:  # noqa: ANN401 - JSON
    geometry = feature["geometry"]
    return (feature.get("properties") or {}).get("kind"), shape(geometry) if geometry else None


def _checked(rows: list[tuple[object, BaseGeometry | None]], *, attribution: str) -> Land:
    features, problems = [], []
    for number, (kind, geometry) in enumerate(rows, start=1):
        if geometry is None or geometry.is_empty:
            continue
        west, south, east, north = geometry.bounds
        if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):
            what = f"it lies at {west:g}, {south:g}, which is no longitude and latitude"
            problems.append(_problem(number, what, _MEND_FILE))
            continue
        word = str(kind or "").strip().lower().replace("_", "-").replace(" ", "-")
        mended = geometry if geometry.is_valid else shapely.make_valid(geometry)
        features.append(LandFeature(word, shapely.force_2d(mended)))
    if problems:
        raise RecordsError(problems)
    order = {kind: place for place, kind in enumerate(LAND_STYLES)}
    return Land(tuple(sorted(features, key=lambda f: order.get(f.kind, -1))), attribution)


def _problem(number: int, what: str, mend: str) -> Problem:
    return Problem(
        table=f"land feature {number}" if number else "land", row=0, column="", what=what, mend=mend
    )


def _refuse(what: str, mend: str, cause: Exception | None = None) -> NoReturn:
    raise RecordsError([_problem(0, what, mend)]) from cause
