"""A score told step by step: from what it reckoned, with the numbers behind each step."""

import re

import pytest

import demo_data
from swarmwatch.evidence import load_evidence
from swarmwatch.records.reading import read_files
from swarmwatch.records.scoring import only_of, score_tables
from swarmwatch.sheets.explain import explain
from swarmwatch.swarming.walk import walk_through
from swarmwatch.tables import TABLES, check
from swarmwatch.wording import per_cent

ON = demo_data.ON
EVIDENCE = load_evidence()
READ = ("apiaries", "hives", "colonies", "inspections", "events", "weather")
# with cells; looked at often without; clipped; swarmed; never looked at; probably gone
COLONIES = ("Garnet", "Oriole", "Ember", "Flint", "Lantern", "Anvil")


@pytest.fixture(scope="module")
def frames():
    reads = read_files([demo_data.folder() / f"{name}.csv" for name in READ])
    return {r.table: check(r.frame, TABLES[r.table])[0] for r in reads}


@pytest.fixture(scope="module")
def rows(frames):
    scores = score_tables(only_of(frames, COLONIES), ON, EVIDENCE)
    return {row["colony"]: row for row in scores.to_dict("records")}


@pytest.fixture(scope="module")
def told(frames, rows):
    """The steps of each colony by title."""
    return {name: steps_of(frames, rows, name) for name in COLONIES}


def steps_of(frames, rows, name, evidence=EVIDENCE):
    walk = walk_through(only_of(frames, [name]), name, on=ON, evidence=evidence)
    return {step.title: step for step in explain(walk, rows[name], evidence)}


@pytest.fixture
def garnet_with(frames, rows):
    """Walk through Garnet's score with other numbers."""
    return lambda values: steps_of(frames, rows, "Garnet", EVIDENCE.with_values(values))


def text_of(steps):
    return " ".join(said for step in steps.values() for said in step.said)


def test_a_colony_with_cells_is_walked_through_from_look_to_deed(told):
    assert list(told["Garnet"]) == [
        "What is known",
        "What the look tells",
        "The season",
        "How full the hive is",
        "How readily cells are started",
        "Queen cells and the days left",
        "The weather, day by day",
        "Put together",
        "What moved it most",
        "What to do",
    ]


def test_after_a_swarm_only_what_follows_it_is_told(told):
    assert list(told["Flint"]) == [
        "What is known",
        "After the swarm",
        "What moved it most",
        "What to do",
    ]
    assert "2026-06-18 to 2026-06-25" in text_of(told["Flint"])


def test_a_colony_that_nobody_looked_at_says_so(told):
    assert "No inspection is noted this season" in text_of(told["Lantern"])
    assert "What the look tells" not in told["Lantern"]
    assert "Nobody counted bees" in text_of(told["Lantern"])


@pytest.mark.parametrize("name", [c for c in COLONIES if c != "Flint"])
def test_the_chances_told_are_those_of_the_score(told, rows, name):
    row, said = rows[name], " ".join(told[name]["Put together"].said)
    for days in (7, 14):
        p, low, high = (per_cent(row[f"p_{days}d{end}"]) for end in ("", "_low", "_high"))
        assert f"{p} ({low} to {high}) within {days}" in said
    assert f"swarmed already: {per_cent(row['p_gone'])}" in said
    assert f"within 7 days: {per_cent(row['p_after_7d'])}" in said


@pytest.mark.parametrize("name", COLONIES)
def test_reasons_level_advice_and_days_are_those_of_the_score(told, rows, name):
    row, text = rows[name], text_of(told[name])
    assert all(
        f"- {reason}" in told[name]["What moved it most"].said
        for reason in row["because"].split("; ")
    )
    assert f"Level: {row['level'].replace('-', ' ')}." in text
    assert row["advice"] in text
    for column in ("do_by", "look_by"):
        if row[column] == row[column]:
            assert f"{row[column]:%Y-%m-%d}" in text


def test_what_was_seen_and_what_was_left_blank_are_told(told):
    known = " ".join(told["Garnet"]["What is known"].said)
    assert "queen cells with a larva: 6" in known
    assert "oldest stage seen in a queen cell: large-larva" in known
    assert "Blank" not in known


def test_what_was_left_blank_is_named_as_not_looked_at(frames, rows):
    looks = frames["inspections"]
    fewer = frames | {"inspections": looks.assign(eggs_seen=None, combs_bees=float("nan"))}
    known = steps_of(fewer, rows, "Garnet")["What is known"].said[-1]
    assert known == (
        "Blank, so taken as not looked at: worker eggs were seen; combs covered with bees in the "
        "whole hive."
    )


@pytest.mark.parametrize("name", COLONIES)
def test_every_number_behind_a_step_has_source_and_grade(told, name):
    keys = [key for step in told[name].values() for key in step.keys]
    assert len(keys) >= 10
    assert all(EVIDENCE[key].grade and EVIDENCE[key].source for key in keys)
    for step in told[name].values():
        assert len(set(step.keys)) == len(step.keys)


@pytest.mark.parametrize(
    ("key", "value", "title"),
    [
        ("seeing.find_larva_cells", 0.6, "What the look tells"),
        ("seeing.cells_noted_swarm", 25.0, "What the look tells"),
        ("season.sd_before", 5.0, "The season"),
        ("strength.bees_per_cm2_comfortable", 1.0, "How full the hive is"),
        ("season.yearly_chance_inspected", 0.6, "How readily cells are started"),
        ("preparation.odds_queen_second_year", 3.0, "How readily cells are started"),
        ("cells.sealing_age", 9.0, "Queen cells and the days left"),
        ("weather.gate_warm_c", 26.0, "The weather, day by day"),
        ("calibration.odds", 1.8, "Put together"),
        ("advice.line_today", 0.9, "What to do"),
    ],
)
def test_a_number_behind_a_step_changes_what_the_step_tells(garnet_with, told, key, value, title):
    before, other = told["Garnet"][title], garnet_with({key: value})[title]
    assert key in before.keys
    assert (other.said, other.table) != (before.said, before.table)


def test_what_own_outcomes_do_is_told_only_where_they_do_anything(garnet_with, told):
    assert "odds" not in " ".join(told["Garnet"]["Put together"].said)
    moved = garnet_with({"calibration.odds": 1.8})["Put together"].said
    assert "Own outcomes make the odds of a swarm 1.80 times as large" in " ".join(moved)


def test_only_numbers_that_bear_on_the_colony_are_named(told):
    def keys(name):
        return {key for step in told[name].values() for key in step.keys}

    assert "departure.clipped_delay" in keys("Ember")
    assert "departure.clipped_delay" not in keys("Garnet")
    assert "afterswarm.day_middle" in keys("Flint")
    assert "cells.sealing_age" not in keys("Flint")
    assert {"seeing.find_larva_cells", "seeing.cells_noted_swarm"}.isdisjoint(keys("Lantern"))
    assert "preparation.odds_queen_older" in keys("Ember")
    assert "preparation.odds_queen_older" not in keys("Garnet")


def test_the_days_ahead_are_a_table_with_heads(told):
    heads, *days = told["Garnet"]["The weather, day by day"].table
    assert len(days) == 14
    assert {len(day) for day in days} == {len(heads)}
    assert days[0][0] == "Sat 2026-06-06"
    assert [d[1] for d in days][-1] == "normal"


def test_a_start_is_told_as_a_product(told):
    rows = told["Garnet"]["How readily cells are started"].table
    assert rows[0][0].endswith("% a day")
    assert all(re.fullmatch(r"x \d+\.\d\d", sign) for sign, _ in rows[1:-1])
    assert rows[-1][0].startswith("= ")


@pytest.mark.parametrize("name", COLONIES)
def test_no_text_holds_a_blank_or_a_name_of_a_column(told, name):
    text = text_of(told[name])
    assert not re.search(r"\b(nan|None|NaT|<NA>)\b", text)
    assert "_" not in text
