"""A form is noted once and whole; whatever goes wrong, what was typed is still there."""

import datetime as dt

import pytest
import sqlalchemy as sa
from served import NOW, Clock, hidden, noted, send, sent_on, serving

from swarmwatch.page.house import told_words

BIRCH = {"colony": "Birch"}


@pytest.fixture(scope="module")
def running(small_template, tmp_path_factory):
    path = tmp_path_factory.mktemp("forms") / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    with serving(path) as served:
        yield served


@pytest.fixture
def small_served(running):
    """Small records, served, as they were before any test."""
    yield running
    with running.records.writing() as connection:
        for undo in (
            "DELETE FROM inspections WHERE date > '2026-05-28'",
            "UPDATE inspections SET combs = 8, combs_bees = 7",
            "UPDATE apiaries SET africanized_area = NULL",
            *(f"DELETE FROM {table}" for table in ("checks", "corrections", "settings")),  # noqa: S608
        ):
            connection.execute(sa.text(undo))


def form(phone, **query):
    page = phone.get("/inspect", params=BIRCH | query)
    assert page.status_code == 200
    return page


def test_a_partial_note_is_kept_and_a_blank_stays_not_looked(small_served):
    phone = small_served.phone()
    page = send(phone, form(phone), combs_bees="7.5", queen_cells_egg="0", eggs_seen="yes")
    assert sent_on(page) == "/colony?name=Birch&told=noted"
    row = noted(small_served, date="2026-06-05").iloc[0]
    assert (row["combs_bees"], row["queen_cells_egg"], row["eggs_seen"]) == (7.5, 0, "yes")
    assert row[["combs", "queen_cells_larva", "queen_seen", "note"]].isna().all()


def test_a_decimal_comma_is_a_decimal_point(small_served):
    phone = small_served.phone()
    send(phone, form(phone), combs_bees="7,25")
    assert noted(small_served, date="2026-06-05")["combs_bees"][0] == 7.25


def test_a_form_that_is_sent_twice_notes_once(small_served):
    phone = small_served.phone()
    page = form(phone)
    first, second = (send(phone, page, combs_bees="7") for _ in range(2))
    assert sent_on(first) == "/colony?name=Birch&told=noted"
    assert sent_on(second) == "/colony?name=Birch&told=same"
    assert len(noted(small_served, date="2026-06-05")) == 1
    assert corrections(small_served) == 0


def test_a_form_from_the_back_button_corrects_its_own_row(small_served):
    phone = small_served.phone()
    page = form(phone)
    send(phone, page, combs_bees="7")
    again = send(phone, page, combs_bees="8")
    assert sent_on(again).path == "/colony"
    assert noted(small_served, date="2026-06-05")["combs_bees"].tolist() == [8]
    assert corrections(small_served) == 1


def test_the_form_of_a_noted_inspection_shows_what_is_noted(small_served):
    phone = small_served.phone()
    page = form(phone, date="2026-05-28")
    assert 'name="combs_bees" value="7"' in page.text
    send(phone, page, combs="8", combs_bees="")
    row = noted(small_served, date="2026-05-28").iloc[0]
    assert row["combs"] == 8
    assert row[["combs_bees"]].isna().all()


def test_of_two_phones_the_second_is_told_and_nothing_is_lost(small_served):
    one, other = small_served.phone(), small_served.phone()
    mine, theirs = form(one), form(other)
    send(one, mine, combs_bees="7", eggs_seen="yes")
    told = send(other, theirs, combs_bees="9", note="heavy")
    assert told.status_code == 409
    assert "somebody else wrote here" in told.text
    assert "Noted meanwhile: <strong>7</strong>" in told.text
    assert 'name="combs_bees" value="9"' in told.text
    assert "heavy</textarea>" in told.text
    assert 'name="eggs_seen" value="yes" checked' in told.text
    assert noted(small_served, date="2026-06-05")["combs_bees"].tolist() == [7]

    done = send(other, told, combs_bees="9", eggs_seen="yes", note="heavy")
    assert sent_on(done).path == "/colony"
    row = noted(small_served, date="2026-06-05").iloc[0]
    assert (row["combs_bees"], row["eggs_seen"], row["note"]) == (9, "yes", "heavy")
    assert corrections(small_served) == 1


def test_a_cell_that_cannot_be_read_is_named_and_the_others_stay_typed(small_served):
    phone = small_served.phone()
    page = send(phone, form(phone), combs_bees="seven", queen_cells_egg="1.5", note="calm")
    assert page.status_code == 422
    assert 'aria-describedby="l-combs_bees e-combs_bees" aria-invalid="true"' in page.text
    assert 'href="#f-queen_cells_egg"' in page.text
    assert 'value="seven"' in page.text
    assert "calm</textarea>" in page.text
    assert noted(small_served, date="2026-06-05").empty


def test_cells_that_do_not_go_together_are_refused(small_served):
    phone = small_served.phone()
    page = send(phone, form(phone), combs="5", combs_brood="7")
    assert page.status_code == 422
    assert noted(small_served, date="2026-06-05").empty


def test_an_unlikely_value_is_asked_about_and_kept_when_confirmed(small_served):
    phone = small_served.phone()
    page = send(phone, form(phone), combs_honey="400")
    assert page.status_code == 422
    assert "unlikely" in page.text
    assert noted(small_served, date="2026-06-05").empty
    assert sent_on(send(phone, page, combs_honey="400", accept="yes")).path == "/colony"
    assert noted(small_served, date="2026-06-05")["combs_honey"].tolist() == [400]


def test_an_empty_form_notes_nothing_and_says_so(small_served):
    phone = small_served.phone()
    page = send(phone, form(phone))
    assert page.status_code == 422
    assert "Nothing is filled in yet" in page.text


def test_a_second_inspection_of_a_day_is_a_row_of_its_own(small_served):
    phone = small_served.phone()
    send(phone, form(phone), combs_bees="7")
    send(phone, form(phone, visit=2), combs_bees="8")
    assert noted(small_served, date="2026-06-05")["visit"].tolist() == [1, 2]


def test_a_colony_on_bars_is_asked_for_bars(small_served):
    page = small_served.phone().get("/inspect", params={"colony": "Alder"})
    assert "Drawn bars" in page.text
    assert "Foundation" not in page.text


def test_a_sick_looking_brood_is_answered_with_what_to_leave_alone(small_served):
    phone = small_served.phone()
    there = sent_on(send(phone, form(phone), brood_health="suspect"))
    assert there.params["told"] == "sick"
    assert "move no bees, comb, boxes or tools" in told_words("sick")


@pytest.mark.parametrize("query", [{"colony": "Nobody"}, {"colony": "birch "}])
def test_a_colony_that_is_not_there_is_not_found(small_served, query):
    assert small_served.phone().get("/inspect", params=query).status_code == 404


@pytest.mark.parametrize("date", ["yesterday", "2026-13-01", "2026-02-30"])
def test_a_day_that_is_none_is_refused(small_served, date):
    page = small_served.phone().get("/inspect", params=BIRCH | {"date": date})
    assert page.status_code == 422
    assert "is not a date" in page.text


def test_a_day_to_come_is_refused(small_served):
    phone = small_served.phone()
    page = send(phone, form(phone, date="2026-06-09"), combs_bees="7")
    assert page.status_code == 422
    assert "in the future" in page.text


def test_a_look_at_a_bait_box_is_noted(small_served):
    phone = small_served.phone()
    page = phone.get("/check", params={"box": "B1"})
    done = send(phone, page, scouts="12", occupied="no")
    assert sent_on(done).path == "/boxes"
    row = noted(small_served, "checks").iloc[0]
    assert (row["box"], row["scouts"], row["occupied"]) == ("B1", 12, "no")
    assert row["date"] == dt.datetime(2026, 6, 5)  # noqa: DTZ001 - as the table has it


def test_where_africanized_bees_live_the_box_form_says_keep_away(small_served):
    yards = small_served.records.frame("apiaries").assign(africanized_area="yes")
    small_served.records.store({"apiaries": yards}, at=NOW, by="test")
    page = small_served.phone().get("/check", params={"box": "B1"})
    assert "no amateur catching" in page.text


def test_on_a_full_disk_nothing_changes_and_what_was_typed_is_still_there(small_served):
    phone = small_served.phone()
    page = form(phone)
    fill_the_disk(small_served.records.engine)
    long = "n" * 4000
    full = send(phone, page, combs_bees="7", note=long)
    assert full.status_code == 503
    assert "the disk is full" in full.text
    assert "Nothing was changed" in full.text
    assert 'value="7"' in full.text
    assert f"{long}</textarea>" in full.text
    make_room(small_served.records.engine)
    assert noted(small_served, date="2026-06-05").empty
    assert sent_on(send(phone, full, combs_bees="7", note=long)).path == "/colony"
    assert noted(small_served, date="2026-06-05")["note"].tolist() == [long]


def test_a_form_from_before_a_restart_is_shown_again_with_what_was_typed(small_template, tmp_path):
    path = tmp_path / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    with serving(path) as before:
        stale = hidden(form(before.phone()))
    with serving(path) as after:
        phone = after.phone()
        page = phone.post("/inspect", data=stale | {"combs_bees": "7"})
        assert page.status_code == 409
        assert "started anew" in page.text
        assert noted(after, date="2026-06-05").empty
        assert sent_on(send(phone, page, combs_bees="7")).path == "/colony"
        assert noted(after, date="2026-06-05")["combs_bees"].tolist() == [7]


def test_a_clock_that_lies_before_the_notes_is_told(small_template, tmp_path):
    path = tmp_path / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    wrong = Clock(dt.datetime(2026, 1, 1, 19, tzinfo=dt.UTC))
    with serving(path, clock=wrong) as served:
        page = served.phone().get("/")
    assert page.status_code == 200
    assert "this machine takes today for 2026-01-01" in page.text


def test_units_are_kept(small_served):
    phone = small_served.phone()
    page = phone.get(str(sent_on(send(phone, phone.get("/settings"), units="us"))))
    assert "Kept" in page.text
    assert 'value="us" checked' in page.text
    assert small_served.records.setting("units") == "us"


def corrections(served):
    with served.records.reading() as connection:
        return connection.execute(sa.text("SELECT count(*) FROM corrections")).scalar_one()


def fill_the_disk(engine):
    """Let SQLite's file grow no further: it then answers as on a full disk (SQLITE_FULL)."""
    engine.dispose()

    @sa.event.listens_for(engine, "connect")
    def _no_more(connection, _record):
        size = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {size}")

    engine.no_more = _no_more


def make_room(engine):
    sa.event.remove(engine, "connect", engine.no_more)
    engine.dispose()
