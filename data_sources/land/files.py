"""What lies near a place, by a file: an OpenStreetMap extract, a GeoPackage, a GeoJSON layer?"""

import json
import re
import warnings
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from data_sources.errors import SourceMalformed, SourceUnavailable
from data_sources.land.features import (
    OSM_CREDIT,
    Feature,
    LandFeatures,
    land_features,
    refuse_no_degrees,
)
from data_sources.land.kinds import KINDS, facts_of, kind_of

if TYPE_CHECKING:
    from geopandas import GeoDataFrame

SUFFIXES = (".osm", ".pbf", ".geojson", ".json", ".gpkg")
_OSM_LAYERS = ("points", "lines", "multipolygons")
# a column of any of these names was made from OpenStreetMap
_OSM_MARKS = frozenset({"osm_id", "osm_way_id", "other_tags", "@id", "full_id", "osm_type"})
_HSTORE = re.compile(r'"((?:[^"\\]|\\.)*)"=>"((?:[^"\\]|\\.)*)"', re.DOTALL)
_ESCAPED = re.compile(r"\\(.)", re.DOTALL)
_BEGINNING = 512  # bytes that tell a web page from a map
Bounds = tuple[float, float, float, float]
Shapes = NDArray[np.object_]


def read_land_file(path: Path | str, *, within: Bounds | None = None) -> LandFeatures:
    """Read woods, trees, hedges, buildings, lines and ways from a file.

    Parameters
    ----------
    path
        An extract (.osm, .osm.pbf), a saved Overpass answer (.json), or a GeoPackage or GeoJSON
        layer with OpenStreetMap's tags as columns, or with a column `kind` of one's own.
    within
        (west, south, east, north) in degrees: only what touches this is read.

    Returns
    -------
    The features of all layers, in WGS 84.

    Raises
    ------
    SourceUnavailable
        The file can't be read.
    SourceMalformed
        It is no map, is cut off, is empty, has no coordinate system, nothing in it can be told
        apart, or it lies elsewhere than `within`.
    """
    path = Path(path)
    if path.suffix.lower() == ".json" and (payload := _overpass_answer(path)) is not None:
        from data_sources.land.overpass import read_overpass

        return _touching(read_overpass(payload), within, path)
    features: list[Feature] = []
    shapeless: Counter[str] = Counter()
    told, marked, rows = False, False, 0
    for name, frame in _layers(path, within):
        columns = set(map(str, frame.columns))
        told |= bool(columns & _TELLING)
        marked |= bool(columns & _OSM_MARKS) or name in _OSM_LAYERS
        rows += len(frame)
        for feature in _features(frame):
            if feature.geometry is None or feature.geometry.is_empty:
                shapeless[feature.kind] += 1
            else:
                features.append(feature)
    if not rows:
        _refuse_elsewhere(path, within)
    if not told and rows:
        message = (
            f"{path.name}: none of its columns tells what a feature is. Give a layer with "
            "OpenStreetMap's tags (natural, landuse, highway ...) or with a column `kind`."
        )
        raise SourceMalformed(message)
    credit = _named_credit(path) or (OSM_CREDIT if marked else "")
    return land_features(features, credit=credit, where=path.name, notes=_left_out(shapeless))


def _touching(land: LandFeatures, within: Bounds | None, path: Path) -> LandFeatures:
    """Return what touches the bounds; refuse an answer that is of another place."""
    if within is None:
        return land
    there = land.table[land.table.intersects(shapely.box(*within))]
    if not len(there):
        _refuse_other_place(land.table.geometry.to_numpy(), path, within)
    return replace(land, table=there.reset_index(drop=True))


def _refuse_elsewhere(path: Path, within: Bounds | None) -> None:
    """Refuse a file that holds nothing at all, or nothing where it was asked for."""
    frames = [f for _, f in _layers(path, None)] if within is not None else []
    shapes = np.concatenate([np.zeros(0, dtype=object), *(f.geometry.to_numpy() for f in frames)])
    refuse_no_degrees(shapes, path.name)
    _refuse_other_place(shapes, path, within)


def _refuse_other_place(shapes: Shapes, path: Path, within: Bounds | None) -> None:
    west, south, east, north = shapely.GeometryCollection(list(shapes)).bounds
    if within is None or not np.isfinite(west):
        message = f"{path.name}: there is nothing in it. Export the map of your neighbourhood."
        raise SourceMalformed(message)
    covered, asked = shapely.box(west, south, east, north), shapely.box(*within)
    if covered.intersects(asked):
        return
    turned = shapely.box(south, west, north, east).intersects(asked)
    why = "latitude and longitude look swapped in it" if turned else "it is of another place"
    message = (
        f"{path.name}: it covers latitude {south:.4f} to {north:.4f} and longitude {west:.4f} to "
        f"{east:.4f}, and what was asked for is at {within[1]:.4f} to {within[3]:.4f} and "
        f"{within[0]:.4f} to {within[2]:.4f}; {why}. Export the map of the right place."
    )
    raise SourceMalformed(message)


def _left_out(shapeless: Mapping[str, int]) -> list[str]:
    if not shapeless:
        return []
    what = ", ".join(f"{n} {kind.replace('-', ' ')}" for kind, n in shapeless.items())
    return [f"Without a usable outline, such as those cut by the file's edge, left out: {what}."]


def read_drawn_file(path: Path | str) -> "GeoDataFrame":
    """Read a layer that somebody drew, with all its columns, in WGS 84.

    Raises
    ------
    SourceUnavailable, SourceMalformed
        As for `read_land_file`.
    """
    import pandas as pd

    frames = [frame for _, frame in _layers(Path(path), None)]
    return pd.concat(frames, ignore_index=True) if len(frames) > 1 else frames[0]


def tags_of(text: str) -> dict[str, str]:
    r"""Read the column `other_tags` that GDAL writes, hstore text or JSON.

    Examples
    --------
    >>> tags_of('"natural"=>"tree","height"=>"12"')
    {'natural': 'tree', 'height': '12'}
    """
    if text.startswith("{"):
        try:
            found = json.loads(text)
        except ValueError:
            return {}
        return {str(k): str(v) for k, v in found.items()} if isinstance(found, dict) else {}
    return {_plain(key): _plain(value) for key, value in _HSTORE.findall(text)}


def _plain(text: str) -> str:
    return _ESCAPED.sub(r"\1", text) if "\\" in text else text


_TAG_COLUMNS = (
    "amenity",
    "barrier",
    "building",
    "highway",
    "landuse",
    "leisure",
    "location",
    "natural",
    "power",
    "railway",
    "service",
    "tunnel",
    "waterway",
)
_TELLING = frozenset({"kind", "other_tags", "tags", *_TAG_COLUMNS} - {"location", "service"})


def _layers(path: Path, within: Bounds | None) -> "list[tuple[str, GeoDataFrame]]":
    import pyogrio

    _refuse_missing(path)
    osm = path.suffix.lower() in (".osm", ".pbf")
    try:
        with warnings.catch_warnings():
            # rings that don't close are met in every real extract, and mended below
            warnings.simplefilter("ignore")
            # a table without geometry has None here, and is no map
            names = [str(n) for n, kind in pyogrio.list_layers(path) if kind is not None]
            if osm:
                names = [n for n in names if n in _OSM_LAYERS]
            frames = [
                pyogrio.read_dataframe(
                    path, layer=n, bbox=_own_bounds(path, n, within, osm), on_invalid="ignore"
                )
                for n in names
            ]
    except (ValueError, RuntimeError, OSError, shapely.errors.ShapelyError) as error:
        message = (
            f"{path.name}: it can't be read as a map ({_first_line(error)}). It may be cut off or "
            "of another kind: fetch or export it again, as .osm.pbf, .osm, .gpkg or .geojson."
        )
        raise SourceMalformed(message) from error
    if not frames:
        message = f"{path.name}: there is no layer with geometry in it. Export the map layer."
        raise SourceMalformed(message)
    return [(n, _in_degrees(f, path)) for n, f in zip(names, frames, strict=True)]


def _own_bounds(path: Path, layer: str, within: Bounds | None, osm: bool) -> Bounds | None:
    """Return the bounds in the layer's own system; None, for all of it, where it has none."""
    if within is None or osm:
        return within
    import pyogrio
    from pyproj import CRS, Transformer

    named = pyogrio.read_info(path, layer=layer)["crs"]
    if named is None:
        return None
    system = CRS.from_user_input(named)
    if not (system.is_geographic or system.is_projected):
        return None
    turn = Transformer.from_crs(4326, system, always_xy=True)
    west, south, east, north = turn.transform_bounds(*within)
    return (west, south, east, north)


def _refuse_missing(path: Path) -> None:
    if path.suffix.lower() not in SUFFIXES:
        message = f"{path.name}: give a map as {', '.join(SUFFIXES)}; other endings are not read."
        raise SourceMalformed(message)
    try:
        with path.open("rb") as file:
            begins = file.read(_BEGINNING).lstrip().lower()
    except OSError as error:
        message = f"{path}: {error.strerror or error}. Check the path."
        raise SourceUnavailable(message) from error
    if not begins:
        message = f"{path.name}: the file is empty. Fetch or export it again."
        raise SourceMalformed(message)
    if begins.startswith((b"<!doctype html", b"<html")):
        message = (
            f"{path.name}: it is a web page and no map; the service may have been busy when it "
            "was fetched. Fetch it again."
        )
        raise SourceMalformed(message)


def _first_line(error: Exception) -> str:
    line = (str(error).splitlines() or ["unknown"])[0]
    return "".join(c if c.isprintable() else " " for c in line)[:160].strip(" .;")


def _in_degrees(frame: "GeoDataFrame", path: Path) -> "GeoDataFrame":
    crs = frame.crs
    if crs is None or not (crs.is_geographic or crs.is_projected):
        west, south, _, _ = frame.total_bounds
        at = f" (it begins at {west:.10g}, {south:.10g})" if np.isfinite(west) else ""
        message = (
            f"{path.name}: the layer has no coordinate system{at}, so where it lies can't be "
            "known. Set the one it was drawn in, or save it in WGS 84 (EPSG:4326)."
        )
        raise SourceMalformed(message)
    return frame.to_crs(4326)


def _features(frame: "GeoDataFrame") -> list[Feature]:
    """Return the rows that are of use, of one layer in WGS 84."""
    columns = [c for c in frame.columns if c != frame.geometry.name]
    cells = {str(c): frame[c].tolist() for c in columns}
    drawn, others = cells.get("kind"), cells.get("other_tags") or cells.get("tags")
    single = {c: v for c, v in cells.items() if c not in ("kind", "other_tags", "tags")}
    found = []
    for i, shape in enumerate(frame.geometry.tolist()):
        tags = {c: str(v[i]) for c, v in single.items() if isinstance(v[i], str | int) and v[i]}
        tags |= _more_tags(others[i]) if others else {}
        kind = _drawn_kind(drawn[i]) if drawn else None
        kind = kind or kind_of(tags)
        if kind:
            name = tags.get("name", "")
            found.append(Feature(kind=kind, geometry=shape, name=name, facts=facts_of(tags)))
    return found


def _more_tags(cell: object) -> dict[str, str]:
    if isinstance(cell, str):
        return tags_of(cell)
    if isinstance(cell, Mapping):
        return {str(k): str(v) for k, v in cell.items()}
    return {}


def _drawn_kind(cell: object) -> str | None:
    word = cell.strip().lower().replace("_", "-").replace(" ", "-") if isinstance(cell, str) else ""
    alike = {"power": "power-line", "playground": "play-area", "forest": "wood", "meadow": "field"}
    word = alike.get(word, word)
    return word if word in KINDS else (word or None)


def _json_of(path: Path) -> Any:  # noqa: ANN401 - JSON is anything
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return None  # GDAL says what is wrong with it


def _overpass_answer(path: Path) -> dict[str, Any] | None:
    payload = _json_of(path)
    return payload if isinstance(payload, dict) and "elements" in payload else None


def _named_credit(path: Path) -> str:
    """Return whom a GeoJSON file says to thank: GDAL drops what stands beside the features."""
    if path.suffix.lower() not in (".geojson", ".json"):
        return ""
    payload = _json_of(path)
    named = payload.get("attribution") if isinstance(payload, dict) else None
    return " ".join(named.split()) if isinstance(named, str) else ""
