"""The interactive map: one file that opens anywhere, with no network."""

from collections.abc import Iterable, Sequence
from datetime import date
from importlib import resources

import folium
import pandas as pd
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from swarmwatch.mapping import page_parts as parts
from swarmwatch.mapping.elements import (
    Mark,
    ShownFromPage,
    leaflet_script,
    leaflet_style,
    script_of,
)
from swarmwatch.mapping.escaping import safe
from swarmwatch.mapping.keep_out import Barred
from swarmwatch.mapping.land import Land, LandStyle
from swarmwatch.mapping.levels import NOT_SCORED, PURPLE
from swarmwatch.mapping.safety import SHORT
from swarmwatch.mapping.scene import Place, Scene, read_scene
from swarmwatch.mapping.spots import Spot
from swarmwatch.mapping.yards import Origin, Yard

_DOOR = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:"
_LISTED_ORIGINS = 12
_LAND_HEIGHT = 350  # Leaflet draws tiles at 200 and shapes at 400
_DECIMALS = 6
_RADIUS_PX = 14  # of the circle for one swarm a season; its area grows with the number
_RADIUS_LEAST_PX, _RADIUS_MOST_PX = 5, 44
_HATCH = (
    '<svg width="0" height="0" aria-hidden="true" style="position:absolute"><defs>'
    '<pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="8" height="8" fill="#D55E00" '
    'fill-opacity="0.10"/><line x1="0" y1="0" x2="0" y2="8" stroke="#7a2e00" '
    'stroke-width="2.2" stroke-opacity="0.75"/></pattern></defs></svg>'
)


def interactive_map(
    plan: pd.DataFrame,
    *,
    sources: pd.DataFrame,
    apiaries: pd.DataFrame,
    sites: pd.DataFrame | None = None,
    scores: pd.DataFrame | None = None,
    keep_out: pd.DataFrame | None = None,
    hangings: pd.DataFrame | None = None,
    land: Land | None = None,
    credits: Iterable[str] = (),  # noqa: A002 - the field's word
    title: str = "Where to hang bait boxes",
    made_on: date,
) -> str:
    """Draw the plan as one HTML page that needs no network, no server and no other file.

    Parameters
    ----------
    plan, sources, apiaries, sites, scores, keep_out, hangings
        Tables of that name; places in WGS 84 [degrees].
    land
        Background from `read_land`.
    credits
        Lines that thank whoever made the data.
    title
        Heading of the page.
    made_on
        The day the map speaks of.

    Returns
    -------
    The page. The same tables give the same bytes.

    Raises
    ------
    RecordsError
        A table breaks its contract.
    """
    scene = read_scene(
        plan,
        sources=sources,
        apiaries=apiaries,
        sites=sites,
        scores=scores,
        keep_out=keep_out,
        hangings=hangings,
    )
    thanks = [*credits, *([land.attribution] if land else [])]
    script = script_of(_drawing(scene, land), name="map")
    return _page(scene, land, script=script, title=title, made_on=made_on, thanks=thanks)


def _drawing(scene: Scene, land: Land | None) -> folium.Map:
    (south, west), (north, east) = scene.bounds
    drawing = folium.Map(
        location=[(south + north) / 2, (west + east) / 2],
        tiles=None,
        control_scale=True,
        max_zoom=20,
        zoom_snap=0.25,
        # the first view is fitted after loading: animated, a print or a slow phone catches it
        # half way, with every line stretched
        zoom_animation=False,
        fade_animation=False,
        marker_zoom_animation=False,
        attribution_control=False,
    )
    drawing.default_js, drawing.default_css = [], []
    if land:
        # a pane of its own: switched off and on again, land stays below everything else
        folium.map.CustomPane("land", z_index=_LAND_HEIGHT).add_to(drawing)
        _land_layer(land).add_to(drawing)
    if scene.barred:
        _barred_layer(scene.barred).add_to(drawing)
    _origin_layer(scene.origins).add_to(drawing)
    others = [p for p in scene.places if not p.hanging]
    if others:
        _place_layer("Places not chosen", others, "place").add_to(drawing)
    hanging = [p for p in scene.places if p.hanging]
    if hanging:
        _place_layer("Bait boxes that hang", hanging, "hanging").add_to(drawing)
    _yard_layer(scene.yards).add_to(drawing)
    _spot_layer(scene.spots).add_to(drawing)
    drawing.fit_bounds([[south, west], [north, east]], padding=(34, 34), max_zoom=17)
    folium.LayerControl(position="bottomright", collapsed=True).add_to(drawing)
    return drawing


def _land_layer(land: Land) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name="Land")
    for style, geometries in land.by_style():
        folium.GeoJson(
            _collection(geometries),
            style_function=_constant(_land_look(style)),
            interactive=False,
            pane="land",
        ).add_to(group)
    return group


def _land_look(style: LandStyle) -> dict[str, object]:
    return {
        "fill": style.fill != "none",
        "fillColor": style.fill,
        "fillOpacity": 1,
        "color": style.line,
        "weight": style.width,
        "dashArray": " ".join(map(str, style.dashes)) or None,
        "interactive": False,
    }


def _barred_layer(barred: Sequence[Barred]) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name="Keep out")
    look = {"className": "keep-out", "color": "#7a2e00", "weight": 2, "dashArray": "6 4"}
    for reason in dict.fromkeys(b.reason for b in barred):
        areas = [b.area for b in barred if b.reason == reason]
        layer = folium.GeoJson(_collection(areas), style_function=_constant(look))
        folium.Tooltip(safe(f"Keep out: {reason}")).add_to(layer)
        layer.add_to(group)
    return group


def _constant(look: dict[str, object]):  # type: ignore[no-untyped-def]  # noqa: ANN202 - folium's
    return lambda _feature: look


def _collection(geometries: Sequence[BaseGeometry]) -> dict[str, object]:
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "id": str(i), "properties": {}, "geometry": _rounded(g)}
            for i, g in enumerate(geometries)
        ],
    }


def _rounded(geometry: BaseGeometry) -> object:
    def coarse(value: object) -> object:
        if isinstance(value, float | int):
            return round(value, _DECIMALS)
        return [coarse(v) for v in value]  # type: ignore[attr-defined] # coordinates nest

    def plain(shape: dict[str, object]) -> dict[str, object]:
        if "geometries" in shape:
            inner = [plain(s) for s in shape["geometries"]]  # type: ignore[attr-defined]
            return {"type": shape["type"], "geometries": inner}
        return {"type": shape["type"], "coordinates": coarse(shape["coordinates"])}

    return plain(mapping(geometry))


def _origin_layer(origins: Sequence[Origin]) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name="Where swarms come from")
    for number, origin in enumerate(origins, start=1):
        radius = _RADIUS_PX * max(origin.swarms, 0) ** 0.5
        circle = folium.CircleMarker(
            [round(origin.latitude, _DECIMALS), round(origin.longitude, _DECIMALS)],
            radius=round(min(max(radius, _RADIUS_LEAST_PX), _RADIUS_MOST_PX), 1),
            color="#8a3f6b",
            weight=2,
            fill_color=PURPLE,
            fill_opacity=0.35,
        )
        if number <= _LISTED_ORIGINS:
            ShownFromPage(f"origin-{number}").add_to(circle)
        circle.add_to(group)
    return group


def _place_layer(name: str, places: Sequence[Place], look: str) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name=name)
    for number, place in enumerate(places, start=1):
        mark = Mark(
            latitude=place.latitude,
            longitude=place.longitude,
            html=f'<span class="{look}"></span>',
            size=24,
            label=f"{place.site}: {place.state}",
        )
        ShownFromPage(f"{look}-{number}").add_to(mark)
        mark.add_to(group)
    return group


def _yard_layer(yards: Sequence[Yard]) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name="Yards")
    for number, yard in enumerate(yards, start=1):
        state = f"<br>{safe(yard.summary)}" if yard.summary else ""
        picture = parts.mark_picture(yard.mark, size=30)
        mark = Mark(
            latitude=yard.latitude,
            longitude=yard.longitude,
            html=f'<span class="yard">{picture}</span>'
            f'<span class="tag">{safe(yard.name)}{state}</span>',
            size=34,
            label=f"Yard {yard.name}",
        )
        ShownFromPage(f"yard-{number}").add_to(mark)
        mark.add_to(group)
    return group


def _spot_layer(spots: Sequence[Spot]) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name="Chosen spots")
    for spot in reversed(spots):
        look, tag = ("", "") if spot.allowed else (" ask", '<span class="tag">ask first</span>')
        mark = Mark(
            latitude=spot.latitude,
            longitude=spot.longitude,
            html=f'<span class="spot{look}">{spot.rank}</span>{tag}',
            size=36,
            label=f"Spot {spot.rank}: {spot.site}" + ("" if spot.allowed else ", ask first"),
            in_front=True,
        )
        ShownFromPage(f"spot-{spot.rank}").add_to(mark)
        mark.add_to(group)
    return group


def _page(
    scene: Scene,
    land: Land | None,
    *,
    script: str,
    title: str,
    made_on: date,
    thanks: Sequence[str],
) -> str:
    ours = resources.files("swarmwatch.mapping")
    style = leaflet_style() + (ours / "page.css").read_text(encoding="utf-8")
    labels = (ours / "labels.js").read_text(encoding="utf-8")
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta http-equiv="Content-Security-Policy" content="{_DOOR}">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{safe(title)}</title>
<style>{style}</style>
</head>
<body>
{_HATCH}
<header>
<h1>{safe(title)}</h1>
<p class="lead">Made on {made_on.isoformat()}. {safe(scene.together)} {safe(SHORT)}</p>
</header>
<div id="map" role="region" aria-label="Map; the lists below say the same in words"></div>
<noscript><p>The map needs script. The lists below say the same.</p></noscript>
{_words(scene, land)}
<footer>{parts.credit_lines(thanks)}
<p>Map drawn with Leaflet 1.9.4, (c) 2010-2023 Volodymyr Agafonkin, (c) 2010-2011 CloudMade,
BSD 2-Clause License.</p></footer>
<script>{leaflet_script()}</script>
<script>{script}</script>
<script>{labels}</script>
</body>
</html>
"""


def _words(scene: Scene, land: Land | None) -> str:
    marks = [y.mark for y in scene.yards]
    key = parts.legend(scene, land)
    scored = any(m is not NOT_SCORED for m in marks)
    origins = [parts.origin_line(i, o) for i, o in enumerate(scene.origins, start=1)]
    more = len(origins) - _LISTED_ORIGINS
    further = [f"<li>and {more} smaller ones, drawn on the map</li>"] if more > 0 else []
    sections = [
        ("Chosen spots", "cards", [parts.spot_card(s) for s in scene.spots]),
        (
            "Yards and what the colonies may do" if scored else "Yards",
            "cards",
            [parts.yard_card(i, y) for i, y in enumerate(scene.yards, start=1)],
        ),
        ("Where swarms come from", "plain", origins[:_LISTED_ORIGINS] + further),
        (
            "Bait boxes that hang",
            "plain",
            parts.place_lines("hanging", [p for p in scene.places if p.hanging]),
        ),
        (
            "Places not chosen",
            "plain",
            parts.place_lines("place", [p for p in scene.places if not p.hanging]),
        ),
    ]
    lists = [
        f'<h2>{heading}</h2><{tag} class="{look}">{"".join(items)}</{tag}>'
        for heading, look, items in sections
        if items
        for tag in ("ol" if heading == "Chosen spots" else "ul",)
    ]
    return (
        f"<main>{lists[0] if scene.spots else '<p>No spot was chosen.</p>'}"
        f"<h2>What the map shows</h2>{key}"
        f"{''.join(lists[1:] if scene.spots else lists)}"
        f"<h2>Safety</h2>{parts.safety()}</main>"
    )
