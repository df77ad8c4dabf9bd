"""The layers of the interactive map, each of which can be switched off."""

from collections.abc import Sequence

import folium
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from swarmwatch.mapping import page_parts as parts
from swarmwatch.mapping.catch_share import Band
from swarmwatch.mapping.elements import Mark, ShownFromPage, Word
from swarmwatch.mapping.escaping import safe
from swarmwatch.mapping.keep_out import Barred
from swarmwatch.mapping.land import Land, LandStyle
from swarmwatch.mapping.levels import PURPLE
from swarmwatch.mapping.scene import Place, Scene
from swarmwatch.mapping.spots import Spot
from swarmwatch.mapping.walk import Walk
from swarmwatch.mapping.yards import Origin, Yard

LISTED_ORIGINS = 12
# Leaflet draws tiles at 200 and shapes at 400
_LAND_HEIGHT, _BANDS_HEIGHT = 350, 370
_DECIMALS = 6
_BAND_DECIMALS = 5  # the bands are a model's, not a survey's
_DOT_PX = 3  # radius of a tree or mast
_RADIUS_PX = 14  # of the circle for one swarm a season; its area grows with the number
_RADIUS_LEAST_PX, _RADIUS_MOST_PX = 5, 44


def drawing_of(scene: Scene, land: Land | None, bands: Sequence[Band]) -> folium.Map:
    """Return the map with all its layers."""
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
    if bands:
        folium.map.CustomPane("bands", z_index=_BANDS_HEIGHT).add_to(drawing)
        _band_layer(bands).add_to(drawing)
    if scene.barred:
        _barred_layer(scene.barred).add_to(drawing)
    _origin_layer(scene.origins).add_to(drawing)
    if scene.walk:
        _walk_layer(scene.walk, scene.spots).add_to(drawing)
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
            # a point is a picture unless told, and the page holds none
            marker=_dot(),
            style_function=_constant(_land_look(style)),
            interactive=False,
            pane="land",
        ).add_to(group)
    return group


def _dot() -> folium.CircleMarker:
    dot = folium.CircleMarker(radius=_DOT_PX)
    dot.options["pane"] = "land"
    return dot


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


def _band_layer(bands: Sequence[Band]) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name="Catch share")
    for number, band in enumerate(bands):
        look = {
            "fillColor": parts.BAND_COLOUR,
            "fillOpacity": parts.band_opacity(number, len(bands)),
            "color": parts.BAND_LINE,
            "weight": 0.8,
            "interactive": False,
        }
        folium.GeoJson(
            _collection([band.area], decimals=_BAND_DECIMALS),
            style_function=_constant(look),
            interactive=False,
            pane="bands",
        ).add_to(group)
        for latitude, longitude in band.labels:
            html = f'<span class="share" data-band="{number}">{safe(band.words)}</span>'
            Word(latitude=latitude, longitude=longitude, html=html).add_to(group)
    return group


def _walk_layer(walk: Walk, spots: Sequence[Spot]) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name="Walking order")
    stops = [(walk.latitude, walk.longitude)]
    stops += [(spots[k].latitude, spots[k].longitude) for k in walk.order]
    line = [*stops, *(stops[:1] if walk.closed else [])]
    folium.PolyLine(  # type: ignore[no-untyped-call] # folium's has no types
        [[round(v, _DECIMALS) for v in stop] for stop in line],
        color="#000000",
        weight=2.5,
        dash_array="1 6",
        interactive=False,
    ).add_to(group)
    return group


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


def _collection(
    geometries: Sequence[BaseGeometry], *, decimals: int = _DECIMALS
) -> dict[str, object]:
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "id": str(i), "properties": {}, "geometry": _rounded(g, decimals)}
            for i, g in enumerate(geometries)
        ],
    }


def _rounded(geometry: BaseGeometry, decimals: int) -> object:
    def coarse(value: object) -> object:
        if isinstance(value, float | int):
            return round(value, decimals)
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
        if number <= LISTED_ORIGINS:
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
