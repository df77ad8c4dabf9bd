"""The query service: what is asked, how its answer is read, and its own ways to fail.

The answer has the service's shape, as its documents tell it; every value is invented.
"""

import copy
import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data_sources.errors import SourceError, SourceMalformed, SourceUnavailable
from data_sources.land.features import COLUMNS, OSM_CREDIT
from data_sources.land.overpass import fetch_overpass, overpass_query, read_overpass

PLACE = {"latitude": 51.49876, "longitude": -0.12345, "radius_m": 1480}


def at(lat, lon):
    return {"lat": lat, "lon": lon}


def way(tags, *points):
    return {"type": "way", "id": 23, "tags": tags, "geometry": list(points)}


ANSWER = {
    "version": 0.6,
    "generator": "invented",
    "osm3s": {"timestamp_osm_base": "2026-04-01T00:00:00Z", "copyright": "ODbL"},
    "elements": [
        {"type": "node", **at(51.499, -0.121), "tags": {"natural": "tree", "height": "12"}},
        way({"natural": "tree_row"}, at(51.499, -0.121), at(51.498, -0.119)),
        way({"building": "yes"}, at(51.5, -0.12), at(51.5, -0.119), at(51.501, -0.119),
            at(51.5, -0.12)),
        {
            "type": "relation",
            "id": 30,
            "tags": {"type": "multipolygon", "natural": "wood"},
            "members": [
                {"type": "way", "ref": 20, "role": "outer",
                 "geometry": [at(51.50, -0.12), at(51.50, -0.11), at(51.51, -0.11)]},
                {"type": "way", "ref": 21, "role": "outer",
                 "geometry": [at(51.51, -0.11), at(51.51, -0.12), at(51.50, -0.12)]},
                {"type": "way", "ref": 22, "role": "inner",
                 "geometry": [at(51.504, -0.116), at(51.504, -0.114), at(51.506, -0.114),
                              at(51.506, -0.116), at(51.504, -0.116)]},
            ],
        },
    ],
}  # fmt: skip


def one(element):
    return read_overpass({"elements": [element]})


def test_the_query_holds_the_rounded_place_and_a_wider_radius():
    query = overpass_query(**PLACE)
    assert "(around:1600,51.499,-0.123);" in query
    assert "51.49876" not in query
    assert query.startswith("[out:json][timeout:60];")
    assert query.endswith("out geom;")


@pytest.mark.parametrize(
    "wrong",
    [{"latitude": 91}, {"longitude": 181}, {"radius_m": 0}, {"radius_m": 20_000},
     {"latitude": float("nan")}, {"radius_m": float("inf")}],
)  # fmt: skip
def test_a_place_or_radius_that_cannot_be_is_refused(wrong):
    with pytest.raises(SourceError, match="Mend it"):
        overpass_query(**{**PLACE, **wrong})


def test_an_answer_is_read_with_shapes_facts_and_credit():
    land = read_overpass(ANSWER)
    table = land.table.set_index("kind")
    assert tuple(land.table.columns) == COLUMNS
    assert land.credit == OSM_CREDIT
    assert table.loc["tree", "facts"] == {"height": "12"}
    assert table.loc["tree-row"].geometry.geom_type == "LineString"
    assert table.loc["building"].geometry.geom_type == "Polygon"
    assert table.loc["wood"].geometry.area == pytest.approx(0.01**2 - 0.002**2)


def test_an_answer_that_was_given_up_on_is_refused_whole():
    remark = 'runtime error: Query timed out in "query" at line 3 after 61 seconds.\x1b[31m'
    with pytest.raises(SourceMalformed, match="gave up part of the way") as caught:
        read_overpass({**ANSWER, "remark": remark})
    assert "smaller radius" in str(caught.value)
    assert "\x1b" not in str(caught.value)


def test_a_line_is_split_where_points_are_null():
    land = one(way({"barrier": "hedge"}, at(51.1, 0), at(51.2, 0), None, at(51.4, 0), at(51.5, 0)))
    assert land.table.geometry.iloc[0].geom_type == "MultiLineString"
    assert land.table.geometry.iloc[0].length == pytest.approx(0.2)
    assert land.notes == ("Things that reach beyond the asked ground and were cut there: 1.",)


def test_an_area_with_null_points_is_closed_and_told():
    land = one(way({"landuse": "forest"}, at(51.1, 0), at(51.1, 1), None, at(51.2, 1),
                   at(51.2, 0), at(51.1, 0)))  # fmt: skip
    assert land.table.geometry.iloc[0].area == pytest.approx(0.1)
    assert "were cut there: 1" in land.notes[0]


@pytest.mark.parametrize(
    "element",
    [
        {"type": "node", "lat": None, "lon": 1.0, "tags": {"natural": "tree"}},
        {"type": "node", "lat": "51", "lon": 1.0, "tags": {"natural": "tree"}},
        {"type": "node", "lat": 10**400, "lon": 1.0, "tags": {"natural": "tree"}},
        {"type": "way", "tags": {"barrier": "hedge"}},
        {"type": "way", "tags": {"barrier": "hedge"}, "geometry": [None, None]},
        {"type": "relation", "tags": {"natural": "wood"}, "members": "none"},
    ],
)
def test_a_thing_without_a_usable_shape_is_left_out_and_told(element):
    land = one(element)
    assert len(land.table) == 0
    assert land.notes == ("Things sent without a usable shape, left out: 1.",)


@pytest.mark.parametrize("payload", [[], "x", None, {}, {"elements": None}, {"elements": [1]}])
def test_another_shape_is_refused(payload):
    with pytest.raises(SourceMalformed, match="Try again later"):
        read_overpass(payload)


def test_an_answer_in_metres_is_refused():
    with pytest.raises(SourceMalformed, match="looks like metres"):
        one({"type": "node", **at(6_672_000, 385_000), "tags": {"natural": "tree"}})


def test_a_closed_row_of_trees_stays_a_line():
    ring = [at(51.1, 0), at(51.1, 0.1), at(51.2, 0.1), at(51.1, 0)]
    assert one(way({"natural": "tree_row"}, *ring)).table.geometry.iloc[0].geom_type == "LineString"


def test_the_service_is_asked_once_and_kept(server, quick):
    server.payload = ANSWER
    session = quick()
    for _ in range(2):
        fetched = fetch_overpass(session, **PLACE, base_url=server.url)
    assert len(fetched.features.table) == 4
    assert fetched.notice == ""
    assert len(server.calls) == 1
    assert server.calls[0]["data"] == [overpass_query(**PLACE)]


def test_a_partial_answer_is_not_kept_over_a_good_one(server, quick):
    server.payload = {**ANSWER, "remark": "runtime error: Query run out of memory"}
    with pytest.raises(SourceMalformed, match="gave up part of the way"):
        fetch_overpass(quick(), **PLACE, base_url=server.url)
    server.payload = ANSWER
    assert len(fetch_overpass(quick(), **PLACE, base_url=server.url).features.table) == 4


@pytest.mark.parametrize("mode", ["error-500", "limit-429", "html-200", "truncated", "reset"])
def test_a_service_that_fails_is_one_own_error(server, quick, mode):
    server.mode = mode
    with pytest.raises((SourceUnavailable, SourceMalformed), match="Overpass"):
        fetch_overpass(quick(), **PLACE, base_url=server.url)


def spots(node, path=()):
    """List the paths of all cells of a JSON document."""
    found = [path]
    inner = (
        node.items()
        if isinstance(node, dict)
        else enumerate(node)
        if isinstance(node, list)
        else ()
    )
    for key, value in inner:
        found += spots(value, (*path, key))
    return found


CELLS = [p for p in spots(ANSWER) if p]
junk = st.sampled_from(
    [None, "", "x", -1, 1e308, float("nan"), 10**400, [], {}, [None], True, {"a": 1}]
)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.lists(st.tuples(st.sampled_from(CELLS), junk), min_size=1, max_size=3))
def test_a_damaged_answer_gives_a_sound_table_or_an_own_error(damages):
    payload = copy.deepcopy(ANSWER)
    for path, value in damages:
        node = payload
        try:
            for key in path[:-1]:
                node = node[key]
            node[path[-1]] = copy.deepcopy(value)
        except (KeyError, IndexError, TypeError):
            continue
    try:
        land = read_overpass(payload)
    except SourceError:
        return
    assert tuple(land.table.columns) == COLUMNS
    assert land.table.geometry.is_valid.all()
    json.dumps(land.table["facts"].tolist())
