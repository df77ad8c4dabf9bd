"""The interactive map: one file that opens anywhere, with no network."""

from collections.abc import Iterable, Sequence
from datetime import date
from importlib import resources

import pandas as pd

from swarmwatch.evidence import Evidence, load_evidence
from swarmwatch.mapping import page_parts as parts
from swarmwatch.mapping.catch_share import Band, share_bands
from swarmwatch.mapping.elements import leaflet_script, leaflet_style, script_of
from swarmwatch.mapping.escaping import safe
from swarmwatch.mapping.land import Land
from swarmwatch.mapping.levels import NOT_SCORED
from swarmwatch.mapping.page_layers import LISTED_ORIGINS, drawing_of
from swarmwatch.mapping.safety import SHORT
from swarmwatch.mapping.scene import Scene, read_scene

_DOOR = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:"
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
    evidence: Evidence | None = None,
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
    evidence
        The numbers behind the bands of catch share; the shipped ones if None.

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
    bands = share_bands(
        scene.origins,
        bounds=scene.bounds,
        grid=scene.grid,
        marks=scene.marks,
        evidence=load_evidence() if evidence is None else evidence,
    )
    thanks = [*credits, *([land.attribution] if land else [])]
    script = script_of(drawing_of(scene, land, bands), name="map")
    return _page(scene, land, bands, script=script, title=title, made_on=made_on, thanks=thanks)


def _page(
    scene: Scene,
    land: Land | None,
    bands: Sequence[Band],
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
{_words(scene, land, bands)}
<footer>{parts.credit_lines(thanks)}
<p>Map drawn with Leaflet 1.9.4, (c) 2010-2023 Volodymyr Agafonkin, (c) 2010-2011 CloudMade,
BSD 2-Clause License.</p></footer>
<script>{leaflet_script()}</script>
<script>{script}</script>
<script>{labels}</script>
</body>
</html>
"""


def _words(scene: Scene, land: Land | None, bands: Sequence[Band]) -> str:
    marks = [y.mark for y in scene.yards]
    key = parts.legend(scene, land, bands)
    scored = any(m is not NOT_SCORED for m in marks)
    origins = [parts.origin_line(i, o) for i, o in enumerate(scene.origins, start=1)]
    more = len(origins) - LISTED_ORIGINS
    further = [f"<li>and {more} smaller ones, drawn on the map</li>"] if more > 0 else []
    sections = [
        ("Chosen spots", "cards", [parts.spot_card(s) for s in scene.spots]),
        (
            "Yards and what the colonies may do" if scored else "Yards",
            "cards",
            [parts.yard_card(i, y) for i, y in enumerate(scene.yards, start=1)],
        ),
        ("Where swarms come from", "plain", origins[:LISTED_ORIGINS] + further),
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
        f"{parts.walk_section(scene)}<h2>What the map shows</h2>{key}"
        f"{''.join(lists[1:] if scene.spots else lists)}"
        f"<h2>Safety</h2>{parts.safety()}</main>"
    )
