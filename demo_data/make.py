"""Write the invented scenario anew: ``python -m demo_data.make [FOLDER]``.

The same files come out on every machine: the draws are seeded, every figure is rounded, lines end
in a plain newline.
"""

import csv
import json
import sys
from collections.abc import Iterable
from io import StringIO
from pathlib import Path

import numpy as np

from demo_data import LAND_FILE, ON, folder, ground, skies, spots, yards
from swarmwatch.tables import TABLES

SEED = 5_2026


def contents() -> dict[str, str]:
    """Return the text of every file by its name."""
    tables = {
        "apiaries": yards.apiaries(),
        "hives": yards.hives(),
        "colonies": yards.colonies(),
        "inspections": yards.inspections(np.random.default_rng([SEED, 1])),
        "events": yards.events(),
        "outcomes": yards.outcomes(),
        "weather": skies.weather(np.random.default_rng([SEED, 2]), on=ON),
        "sources": spots.sources(),
        "sites": spots.sites(),
        "boxes": spots.boxes(),
        "hangings": spots.hangings(),
        "checks": spots.checks(),
        "catches": spots.catches(),
    }
    texts = {f"{name}.csv": _as_csv(name, rows) for name, rows in tables.items()}
    texts["keep_out.geojson"] = _as_geojson(ground.keep_out())
    texts[LAND_FILE] = _as_geojson(ground.land(np.random.default_rng([SEED, 3])))
    return texts


def write(into: Path) -> list[Path]:
    """Write every file into the folder `into`; return their paths."""
    into.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, text in contents().items():
        path = into / name
        path.write_text(text, encoding="utf-8", newline="\n")
        paths.append(path)
    return paths


def _as_csv(name: str, rows: Iterable[dict[str, object]]) -> str:
    """Write the columns that anyone filled, in the order of the contract."""
    rows = list(rows)
    used = {key for row in rows for key, value in row.items() if _cell(value)}
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    columns = [
        column.name for column in TABLES[name].columns if column.required or column.name in used
    ]
    writer.writerow(columns)
    writer.writerows([_cell(row.get(column)) for column in columns] for row in rows)
    return text.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _as_geojson(features: Iterable[dict[str, object]]) -> str:
    """Write one feature a line, so that a change can be read."""
    head = {"type": "FeatureCollection", "attribution": "an invented scenario"}
    lines = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in features)
    return f'{json.dumps(head)[:-1]}, "features": [\n{lines}\n]}}\n'


if __name__ == "__main__":
    for written in write(Path(sys.argv[1]) if len(sys.argv) > 1 else folder()):
        print(written)  # noqa: T201 - a script run by hand
