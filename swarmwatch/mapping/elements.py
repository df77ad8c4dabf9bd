"""The parts that folium lacks: marks without pictures, popups without jQuery, stable names."""

import re
from base64 import b64encode
from pathlib import Path

import folium
from branca.element import Element, Figure, MacroElement
from folium.template import Template

from swarmwatch.mapping.escaping import script_text

_LEAFLET = Path(__file__).parent / "leaflet"
_IMAGE_TYPE = "image/png"
_REMARK = re.compile(r"/\*.*?\*/", re.DOTALL)


class Mark(MacroElement):
    """A point mark drawn by our own HTML, reachable by keyboard.

    folium's marker first makes Leaflet's default one, which fetches two pictures from beside the
    file. All text reaches the script as JSON, never inside a template string.

    Parameters
    ----------
    latitude, longitude
        Place, WGS 84 [degrees].
    html
        The mark; names in it have gone through `safe`.
    size
        Width and height [px]; the place is at the middle.
    label
        Plain text that a pointer or a screen reader gets.
    in_front
        Draw it above marks without.
    """

    _template = Template(
        """
        {% macro script(this, kwargs) %}
        var {{ this.get_name() }} = L.marker({{ this.place|tojson }}, {
            icon: L.divIcon({html: {{ this.html|tojson }}, className: "mark",
                             iconSize: {{ this.size|tojson }}}),
            title: {{ this.label }},
            zIndexOffset: {{ this.lift|tojson }}
        }).addTo({{ this._parent.get_name() }});
        {% endmacro %}
        """
    )

    def __init__(
        self,
        *,
        latitude: float,
        longitude: float,
        html: str,
        size: int,
        label: str,
        in_front: bool = False,
    ) -> None:
        super().__init__()  # type: ignore[no-untyped-call] # branca's has no types
        self._name = "Mark"
        self.place = [round(latitude, 6), round(longitude, 6)]
        self.html = html
        self.size = [size, size]
        self.label = script_text(label)
        self.lift = 1000 if in_front else 0


class Word(MacroElement):
    """A word on the map that is no mark: neither pointer nor keyboard stops at it.

    Parameters
    ----------
    latitude, longitude
        Place, WGS 84 [degrees].
    html
        The word; what a keeper typed has gone through `safe`.
    """

    _template = Template(
        """
        {% macro script(this, kwargs) %}
        L.marker({{ this.place|tojson }}, {
            icon: L.divIcon({html: {{ this.html|tojson }}, className: "word", iconSize: [0, 0]}),
            interactive: false, keyboard: false, zIndexOffset: -1000
        }).addTo({{ this._parent.get_name() }});
        {% endmacro %}
        """
    )

    def __init__(self, *, latitude: float, longitude: float, html: str) -> None:
        super().__init__()  # type: ignore[no-untyped-call] # branca's has no types
        self._name = "Word"
        self.place = [round(latitude, 6), round(longitude, 6)]
        self.html = html


class ShownFromPage(MacroElement):
    """A popup that shows a part of the page again: no second copy of the text, no jQuery."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
        {{ this._parent.get_name() }}.bindPopup(function () {
            var copy = document.getElementById({{ this.part|tojson }}).cloneNode(true);
            copy.removeAttribute("id");
            return copy;
        }, {maxWidth: 270, maxHeight: 300, autoPanPadding: [8, 8]});
        {% endmacro %}
        """
    )

    def __init__(self, part: str) -> None:
        super().__init__()  # type: ignore[no-untyped-call] # branca's has no types
        self._name = "ShownFromPage"
        self.part = part


def script_of(drawing: folium.Map, *, name: str) -> str:
    """Return the script that builds `drawing`, in the page's element called `name`.

    folium names every element at random; numbered in order, two builds are equal to the byte.
    """
    figure = drawing.get_root()
    assert isinstance(figure, Figure)  # noqa: S101 - a map is born inside one
    for number, element in enumerate(_all_below(drawing), start=1):
        element._id = str(number)
    figure.render()
    script: str = figure.script.render()
    return script.replace(drawing.get_name(), name)


def _all_below(element: Element) -> list[Element]:
    children = list(element._children.values())
    return [element, *(e for child in children for e in _all_below(child))]


def leaflet_script() -> str:
    """Return Leaflet's script, fit to stand inside a page."""
    text = (_LEAFLET / "leaflet.js").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("//# sourceMappingURL")]
    return "\n".join(lines).replace("</script", "<\\/script")


def leaflet_style() -> str:
    """Return Leaflet's style sheet with its pictures inside and its remarks left out."""
    text = _REMARK.sub("", (_LEAFLET / "leaflet.css").read_text(encoding="utf-8"))
    for picture in sorted((_LEAFLET / "images").iterdir()):
        data = b64encode(picture.read_bytes()).decode("ascii")
        text = text.replace(f"images/{picture.name}", f"data:{_IMAGE_TYPE};base64,{data}")
    return text
