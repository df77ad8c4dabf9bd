"""Land as a file: what is written is what is read again."""

import json

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from data_sources.land.features import OSM_CREDIT, Feature, joined, land_features
from data_sources.land.files import read_land_file
from data_sources.land.kinds import FACTS, KINDS
from data_sources.land.writing import land_geojson

degrees = st.floats(-80, 80, allow_nan=False).map(lambda v: round(v, 7))
points = st.builds(shapely.Point, degrees, degrees)
words = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=12)
# blank text and blanks at the ends are no facts that a map would bear
telling = words.filter(lambda w: w.strip() == w and w != "")


def land_of(*features, credit=OSM_CREDIT, notes=()):
    made = [Feature(kind=k, geometry=g, name=n, facts=f) for k, g, n, f in features]
    return land_features(made, credit=credit, where="a test", notes=notes)


@given(st.lists(st.tuples(st.sampled_from(KINDS), points, words, st.dictionaries(
    st.sampled_from(FACTS), telling, max_size=2)), min_size=1, max_size=4))  # fmt: skip
def test_kind_name_facts_place_and_credit_come_back(tmp_path_factory, features):
    path = tmp_path_factory.mktemp("land") / "land.geojson"
    land = land_of(*features)
    path.write_text(land_geojson(land), encoding="utf-8")
    again = read_land_file(path)
    assert again.credit == land.credit
    for column in ("kind", "name", "facts"):
        assert again.table[column].tolist() == land.table[column].tolist()
    assert shapely.equals_exact(
        again.table.geometry.to_numpy(), land.table.geometry.to_numpy(), tolerance=1e-7
    ).all()


def test_it_is_geojson_with_longitude_first():
    text = land_geojson(land_of(("tree", shapely.Point(24.94, 60.17), "", {})))
    document = json.loads(text)
    assert document["attribution"] == OSM_CREDIT
    (feature,) = document["features"]
    assert feature["properties"] == {"kind": "tree"}
    assert feature["geometry"]["coordinates"] == pytest.approx([24.94, 60.17], abs=1e-7)


def test_of_two_answers_what_both_hold_stands_once():
    tree, other = shapely.Point(24.94, 60.17), shapely.Point(24.95, 60.17)
    one = land_of(("tree", tree, "lime", {}), notes=["cut: 1"])
    two = land_of(("tree", tree, "lime", {}), ("tree", other, "lime", {}), notes=["cut: 1"])
    both = joined([one, two])
    assert both.table.geometry.x.tolist() == [24.94, 24.95]
    assert (both.credit, both.notes) == (OSM_CREDIT, ("cut: 1",))


def test_credits_of_several_makers_are_all_named():
    tree = ("tree", shapely.Point(24.94, 60.17), "", {})
    assert joined([land_of(tree, credit="A"), land_of(tree, credit="B")]).credit == "A; B"
