"""One file with all forms for a yard that has no network: it keeps notes and gives back tables."""

import base64
import datetime as dt
import hashlib
from collections.abc import Mapping
from importlib import resources

import jinja2
import pandas as pd
from markupsafe import Markup

from swarmwatch.page.field_words import check_group, inspection_groups
from swarmwatch.records.inspecting import has_bars

FILE = "swarmwatch-form.html"


def form_file(
    templates: jinja2.Environment, frames: Mapping[str, pd.DataFrame], *, made_on: dt.date
) -> str:
    """Write the form file.

    Parameters
    ----------
    templates
        Of the page.
    frames
        The keeper's ``colonies``, ``hives`` and ``boxes``.
    made_on
        The day: a phone whose clock lies before it is told so.

    Returns
    -------
    The file: one HTML page with its own style and script that fetches nothing.
    """
    style, script = _text("page.css") + _text("form_file.css"), _text("form_file.js")
    return templates.get_template("form_file.html").render(
        made_on=made_on.isoformat(),
        policy=(
            f"default-src 'none'; script-src {_hash(script)}; style-src {_hash(style)}; "
            "img-src data:; base-uri 'none'; form-action 'none'"
        ),
        style=Markup(style),  # noqa: S704 - our own file
        script=Markup(script),  # noqa: S704 - our own file
        yards=_yards(frames["colonies"], frames["hives"]),
        boxes=[str(name) for name in frames["boxes"]["box"]],
        forms=(
            ("combs", "Colony", inspection_groups(bars=False)),
            ("bars", "Colony on bars", inspection_groups(bars=True)),
            ("check", "Bait box", (check_group(),)),
        ),
    )


def _text(name: str) -> str:
    return (resources.files("swarmwatch.page") / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def _yards(colonies: pd.DataFrame, hives: pd.DataFrame) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return each yard with its colonies, and whether each lives on bars or combs."""
    bars = {
        str(kind): has_bars(row, hives)
        for kind, row in colonies.drop_duplicates("hive_type")
        .set_index("hive_type", drop=False)
        .iterrows()
    }
    yards: dict[str, list[tuple[str, str]]] = {}
    for name, yard, kind in zip(
        colonies["colony"], colonies["apiary"], colonies["hive_type"], strict=True
    ):
        yards.setdefault(str(yard), []).append((str(name), "bars" if bars[kind] else "combs"))
    return sorted(yards.items())
