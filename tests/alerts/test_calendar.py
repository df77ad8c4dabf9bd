from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from swarmwatch.alerts.alerting import raise_and_deliver
from swarmwatch.alerts.calendar import calendar_bytes, refuse_foreign, write_calendar
from swarmwatch.alerts.thresholds import Standing
from swarmwatch.errors import UsageError
from swarmwatch.evidence import load_evidence

ON = date(2026, 5, 14)
NOW = datetime(2026, 5, 14, 18, 0, tzinfo=UTC)
NUMBERS = load_evidence()


def standing(name="Birch", *, kind="colony", do_by=ON, text="Birch: act", advice=""):
    return Standing(
        kind=kind,
        name=name,
        on=ON,
        level="act",
        score=0.3,
        text=text,
        advice=advice,
        do_by=do_by,
    )


def written(*standings, made_at=NOW):
    return calendar_bytes(standings, made_at=made_at, evidence=NUMBERS)


def entries(content):
    return Calendar.from_ical(content).walk("VEVENT")


def test_an_entry_is_an_all_day_one_on_the_last_day():
    event = entries(written(standing()))[0]
    assert event.decoded("dtstart") == ON
    assert event.decoded("dtend") == ON + timedelta(days=1)


def test_an_entry_rings_at_the_hour_of_the_evidence():
    alarm = entries(written(standing()))[0].walk("VALARM")[0]
    assert alarm.decoded("trigger") == timedelta(hours=NUMBERS.value("levels.reminder_hour"))


def test_the_same_arguments_give_the_same_bytes():
    assert written(standing()) == written(standing())


def test_an_entry_keeps_its_identity_when_day_and_text_change():
    earlier = entries(written(standing()))[0]
    moved = entries(written(standing(do_by=ON + timedelta(days=3), text="other")))[0]
    assert earlier["uid"] == moved["uid"]


def test_a_later_version_of_an_entry_has_a_higher_sequence():
    earlier = entries(written(standing()))[0]
    later = entries(written(standing(), made_at=NOW + timedelta(hours=1)))[0]
    assert later["sequence"] > earlier["sequence"]


def test_a_colony_and_a_box_of_one_name_are_two_entries():
    both = entries(written(standing(), standing(kind="box")))
    assert len({e["uid"] for e in both}) == 2


def test_nothing_without_a_last_day_is_entered():
    assert entries(written(standing(do_by=None))) == []


def test_the_whole_advice_stands_in_the_description():
    advice = "Split the colony. Leave two good cells."
    assert advice in str(entries(written(standing(advice=advice)))[0]["description"])


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Oak, the big; one", "Oak, the big; one"),
        ("Oak\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:no", None),
        ("Oak\nATTACH:http://example.org/", "Oak ATTACH:http://example.org/"),
        ("back\\slash\\n", "back\\slash\\n"),
        ("Bienenstöck 蜂 🐝" * 10, None),
    ],
)
def test_a_hostile_name_stays_inside_its_summary(name, shown):
    calendar = Calendar.from_ical(written(standing(name, text=f"{name}: act")))
    events = calendar.walk("VEVENT")
    assert len(events) == 1
    assert "attach" not in events[0]
    wanted = " ".join(name.split()) if shown is None else shown
    assert str(events[0]["summary"]) == f"Colony {wanted}: act"


@settings(max_examples=50, deadline=None)
@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=120))
def test_every_name_gives_one_readable_entry_in_lines_of_at_most_75_octets(name):
    content = written(standing(name, text=name, advice=name))
    assert len(entries(content)) == 1
    # RFC 5545, 3.1: lines end in CRLF and hold at most 75 octets
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))


def test_a_calendar_of_ours_may_be_written_again(tmp_path):
    path = tmp_path / "a.ics"
    write_calendar(path, written(standing()))
    refuse_foreign(path, force=False)
    write_calendar(path, written())
    assert entries(path.read_bytes()) == []


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"my notes",
        b"\xff\xfe\x00",
        b"BEGIN:VCALENDAR\r\nPRODID:-//other//EN\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n",
        b"PRODID:-//swarmwatch//alerts//EN",
    ],
)
def test_another_programs_file_is_refused(tmp_path, content):
    path = tmp_path / "a.ics"
    path.write_bytes(content)
    with pytest.raises(UsageError, match="not written by swarmwatch"):
        refuse_foreign(path, force=False)


def test_force_writes_over_another_programs_file(tmp_path):
    path = tmp_path / "a.ics"
    path.write_bytes(b"my notes")
    refuse_foreign(path, force=True)


def test_a_refused_calendar_raises_no_alert(tmp_path, records, scores, numbers):
    path = tmp_path / "a.ics"
    path.write_bytes(b"my notes")
    with pytest.raises(UsageError):
        raise_and_deliver(
            records,
            scores({"colony": "Birch"}),
            on=ON,
            now=NOW,
            channels=[],
            calendar=path,
            evidence=numbers,
        )
    with records.engine.connect() as connection:
        assert connection.exec_driver_sql("select count(*) from alert_levels").scalar() == 0


def test_a_missing_folder_says_so_and_leaves_nothing_behind(tmp_path):
    with pytest.raises(UsageError, match="folder exists"):
        write_calendar(tmp_path / "no" / "a.ics", b"")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_files_place_is_refused(tmp_path):
    with pytest.raises(UsageError, match="Check the path"):
        refuse_foreign(tmp_path, force=False)


def test_a_run_writes_the_calendar_of_what_stands_over_the_line(tmp_path, records, scores, numbers):
    path = tmp_path / "a.ics"
    frame = scores({"colony": "Birch"}, {"colony": "Ash", "level": "quiet", "p_7d": 0.01})
    raise_and_deliver(records, frame, on=ON, now=NOW, channels=[], calendar=path, evidence=numbers)
    assert [str(e["summary"]) for e in entries(path.read_bytes())] == ["Colony Birch: today"]
