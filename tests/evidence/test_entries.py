import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swarmwatch.errors import EvidenceError
from swarmwatch.evidence import Entry, Evidence, load_evidence
from swarmwatch.evidence.loading import _entry

FIELDS = {
    "value": 2,
    "unit": "d",
    "low": 1,
    "high": 4,
    "distribution": "lognormal",
    "source": "a book",
    "grade": "from memory",
}
SHIPPED = load_evidence()
RATIOS = st.floats(0.2, 5)
DRAWN = sorted(k for k, e in SHIPPED.items() if e.distribution not in ("fixed", "uniform"))


def test_a_whole_entry_loads():
    assert _entry("a.b", FIELDS).value == 2


@pytest.mark.parametrize("field", FIELDS)
def test_a_missing_field_is_refused_by_name(field):
    short = {k: v for k, v in FIELDS.items() if k != field}
    with pytest.raises(EvidenceError, match=rf"a\.b: field {field} is missing"):
        _entry("a.b", short)


def test_all_faulty_fields_are_named_at_once():
    short = {k: v for k, v in FIELDS.items() if k not in ("unit", "grade")} | {"colour": "red"}
    with pytest.raises(EvidenceError, match=r"unit is missing.*grade is missing.*colour is not"):
        _entry("a.b", short)


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"unit": "furlong"}, "unit 'furlong' is not known"),
        ({"grade": "certain"}, "grade 'certain' is not known"),
        ({"distribution": "beta"}, "distribution 'beta' is not known"),
        ({"value": 5}, "value 5.0 is outside its own range 1.0 to 4.0"),
        ({"value": 0.5}, "outside its own range"),
        ({"low": 0}, "lognormal entry needs low above 0"),
        ({"distribution": "logit-normal"}, "needs 0 < low and high < 1"),
        ({"high": float("inf")}, "must be finite"),
        ({"value": "2"}, "Write a number"),
        ({"value": True}, "Write a number"),
        ({"source": " "}, "the source is blank"),
    ],
)
def test_a_faulty_entry_is_refused_with_the_reason(change, complaint):
    with pytest.raises(EvidenceError, match=complaint):
        _entry("a.b", FIELDS | change)


def test_every_shipped_file_loads():
    assert {"hives", "strength"} <= {k.partition(".")[0] for k in SHIPPED}


def test_an_unknown_key_is_refused():
    with pytest.raises(EvidenceError, match=r"strength\.nothing: no such entry"):
        SHIPPED["strength.nothing"]


def test_group_drops_the_subject():
    assert SHIPPED.group("strength")["adult_life_d"] == SHIPPED.value("strength.adult_life_d")


def test_changed_values_leave_the_first_evidence_as_it_was():
    SHIPPED.with_values({"strength.adult_life_d": 99})
    assert SHIPPED.value("strength.adult_life_d") == 35


def test_a_share_told_takes_its_range_along_on_the_scale_of_odds():
    key = "season.yearly_chance_inspected"
    before, after = SHIPPED[key], SHIPPED.with_values({key: 0.8})[key]
    for name in ("low", "value", "high"):
        odds = [getattr(e, name) / (1 - getattr(e, name)) for e in (before, after)]
        np.testing.assert_allclose(odds[1] / odds[0], 4 / (3 / 7), rtol=1e-12)


@given(st.sampled_from([k for k in SHIPPED if SHIPPED[k].distribution == "lognormal"]), RATIOS)
def test_a_lognormal_range_moves_along_in_proportion(key, ratio):
    before = SHIPPED[key]
    after = before.moved_to(before.value * ratio)
    np.testing.assert_allclose([after.low, after.high], np.array([before.low, before.high]) * ratio)


@given(st.sampled_from([k for k in SHIPPED if SHIPPED[k].distribution == "normal"]), RATIOS)
def test_a_normal_range_moves_along_by_the_same_step(key, step):
    before = SHIPPED[key]
    after = before.moved_to(before.value + step)
    moved = np.array([after.low - before.low, after.high - before.high])
    np.testing.assert_allclose(moved, step, rtol=1e-9, atol=1e-9)


def test_a_range_that_is_not_spread_about_its_value_widens():
    key = next(k for k in SHIPPED if SHIPPED[k].distribution == "uniform")
    before = SHIPPED[key]
    after = before.moved_to(before.high + 1)
    assert (after.low, after.value, after.high) == (before.low, before.high + 1, before.high + 1)


@pytest.mark.parametrize("share", [-0.2, 0, 1, 1.4])
def test_a_share_that_is_none_is_refused(share):
    with pytest.raises(EvidenceError, match="0 < low and high < 1"):
        SHIPPED.with_values({"season.yearly_chance_inspected": share})


def test_own_file_overrides_a_value_and_keeps_the_rest(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[strength.adult_life_d]\nvalue = 30\n", encoding="utf-8")
    entry = load_evidence(own)["strength.adult_life_d"]
    assert (entry.value, entry.unit) == (30, "d")
    np.testing.assert_allclose([entry.low, entry.high], np.array([25, 45]) * 30 / 35)


def test_own_range_stands_beside_its_value(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[strength.adult_life_d]\nvalue = 60\nlow = 50\n", encoding="utf-8")
    entry = load_evidence(own)["strength.adult_life_d"]
    assert entry.low == 50
    np.testing.assert_allclose(entry.high, 45 * 60 / 35)


def test_own_key_that_does_not_exist_is_refused(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("[strength.adult_live_d]\nvalue = 60\n", encoding="utf-8")
    with pytest.raises(EvidenceError, match="no such entry"):
        load_evidence(own)


def test_own_file_that_is_not_toml_is_refused_by_name(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("adult life = 30", encoding="utf-8")
    with pytest.raises(EvidenceError, match=r"own\.toml"):
        load_evidence(own)


def test_own_value_outside_a_tables_form_is_refused(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("adult_life_d = 30", encoding="utf-8")
    with pytest.raises(EvidenceError, match=r"Write \[subject\.entry\]"):
        load_evidence(own)


def test_own_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(EvidenceError, match=r"none\.toml.*Check the path"):
        load_evidence(tmp_path / "none.toml")


@pytest.mark.parametrize("key", DRAWN)
def test_a_drawn_entry_has_its_value_in_the_middle_and_its_range_at_10_and_90_percent(key):
    entry = SHIPPED[key]
    np.testing.assert_allclose(
        entry.quantile(np.array([0.1, 0.5, 0.9])),
        [entry.low, entry.value, entry.high],
        rtol=1e-9,
        atol=1e-12,
    )


@pytest.mark.parametrize("key", DRAWN)
def test_draws_rise_with_their_share(key):
    assert (np.diff(SHIPPED[key].quantile(np.linspace(0.001, 0.999, 99))) >= 0).all()


def test_a_uniform_entry_runs_from_low_to_high():
    entry = _entry("a.b", FIELDS | {"distribution": "uniform"})
    np.testing.assert_allclose(entry.quantile(np.array([0.0, 0.5, 1.0])), [1, 2.5, 4], rtol=1e-12)


def test_a_fixed_entry_is_never_drawn():
    entry = _entry("a.b", FIELDS | {"distribution": "fixed"})
    np.testing.assert_array_equal(entry.quantile(np.array([0.1, 0.9])), [2, 2])


def test_the_evidence_can_not_be_changed_in_place():
    with pytest.raises(TypeError):
        SHIPPED["strength.adult_life_d"] = None


def test_entries_are_frozen():
    with pytest.raises(AttributeError):
        SHIPPED["strength.adult_life_d"].value = 1


def test_length_counts_the_entries():
    entry = Entry(key="a.b", **(FIELDS | {"low": 1.0}))
    assert len(Evidence({"a.b": entry})) == 1
