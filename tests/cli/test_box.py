"""A box is hung, looked at, catches a swarm and is moved; every note is kept and told."""

import json
import shutil
from functools import partial

import pandas as pd
import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app, main
from swarmwatch.records import open_records


def ran(path, *words):
    done = CliRunner().invoke(app, [*words, "--records", str(path)])
    if isinstance(done.exception, Exception) and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """Records with one yard, in a file; tests take copies."""
    place = tmp_path_factory.mktemp("yard") / "bees.sqlite"
    assert ran(place, "new", "--apiary", "home", "--place", "58.1,25.6").exit_code == 0
    return place


@pytest.fixture(scope="module")
def yard_with_box(yard):
    """The same, and a box that hangs on a new site."""
    place = shutil.copy(yard, yard.with_name("box.sqlite"))
    ran(place, "box", "B1", "--hang", "oak", "--place", "58.102,25.603", "--date", "2026-05-01")
    return place


@pytest.fixture
def path(yard, tmp_path):
    """Records with one yard."""
    return shutil.copy(yard, tmp_path / "bees.sqlite")


@pytest.fixture
def box(path):
    return partial(ran, path, "box")


@pytest.fixture
def hung(yard_with_box, path, box):
    """A box that hangs, on a new site."""
    shutil.copy(yard_with_box, path)
    return box


@pytest.fixture
def refused(path, capsys):
    def once(*words):
        capsys.readouterr()
        with pytest.raises(SystemExit) as done:
            main(["box", *words, "--records", str(path)])
        assert done.value.code == 2
        return capsys.readouterr().err

    return once


def stored(path, table):
    with open_records(path) as records:
        frame = records.frame(table)
    return [{k: v for k, v in row.items() if not pd.isna(v)} for row in frame.to_dict("records")]


def day(text):
    return pd.Timestamp(text)


def test_a_box_is_hung_with_its_site_and_lure(box, path):
    done = box("B1", "--hang", "oak", "--place", "58.1,25.6", "--lure", "nasonov-lure",
               "--date", "2026-05-01")  # fmt: skip
    assert "B1 hangs at oak since 2026-05-01: noted." in done.stdout
    assert "owner's yes is not noted" in done.stderr
    assert stored(path, "boxes") == [{"box": "B1"}]
    assert stored(path, "sites") == [{"site": "oak", "latitude": 58.1, "longitude": 25.6}]
    hanging = {"box": "B1", "site": "oak", "hung_on": day("2026-05-01")}
    assert stored(path, "hangings") == [
        hanging | {"lure": "nasonov-lure", "lure_on": day("2026-05-01")}
    ]


def test_a_site_that_is_not_there_asks_for_its_place(refused):
    assert "Say where a new one lies: --place" in refused("B1", "--hang", "oak")


@pytest.mark.usefixtures("hung")
def test_a_box_that_hangs_is_taken_down_before_it_is_hung_again(refused):
    said = refused("B1", "--hang", "oak", "--date", "2026-05-03")
    assert "hangs at oak since 2026-05-01. Take it down first" in said


def test_a_check_is_noted_in_part_and_the_rest_stays_blank(hung, path):
    done = hung("b1", "--scouts", "3", "--date", "2026-05-20")
    assert done.stdout == "B1, 2026-05-20: check noted.\n"
    assert stored(path, "checks") == [{"box": "B1", "date": day("2026-05-20"), "scouts": 3}]


def test_two_checks_of_a_day_are_put_together(hung, path):
    hung("B1", "--scouts", "3", "--date", "2026-05-20")
    hung("B1", "--tenant", "ants", "--date", "2026-05-20")
    (row,) = stored(path, "checks")
    assert (row["scouts"], row["tenant"]) == (3, "ants")


def test_scouts_at_the_quorum_are_warned_of_at_once(hung):
    assert "within a day" in hung("B1", "--scouts", "12", "--date", "2026-05-20").stderr
    assert hung("B1", "--scouts", "9", "--date", "2026-05-21").stderr == ""


@pytest.mark.parametrize("tenant", ["bird", "bat"])
def test_a_protected_tenant_is_to_be_left_alone(hung, tenant):
    said = hung("B1", "--tenant", tenant, "--date", "2026-05-20").stderr
    assert "protected by law in many places: leave it alone" in said


@pytest.mark.usefixtures("hung")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("B1", "--scouts", "many"), "'many' is not a whole number"),
        (("B1", "--tenant", "brid"), "Did you mean bird?"),
        (("B1", "--caught", "big"), "kind: 'big' is not a word of this column"),
        (("B7", "--scouts", "1"), "no bait box 'B7'"),
        (("B1", "--moved"), "Note the catch first"),
        (("B1", "--lure", "none"), "--lure goes with --hang"),
        (("B1", "--from-colony", "x", "--scouts", "1"), "--from-colony goes with --caught"),
        (("B1", "--scouts", "1", "--date", "2026-04-01"), "hangs nowhere on 2026-04-01"),
        (("B1", "--take-down", "--moved"), "--take-down stands alone"),
        (("--scouts", "3"), "say which box"),
    ],
)
def test_what_does_not_go_is_refused_with_the_mend_and_nothing_is_kept(refused, path, words, said):
    flat = " ".join(refused(*words).replace("│", " ").split())
    assert said in flat
    assert stored(path, "checks") == stored(path, "catches") == []


def test_a_catch_is_moved_and_becomes_a_colony_of_its_own(hung, path):
    caught = hung("B1", "--caught", "prime", "--date", "2026-05-25")
    assert "between 2026-05-28 and 2026-06-01" in caught.stderr
    done = hung("B1", "--moved", "--date", "2026-05-29", "--new-colony", "Oak",
                "--apiary", "home", "--hive-type", "top-bar")  # fmt: skip
    assert "Oak at home: a colony of its own, noted." in done.stdout
    assert "fly back to the old spot" in done.stderr
    assert "Keep Oak apart" in done.stderr
    (catch,) = stored(path, "catches")
    assert (catch["moved_on"], catch["to_colony"]) == (day("2026-05-29"), "Oak")
    (colony,) = stored(path, "colonies")
    assert (colony["origin"], colony["started"]) == ("swarm", day("2026-05-29"))
    assert stored(path, "hangings")[0]["taken_on"] == day("2026-05-29")


def test_a_colony_may_be_named_after_the_move(hung, path):
    hung("B1", "--caught", "prime", "--date", "2026-05-25")
    assert "has no name yet" in hung("B1", "--moved", "--date", "2026-05-29").stderr
    hung("B1", "--new-colony", "Oak", "--apiary", "home", "--hive-type", "top-bar",
         "--date", "2026-05-30")  # fmt: skip
    (catch,) = stored(path, "catches")
    assert (catch["to_colony"], catch["moved_on"]) == ("Oak", day("2026-05-29"))


def test_an_afterswarms_queen_is_of_its_year_and_stays_until_eggs_are_seen(hung, path):
    done = hung("B1", "--caught", "afterswarm", "--new-colony", "Oak", "--apiary", "home",
                "--hive-type", "top-bar", "--date", "2026-05-25")  # fmt: skip
    assert "until eggs are seen" in done.stderr
    assert stored(path, "colonies")[0]["queen_year"] == 2026


def test_a_colony_without_yard_or_hive_is_refused_whole(hung, refused, path):
    hung("B1", "--caught", "prime", "--date", "2026-05-25")
    said = refused("B1", "--moved", "--new-colony", "Oak", "--date", "2026-05-29")
    assert "--apiary YARD --hive-type TYPE" in said
    assert "moved_on" not in stored(path, "catches")[0]


def test_an_empty_box_is_taken_down_and_one_with_a_swarm_is_not(hung, refused, path):
    hung("B1", "--caught", "prime", "--date", "2026-05-25")
    assert "say --moved" in refused("B1", "--take-down", "--date", "2026-05-26")
    hung("B1", "--moved", "--date", "2026-05-29")
    hung("B1", "--hang", "oak", "--date", "2026-05-30")
    hung("B1", "--take-down", "--date", "2026-06-30")
    assert [h["taken_on"] for h in stored(path, "hangings")] == [
        day("2026-05-29"), day("2026-06-30"),
    ]  # fmt: skip


def test_the_list_tells_state_deed_day_and_the_steps_of_a_move(hung):
    hung("B1", "--caught", "prime", "--date", "2026-05-25")
    text = " ".join(hung("--date", "2026-05-26").stdout.split())
    assert "occupied by a prime swarm since 2026-05-25" in text
    assert "between 2026-05-28 and 2026-06-01" in text
    assert "Moving an occupied box (common practice, no source)" in text


def test_a_swarm_in_a_box_that_hangs_nowhere_on_record_is_listed(hung, path):
    from datetime import UTC, datetime

    row = {"box": ["B2"], "site": ["oak"], "caught_on": ["2026-05-25"], "kind": ["prime"]}
    with open_records(path) as records:
        tables = {"boxes": pd.DataFrame({"box": ["B2"]}), "catches": pd.DataFrame(row)}
        records.store(tables, at=datetime(2026, 5, 25, tzinfo=UTC), by="test")
    text = hung("--date", "2026-05-26").stdout
    assert "B2 hangs nowhere: occupied by a prime swarm" in text
    assert "nan" not in text.lower().split()


def test_the_list_without_a_box_says_how_to_note_one(box):
    assert "None hangs. Note one: swarmwatch box" in box().stdout


def test_the_list_as_json_is_one_document(hung):
    document = json.loads(hung("--json", "--date", "2026-05-20").stdout)
    assert document["schema"] == "swarmwatch/boxes/1"
    assert document["rows"][0]["state"] == "not looked"
    assert document["caught"] == []


def test_a_box_is_listed_alone_when_named(records_of_demo):
    words = ["box", "B2", "--date", "2026-06-05", "--records", str(records_of_demo)]
    text = CliRunner().invoke(app, words).stdout
    assert "B2 at Chapel copse" in text
    assert "B1" not in text.replace("box B1", "")


def test_a_new_colony_is_asked_for_on_a_terminal(hung, path, monkeypatch):
    from types import SimpleNamespace

    hung("B1", "--caught", "prime", "--date", "2026-05-25")
    terminal = SimpleNamespace(stdin=SimpleNamespace(isatty=lambda: True))
    monkeypatch.setattr("swarmwatch.cli.box.sys", terminal)
    words = ["box", "B1", "--moved", "--date", "2026-05-29", "--records", str(path)]
    CliRunner().invoke(app, words, input="Oak\nhome\ntop-bar\n")
    assert [c["colony"] for c in stored(path, "colonies")] == ["Oak"]
