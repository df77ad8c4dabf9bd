"""Read ground where no box may hang, drawn as GeoJSON or GeoPackage."""

import json
from pathlib import Path

from swarmwatch.records.cells import Grid, make_grid, refusal

# RFC 7946: coordinates are WGS 84; older files may still name a reference system
_WGS_84 = ("CRS84", "4326")


def read_geojson(path: Path) -> list[Grid]:
    """Read the features of one file; row 2 is the first feature.

    Raises
    ------
    RecordsError
        The file is no GeoJSON, or its coordinates are not WGS 84.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise refusal(path, f"this is not GeoJSON ({error})", "Save it again as GeoJSON") from error
    if not isinstance(document, dict):
        raise refusal(path, "this is not GeoJSON", "Save it again as GeoJSON")
    system = json.dumps(document.get("crs"))
    if system != "null" and not any(name in system for name in _WGS_84):
        raise refusal(path, "its coordinates are not WGS 84 degrees", "Save it as EPSG:4326")
    return [_grid(path, path.stem, document.get("features", [document]))]


def read_geopackage(path: Path) -> list[Grid]:
    """Read every layer of one file, whatever its reference system; row 2 is the first feature.

    Raises
    ------
    RecordsError
        The file is no GeoPackage, or a layer doesn't say in which system its coordinates are.
    """
    import geopandas

    try:
        layers = [str(name) for name in geopandas.list_layers(path)["name"]]
        frames = {name: geopandas.read_file(path, layer=name) for name in layers}
    except (RuntimeError, ValueError) as error:
        raise refusal(path, "this is not a GeoPackage", "Save it again, or as GeoJSON") from error
    grids = []
    for name, frame in frames.items():
        if not isinstance(frame, geopandas.GeoDataFrame) or frame.crs is None:
            what = f"layer {name!r} doesn't say in which system its coordinates are"
            raise refusal(path, what, "Save it as EPSG:4326")
        features = json.loads(frame.to_crs(4326).to_json(drop_id=True))["features"]
        grids.append(_grid(path, name, features))
    return grids


def _grid(path: Path, name: str, features: list[object]) -> Grid:
    columns = ["geometry"]
    drawn: list[tuple[str, dict[str, object]]] = []
    for feature in features:
        if not isinstance(feature, dict) or not isinstance(feature.get("geometry"), dict):
            raise refusal(path, "a feature has no geometry", "Draw it, or take it away")
        named = feature.get("properties") or {}
        drawn.append((json.dumps(feature["geometry"], separators=(",", ":")), named))
        columns += [str(n) for n in named if n not in columns]
    rows = [[shape, *(_text(named.get(n)) for n in columns[1:])] for shape, named in drawn]
    return make_grid(name, [columns, *rows])


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else json.dumps(value)
