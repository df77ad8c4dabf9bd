"""How does the plan get onto a phone or into a GIS? GPX, KML, GeoJSON, GeoPackage; WGS 84."""

import html
import json
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from xml.etree import ElementTree as ET

import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from swarmwatch.mapping.keep_out import barred_ground
from swarmwatch.mapping.spots import Spot, spots
from swarmwatch.mapping.yards import yards
from swarmwatch.wording import one_line

_GPX = "http://www.topografix.com/GPX/1/1"
_KML = "http://www.opengis.net/kml/2.2"
_DECIMALS = 6  # of a degree: a tenth of a metre
_TITLE = "Where to hang bait boxes"
# KML writes a colour as opacity, blue, green, red
_KML_RUST, _KML_RUST_PALE = "ff002e7a", "40005ed5"
_LAYER_WORDS = {"spots": "Spots for bait boxes", "yards": "Yards", "keep_out": "Keep out"}
_GPKG_COLUMNS = {
    "spots": (
        "name",
        "description",
        "rank",
        "site",
        "box",
        "height",
        "catches",
        "ask_first",
    ),
    "yards": ("name", "description"),
    "keep_out": ("name", "description", "reason"),
}


def gpx(
    plan: pd.DataFrame,
    *,
    sites: pd.DataFrame | None = None,
    boxes: pd.DataFrame | None = None,
    elevations_m: dict[str, float] | None = None,
    attribution: str = "",
) -> str:
    """Return the plan as GPX 1.1, one waypoint a spot, best first.

    Parameters
    ----------
    plan, sites, boxes
        Tables of that name; `sites` adds facing and permission, `boxes` the volume.
    elevations_m
        Ground height above the sea by site [m], where known.
    attribution
        Whom to thank for the data; stands as the file's description and as its copyright.
    """
    root = ET.Element("gpx", {"xmlns": _GPX, "version": "1.1", "creator": "swarmwatch"})
    if attribution:
        about = ET.SubElement(root, "metadata")
        ET.SubElement(about, "name").text = _TITLE
        ET.SubElement(about, "desc").text = one_line(attribution)
        ET.SubElement(about, "copyright", {"author": one_line(attribution)})
    for spot in spots(plan, sites):
        point = ET.SubElement(
            root,
            "wpt",
            {"lat": _degrees(spot.latitude), "lon": _degrees(spot.longitude)},
        )
        if elevations_m and spot.site in elevations_m:
            ET.SubElement(point, "ele").text = f"{elevations_m[spot.site]:.1f}"
        ET.SubElement(point, "name").text = short_name(spot)
        ET.SubElement(point, "desc").text = description(spot, boxes)
    ET.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, encoding="unicode")}\n'


def geojson(
    plan: pd.DataFrame,
    *,
    sites: pd.DataFrame | None = None,
    boxes: pd.DataFrame | None = None,
    attribution: str = "",
) -> str:
    """Return the plan as GeoJSON (RFC 7946): WGS 84, longitude first, six decimals.

    Parameters
    ----------
    plan, sites, boxes
        As for `gpx`.
    attribution
        Whom to thank for the data, kept as a member of the collection.
    """
    features = [
        {
            "type": "Feature",
            "geometry": {
                "type": "Point",
                "coordinates": [
                    round(spot.longitude, _DECIMALS),
                    round(spot.latitude, _DECIMALS),
                ],
            },
            "properties": {
                "name": short_name(spot),
                "desc": description(spot, boxes),
                "rank": spot.rank,
                "site": spot.site,
                "box": spot.box or None,
                "ask_first": not spot.allowed,
            },
        }
        for spot in spots(plan, sites)
    ]
    collection: dict[str, object] = {"type": "FeatureCollection"}
    if attribution:
        collection["attribution"] = attribution
    collection["features"] = features
    return json.dumps(collection, ensure_ascii=False, indent=1) + "\n"


def kml(
    plan: pd.DataFrame,
    *,
    apiaries: pd.DataFrame | None = None,
    sites: pd.DataFrame | None = None,
    boxes: pd.DataFrame | None = None,
    keep_out: pd.DataFrame | None = None,
    attribution: str = "",
) -> str:
    """Return the plan as KML 2.2 with a folder each for spots, yards and keep-out ground.

    Parameters
    ----------
    plan, apiaries, sites, boxes, keep_out
        Tables of that name; keep-out ground is drawn with the distance to keep.
    attribution
        Whom to thank for the data; stands in the document's description.

    Raises
    ------
    RecordsError
        A table breaks its contract.
    """
    root = ET.Element("kml", {"xmlns": _KML})
    document = ET.SubElement(root, "Document")
    ET.SubElement(document, "name").text = _TITLE
    if attribution:
        said = html.escape(one_line(attribution), quote=False)
        ET.SubElement(document, "description").text = said
    style = ET.SubElement(document, "Style", {"id": "keep-out"})
    ET.SubElement(ET.SubElement(style, "LineStyle"), "color").text = _KML_RUST
    ET.SubElement(ET.SubElement(style, "PolyStyle"), "color").text = _KML_RUST_PALE
    for layer, rows in _layers(plan, apiaries, sites, boxes, keep_out).items():
        folder = ET.SubElement(document, "Folder")
        ET.SubElement(folder, "name").text = _LAYER_WORDS[layer]
        for row in rows:
            mark = ET.SubElement(folder, "Placemark")
            ET.SubElement(mark, "name").text = str(row["name"])
            if row["description"]:
                # viewers show a description as HTML, once XML is undone
                said = html.escape(str(row["description"]), quote=False)
                ET.SubElement(mark, "description").text = said
            if layer == "keep_out":
                ET.SubElement(mark, "styleUrl").text = "#keep-out"
            _kml_geometry(mark, row["geometry"])
    ET.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, encoding="unicode")}\n'


def _kml_geometry(parent: ET.Element, geometry: BaseGeometry) -> None:
    if isinstance(geometry, shapely.Polygon):
        polygon = ET.SubElement(parent, "Polygon")
        rings = [("outerBoundaryIs", geometry.exterior)]
        rings += [("innerBoundaryIs", ring) for ring in geometry.interiors]
        for name, ring in rings:
            _kml_points(ET.SubElement(ET.SubElement(polygon, name), "LinearRing"), ring)
    elif geometry.geom_type in {"Point", "LineString", "LinearRing"}:
        _kml_points(ET.SubElement(parent, geometry.geom_type), geometry)
    else:
        several = ET.SubElement(parent, "MultiGeometry")
        for part in shapely.get_parts(geometry):
            _kml_geometry(several, part)


def _kml_points(parent: ET.Element, geometry: BaseGeometry) -> None:
    points = (f"{_degrees(x)},{_degrees(y)}" for x, y in shapely.get_coordinates(geometry))
    ET.SubElement(parent, "coordinates").text = " ".join(points)


def geopackage(
    plan: pd.DataFrame,
    *,
    apiaries: pd.DataFrame | None = None,
    sites: pd.DataFrame | None = None,
    boxes: pd.DataFrame | None = None,
    keep_out: pd.DataFrame | None = None,
    attribution: str = "",
    made_on: date,
) -> bytes:
    """Return the plan as GeoPackage with the layers `spots`, `yards` and `keep_out`.

    Parameters
    ----------
    plan, apiaries, sites, boxes, keep_out, attribution
        As for `kml`; the attribution is the description of each layer.
    made_on
        The day that stands in the file as its last change, so that bytes repeat.

    Raises
    ------
    RecordsError
        A table breaks its contract.
    """
    import geopandas as gpd
    import pyogrio

    layers = _layers(plan, apiaries, sites, boxes, keep_out)
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{made_on.isoformat()}T00:00:00.000Z"})
    try:
        with TemporaryDirectory() as folder:
            file = Path(folder) / "plan.gpkg"
            for layer, rows in layers.items():
                columns = [*_GPKG_COLUMNS[layer], "geometry"]
                frame = gpd.GeoDataFrame(
                    pd.DataFrame(rows, columns=columns), geometry="geometry", crs="EPSG:4326"
                )
                pyogrio.write_dataframe(
                    frame,
                    file,
                    layer=layer,
                    driver="GPKG",
                    geometry_type="Unknown" if layer == "keep_out" else "Point",
                    append=file.exists(),
                    layer_options={
                        "IDENTIFIER": _LAYER_WORDS[layer],
                        "DESCRIPTION": one_line(attribution) or _TITLE,
                    },
                )
            return file.read_bytes()
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def _layers(
    plan: pd.DataFrame,
    apiaries: pd.DataFrame | None,
    sites: pd.DataFrame | None,
    boxes: pd.DataFrame | None,
    keep_out: pd.DataFrame | None,
) -> dict[str, list[dict[str, Any]]]:
    """Return each layer's rows: a name and description for phones, the rest for a GIS."""
    chosen = [
        {
            "name": short_name(spot),
            "description": description(spot, boxes),
            "rank": spot.rank,
            "site": one_line(spot.site),
            "box": one_line(spot.box) or None,
            "height": spot.height or None,
            "catches": spot.expected or None,
            "ask_first": not spot.allowed,
            "geometry": _point(spot.latitude, spot.longitude),
        }
        for spot in spots(plan, sites)
    ]
    own = [
        {
            "name": one_line(yard.name),
            "description": one_line(yard.note),
            "geometry": _point(yard.latitude, yard.longitude),
        }
        for yard in ([] if apiaries is None else yards(apiaries))
    ]
    return {"spots": chosen, "yards": own, "keep_out": _barred_rows(keep_out)}


def _barred_rows(keep_out: pd.DataFrame | None) -> list[dict[str, Any]]:
    if keep_out is None or not len(keep_out):
        return []
    return [
        {
            "name": f"keep out: {barred.reason}",
            "description": "no bait box here",
            "reason": barred.reason,
            "geometry": shapely.set_precision(barred.area, 10.0**-_DECIMALS),
        }
        for barred in barred_ground(keep_out)
        if not barred.area.is_empty
    ]


def _point(latitude: float, longitude: float) -> shapely.Point:
    return shapely.Point(round(longitude, _DECIMALS), round(latitude, _DECIMALS))


def short_name(spot: Spot) -> str:
    """Return the name that fits a phone's map: rank and site."""
    return f"{spot.rank} {one_line(spot.site)}"


def description(spot: Spot, boxes: pd.DataFrame | None = None) -> str:
    """Return what to know at the spot: permission first, then height, facing, bait box."""
    parts = [
        spot.permission,
        spot.owner and f"owner {spot.owner}",
        spot.height and f"hang it {spot.height} high",
        spot.facing and f"entrance to the {spot.facing}",
        box_words(spot.box, boxes),
        spot.expected and f"swarms a season {spot.expected}",
        *spot.warnings,
    ]
    return one_line("; ".join(part for part in parts if part))


def box_words(box: str, boxes: pd.DataFrame | None = None) -> str:
    """Return the bait box by name and volume, "" where none is assigned."""
    if not box:
        return ""
    if boxes is not None and len(boxes):
        own = boxes.loc[boxes["box"].astype(str) == box, "volume_l"].dropna()
        if len(own):
            return f"bait box {box} ({float(own.iloc[0]):.0f} l)"
    return f"bait box {box}"


def _degrees(value: float) -> str:
    return f"{value:.{_DECIMALS}f}"
