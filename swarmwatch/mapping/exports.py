"""How does the plan get onto a phone? GPX and GeoJSON, in WGS 84."""

import json
from xml.etree import ElementTree as ET

import pandas as pd

from swarmwatch.mapping.spots import Spot, spots
from swarmwatch.wording import one_line

_GPX = "http://www.topografix.com/GPX/1/1"
_DECIMALS = 6  # of a degree: a tenth of a metre


def gpx(
    plan: pd.DataFrame,
    *,
    sites: pd.DataFrame | None = None,
    boxes: pd.DataFrame | None = None,
    elevations_m: dict[str, float] | None = None,
) -> str:
    """Return the plan as GPX 1.1, one waypoint a spot, best first.

    Parameters
    ----------
    plan, sites, boxes
        Tables of that name; `sites` adds facing and permission, `boxes` the volume.
    elevations_m
        Ground height above the sea by site [m], where known.
    """
    root = ET.Element("gpx", {"xmlns": _GPX, "version": "1.1", "creator": "swarmwatch"})
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
