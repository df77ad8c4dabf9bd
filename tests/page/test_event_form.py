"""What was done to a colony is noted from the page: once, corrected, refused, taken back."""

import datetime as dt

import pytest
from served import NOW, Clock, hidden, noted, send, sent_on, serving

from swarmwatch.page.event_words import BY_WORD, event_group
from swarmwatch.records.history import actions, undo
from swarmwatch.tables import TABLES

BIRCH = {"colony": "Birch"}


@pytest.fixture
def served(small_template, tmp_path):
    path = tmp_path / "bees.sqlite"
    path.write_bytes(small_template.read_bytes())
    # the notes of the template are of its hour
    with serving(path, clock=Clock(NOW + dt.timedelta(minutes=5))) as running:
        yield running


def form(phone, event="split", **query):
    page = phone.get("/event", params=BIRCH | {"event": event} | query)
    assert page.status_code == 200
    return page


def test_there_is_a_form_for_every_event_of_the_table():
    events = TABLES["events"]
    assert tuple(sorted(BY_WORD)) == tuple(sorted(events.column("event").words))
    asked = {f.name for word in BY_WORD for f in event_group(word).fields}
    assert asked == {*events.names} - {*events.key}


def test_a_colonys_page_leads_to_every_event(served):
    phone = served.phone()
    assert 'href="/event?colony=Birch"' in phone.get("/colony", params={"name": "Birch"}).text
    choice = phone.get("/event", params=BIRCH)
    for word, event in BY_WORD.items():
        assert f'href="/event?colony=Birch&amp;event={word}"' in choice.text
        assert event.name in form(phone, word).text


def test_an_event_is_noted_with_what_is_known_of_it(served):
    phone = served.phone()
    page = send(phone, form(phone), amount="0,5", queen_went="moved", other_colony="Birch 2")
    assert sent_on(page) == "/colony?name=Birch&told=noted"
    row = noted(served, "events").iloc[0]
    assert (row["event"], str(row["date"].date())) == ("split", "2026-06-05")
    assert (row["amount"], row["queen_went"], row["other_colony"]) == (0.5, "moved", "Birch 2")
    assert row[["where", "cells_left", "note", "date_from"]].isna().all()


def test_the_day_alone_is_worth_noting_and_counts_in_the_score(served):
    phone = served.phone()
    before, _ = served.house.desk.standing()
    send(phone, form(phone, "swarmed", date="2026-06-03"))
    after, _ = served.house.desk.standing()
    assert noted(served, "events", event="swarmed").shape[0] == 1
    assert after.rows["Birch"]["p_gone"] == 1 > before.rows["Birch"]["p_gone"]


def test_a_form_that_is_sent_twice_notes_once(served):
    phone = served.phone()
    page = form(phone, "requeened")
    first, second = (send(phone, page, queen_kind="mated") for _ in range(2))
    assert sent_on(first) == "/colony?name=Birch&told=noted"
    assert sent_on(second) == "/colony?name=Birch&told=same"
    assert len(noted(served, "events")) == 1


def test_the_same_thing_a_second_time_that_day_is_a_row_of_its_own(served):
    phone = served.phone()
    send(phone, form(phone, "room-added"))
    send(phone, form(phone, "room-added", visit="2"), amount="2")
    assert noted(served, "events")["visit"].tolist() == [1, 2]


def test_the_diary_leads_to_its_correction(served):
    phone = served.phone()
    send(phone, form(phone), amount="0.5")
    diary = phone.get("/colony", params={"name": "Birch"}).text
    assert "event=split&amp;date=2026-06-05&amp;visit=1" in diary
    page = form(phone, date="2026-06-05")
    assert 'name="amount" value="0.5"' in page.text
    send(phone, page, amount="0.4")
    assert noted(served, "events")["amount"].tolist() == [0.4]


def test_of_two_phones_the_second_is_told(served):
    one, other = served.phone(), served.phone()
    mine, theirs = form(one), form(other)
    send(one, mine, amount="0.5")
    told = send(other, theirs, amount="0.3", note="by noon")
    assert told.status_code == 409
    assert "Noted meanwhile: <strong>0.5</strong>" in told.text
    assert noted(served, "events")["amount"].tolist() == [0.5]


@pytest.mark.parametrize(
    ("cells", "fault"),
    [
        ({"amount": "half"}, "amount"),
        ({"date_from": "2026-06-09"}, "date_from"),
        ({"queen_went": "away"}, "queen_went"),
    ],
)
def test_what_does_not_fit_is_named_and_stays_typed(served, cells, fault):
    phone = served.phone()
    event = "queen-lost" if fault == "date_from" else "split"
    page = send(phone, form(phone, event), note="by noon", **cells)
    assert page.status_code == 422
    assert f'href="#f-{fault}"' in page.text
    assert "by noon</textarea>" in page.text
    assert noted(served, "events").empty


def test_a_day_to_come_is_refused(served):
    phone = served.phone()
    page = form(phone, date="2026-06-07")
    assert send(phone, page).status_code == 422
    assert noted(served, "events").empty


@pytest.mark.parametrize(
    "query", [{"event": "danced"}, {"event": "split", "colony": "Nobody"}, {"colony": "Nobody"}]
)
def test_what_is_not_there_is_refused(served, query):
    phone = served.phone()
    assert phone.get("/event", params=BIRCH | query).status_code == 404
    assert phone.post("/event", data=hidden(form(phone)) | query).status_code == 404
    assert noted(served, "events").empty


def test_a_form_of_another_site_notes_nothing(served):
    phone = served.phone()
    data = hidden(form(phone))
    answer = phone.post("/event", data=data, headers={"Origin": "http://elsewhere.example"})
    assert answer.status_code == 403
    assert phone.post("/event", data=data | {"token": "x"}).status_code == 409
    assert noted(served, "events").empty


def test_a_noted_event_can_be_taken_back(served):
    phone = served.phone()
    send(phone, form(phone), amount="0.5")
    (newest, *_) = actions(served.records)
    assert (newest.by, newest.tables) == ("page", (("events", 1, 0),))
    undo(served.records, at=NOW + dt.timedelta(minutes=9))
    assert noted(served, "events").empty
    assert "Split" not in phone.get("/colony", params={"name": "Birch"}).text.partition("Diary")[2]
