"""How does what lies near a place become a file that `read_land_file` reads again?"""

import json

import numpy as np
import shapely

from data_sources.land.features import LandFeatures

_DECIMALS = 7  # of a degree, a centimetre, as OpenStreetMap has them


def land_geojson(land: LandFeatures) -> str:
    """Write features as GeoJSON (RFC 7946): kind, name and facts are properties.

    The credit is a member `attribution` of the collection, where `read_land_file` finds it.
    """
    shapes = shapely.transform(land.table.geometry.to_numpy(), lambda xy: np.round(xy, _DECIMALS))
    lines = []
    for row, shape in zip(land.table.itertuples(), shapely.to_geojson(shapes), strict=True):
        own = {**row.facts, "kind": row.kind, **({"name": row.name} if row.name else {})}
        said = json.dumps(own, ensure_ascii=False)
        lines.append(f'{{"type":"Feature","properties":{said},"geometry":{shape}}}')
    credit = json.dumps(land.credit, ensure_ascii=False)
    body = ",\n".join(lines)
    return f'{{"type":"FeatureCollection","attribution":{credit},"features":[\n{body}\n]}}\n'
