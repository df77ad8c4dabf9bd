"""The words of the map page: lists that say all the map says, legend, safety, credits."""

import re
from collections.abc import Iterable, Sequence

from swarmwatch.mapping.catch_share import Band
from swarmwatch.mapping.escaping import safe
from swarmwatch.mapping.land import Land
from swarmwatch.mapping.levels import BLACK, MARKS, NOT_SCORED, PURPLE, Mark
from swarmwatch.mapping.safety import ground_checks, safety_lines
from swarmwatch.mapping.scene import Place, Scene
from swarmwatch.mapping.spots import Spot
from swarmwatch.mapping.walk import walk_steps, walk_total
from swarmwatch.mapping.yards import Origin, Yard

# hostile text is escaped before; what is left that fits this is an address and nothing else
_ORIGIN_KEY = (
    '<svg width="28" height="28" aria-hidden="true"><circle cx="14" cy="14" r="12" '
    f'fill="{PURPLE}" fill-opacity="0.35" stroke="#8a3f6b" stroke-width="2"/></svg>'
)
BAND_COLOUR, BAND_LINE = "#E69F00", "#8a5f00"
_BAND_OPACITY = (0.05, 0.45)
_BAND_WORDS = (
    "<p>Catch share: how much of a swarm a bait box with lure would take there, were it the only "
    "one; the mean over the places that swarms leave from, by their numbers. A model's guess: only "
    "its pattern is worth much.</p>"
)
_WALK_KEY = (
    '<svg width="34" height="20" aria-hidden="true"><line x1="1" y1="10" x2="33" y2="10" '
    'stroke="#000" stroke-width="2.5" stroke-dasharray="1 6" stroke-linecap="round"/></svg>'
)
_ADDRESS = re.compile(r"https://[A-Za-z0-9][A-Za-z0-9.-]*(?:/[A-Za-z0-9._~/-]*)?")


def spot_card(spot: Spot) -> str:
    """Return one spot as a list item; the map's popup shows the same."""
    rows = [
        ("Permission", _asked(spot)),
        ("Owner", safe(spot.owner)),
        ("Bait box", safe(spot.box)),
        ("Height", safe(spot.height)),
        ("Entrance", safe(spot.facing)),
        ("Expected", spot.expected and f"{safe(spot.expected)} swarms a season"),
        ("Chance", spot.chance and f"{safe(spot.chance)} for one or more"),
        ("Swarms from", safe(spot.nearest)),
        ("Why", _bullets((*spot.because, *spot.steadiness))),
        ("Note", safe(spot.note)),
        ("Place", f"{spot.latitude:.5f}, {spot.longitude:.5f}"),
    ]
    body = "".join(f"<dt>{name}</dt><dd>{text}</dd>" for name, text in rows if text)
    minded = f'<div class="warning"><strong>Mind</strong>{_bullets(spot.warnings)}</div>'
    return (
        f'<li class="card"><div id="spot-{spot.rank}"><h3>{spot.rank}. {safe(spot.site)}</h3>'
        f"<dl>{body}</dl>{minded if spot.warnings else ''}</div></li>"
    )


def _asked(spot: Spot) -> str:
    text = safe(spot.permission)
    return text if spot.allowed else f'<span class="ask-first">{text}</span>'


def _bullets(parts: Sequence[str]) -> str:
    if not parts:
        return ""
    return f"<ul>{''.join(f'<li>{safe(part)}</li>' for part in parts)}</ul>"


def yard_card(number: int, yard: Yard) -> str:
    """Return one yard with its colonies, most urgent first."""
    lines = "".join(
        f"<li><strong>{safe(c.name)}</strong>: {c.mark.word}"
        f"{_after(', ', c.chance)}{_after('; ', c.advice)}</li>"
        for c in yard.colonies
    )
    return (
        f'<li class="card"><div id="yard-{number}"><h3>{safe(yard.name)}</h3>'
        f"{f'<ul>{lines}</ul>' if lines else '<p>No scores on this map.</p>'}"
        f"{f'<p>{safe(yard.note)}</p>' if yard.note else ''}</div></li>"
    )


def _after(lead: str, text: str) -> str:
    return f"{lead}{safe(text)}" if text else ""


def origin_line(number: int, origin: Origin) -> str:
    """Return one place that swarms leave from."""
    return (
        f'<li><div id="origin-{number}"><strong>{safe(origin.name)}</strong>: '
        f"{safe(origin.expected)} swarms expected a season</div></li>"
    )


def place_lines(part: str, places: Iterable[Place]) -> list[str]:
    """Return the places that are no chosen spot, each with why."""
    return [
        f'<li><div id="{part}-{number}"><strong>{safe(place.site)}</strong>: '
        f"{safe(place.state)}</div></li>"
        for number, place in enumerate(places, start=1)
    ]


def mark_picture(mark: Mark, size: int = 26) -> str:
    """Return a level's mark as inline SVG."""
    if mark.corners:
        points = " ".join(f"{12 + 10 * x:.1f},{12 - 10 * y:.1f}" for x, y in mark.corners)
        body = f'<polygon points="{points}"'
    else:
        body = '<circle cx="12" cy="12" r="9.5"'
    return (
        f'<svg width="{size}" height="{size}" viewBox="0 0 24 24" aria-hidden="true">'
        f'{body} fill="{mark.colour}" stroke="{BLACK}" stroke-width="2"/></svg>'
    )


def walk_section(scene: Scene) -> str:
    """Return the walking order with its legs, "" where there is none."""
    if scene.walk is None:
        return ""
    steps = "".join(f"<li>{safe(step)}</li>" for step in walk_steps(scene.walk, scene.spots))
    return (
        f"<h2>Walking order</h2><p>From {safe(scene.walk.start)}: {safe(walk_total(scene.walk))}"
        f'</p><ol class="walk">{steps}</ol><p>{safe(ground_checks())}</p>'
    )


def band_opacity(number: int, count: int) -> float:
    """Return how dark the band `number` of `count` is, 0 the lowest: its land shows through."""
    least, most = _BAND_OPACITY
    return round(least + (most - least) * (number + 1) / count, 2)


def legend(scene: Scene, land: Land | None, bands: Sequence[Band] = ()) -> str:
    """Return the legend in words: only what this map shows."""
    entries = [
        *(
            [('<span class="spot">1</span>', "chosen spot, 1 is the best")]
            if any(s.allowed for s in scene.spots)
            else []
        ),
        *(
            [('<span class="spot ask">2</span>', "chosen spot, ask first")]
            if not all(s.allowed for s in scene.spots)
            else []
        ),
        *_place_keys(scene),
        *_level_keys(scene),
    ]
    if scene.origins:
        words = "swarms leave from here; the larger, the more are expected"
        entries.append((_ORIGIN_KEY, words))
    for number, band in enumerate(bands):
        look = f'fill="{BAND_COLOUR}" fill-opacity="{band_opacity(number, len(bands))}"'
        entries.append((_box(f'{look} stroke="{BAND_LINE}"'), f"catch share {band.words}"))
    if scene.walk:
        entries.append((_WALK_KEY, "walking order, straight lines"))
    if scene.barred:
        look = 'class="keep-out" stroke="#7a2e00" stroke-dasharray="5 3"'
        entries.append((_box(look), "keep out: no box"))
    for style, _ in land.by_style() if land else ():
        entries.append((_land_key(style.fill, style.line, style.width, style.dashes), style.word))
    items = "".join(f'<li><span class="key">{key}</span>{word}</li>' for key, word in entries)
    return f'<ul class="legend">{items}</ul>' + (_BAND_WORDS if bands else "")


def _place_keys(scene: Scene) -> list[tuple[str, str]]:
    kinds = {p.hanging for p in scene.places}
    hanging = ('<span class="hanging"></span>', "a bait box hangs here")
    other = ('<span class="place"></span>', "place considered, not chosen")
    return [*([hanging] if True in kinds else []), *([other] if False in kinds else [])]


def _level_keys(scene: Scene) -> list[tuple[str, str]]:
    seen = {y.mark for y in scene.yards}
    return [
        (mark_picture(m), "yard" if m is NOT_SCORED else f"yard, most urgent: {m.word}")
        for m in (*MARKS.values(), NOT_SCORED)
        if m in seen
    ]


def _box(look: str) -> str:
    return (
        '<svg width="34" height="20" aria-hidden="true">'
        f'<rect x="1" y="1" width="32" height="18" {look}/></svg>'
    )


def _land_key(fill: str, line: str, width: float, dashes: tuple[int, ...]) -> str:
    dashed = f' stroke-dasharray="{" ".join(map(str, dashes))}"' if dashes else ""
    look = f'stroke="{line}" stroke-width="{width}"{dashed}'
    if fill != "none":
        return _box(f'fill="{fill}" {look}')
    return (
        '<svg width="34" height="20" aria-hidden="true">'
        f'<line x1="1" y1="10" x2="33" y2="10" {look}/></svg>'
    )


def safety() -> str:
    """Return the safety lines."""
    rows = "".join(f"<dt>{safe(h)}</dt><dd>{safe(t)}</dd>" for h, t in safety_lines())
    return f'<dl class="safety">{rows}</dl>'


def credit_lines(credits_: Iterable[str]) -> str:
    """Return whom to thank, with addresses as links."""
    return "".join(f"<p>{_linked(safe(line))}</p>" for line in credits_ if line)


def _linked(escaped: str) -> str:
    return _ADDRESS.sub(lambda m: f'<a href="{m[0]}" rel="noreferrer">{m[0]}</a>', escaped)
