"""Quiet hours, and what goes out as one message."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swarmwatch.alerts.channels import Message, Service, Terminal
from swarmwatch.alerts.manners import Manners, QuietHours
from swarmwatch.errors import UsageError

PHONE = Service("phone", "json://127.0.0.1/")
SCREEN = Terminal(lambda _: None)


def messages(*levels):
    return [Message(key=str(i), level=level, text=level) for i, level in enumerate(levels)]


@pytest.mark.parametrize(
    ("text", "held", "free"),
    [("22-7", (22, 23, 0, 6), (7, 12, 21)), ("12:30-14", (13,), (0, 12, 14)), ("0-6", (0,), (6,))],
)
def test_the_hours_hold_from_the_first_until_the_last(text, held, free):
    hours = QuietHours.read(text)
    assert all(hours.hold(h * 60) for h in held)
    assert not any(hours.hold(h * 60) for h in free)


def test_minutes_count():
    hours = QuietHours.read("21:30-06:45")
    assert not hours.hold(21 * 60 + 29)
    assert hours.hold(21 * 60 + 30)
    assert hours.hold(6 * 60 + 44)
    assert not hours.hold(6 * 60 + 45)


@pytest.mark.parametrize("text", ["", "22", "22-24", "7-7", "22-7-9", "22:60-7", "late-early", "-"])
def test_hours_that_are_none_are_refused_with_an_example(text):
    with pytest.raises(UsageError, match="such as 22-7"):
        QuietHours.read(text)


@given(st.integers(0, 1439), st.integers(0, 1439), st.integers(0, 1439))
def test_the_hours_and_the_rest_of_the_day_turned_round_are_all_of_it(start, end, minute):
    if start != end:
        quiet, loud = QuietHours(start=start, end=end), QuietHours(start=end, end=start)
        assert quiet.hold(minute) != loud.hold(minute)


def test_quiet_hours_hold_a_service_back_and_no_terminal():
    manners = Manners(quiet=QuietHours.read("22-7"))
    night, noon = (datetime(2026, 5, 14, hour, tzinfo=UTC) for hour in (23, 12))
    assert manners.hold_back(PHONE, night)
    assert not manners.hold_back(PHONE, noon)
    assert not manners.hold_back(SCREEN, night)


def test_up_to_the_digests_level_alerts_are_one_message():
    waiting = messages("today", "look-soon", "act", "today")
    parcels = Manners(digest="act").parcels(PHONE, waiting)
    assert [[m.level for m in p] for p in parcels] == [["today"], ["today"], ["look-soon", "act"]]


def test_without_a_digest_each_is_its_own():
    assert [len(p) for p in Manners().parcels(PHONE, messages("act", "today"))] == [1, 1]


def test_the_terminal_shows_all_at_once():
    assert [len(p) for p in Manners().parcels(SCREEN, messages("act", "today"))] == [2]


@given(
    st.lists(st.sampled_from(["look-soon", "act", "today"])),
    st.sampled_from([None, "look-soon", "act", "today"]),
)
def test_every_message_goes_out_once(levels, digest):
    waiting = messages(*levels)
    parcels = Manners(digest=digest).parcels(PHONE, waiting)
    assert sorted(m.key for p in parcels for m in p) == sorted(m.key for m in waiting)
    assert all(parcels)


def test_a_level_that_is_none_is_refused():
    with pytest.raises(UsageError, match="digest level 'panic'"):
        Manners(digest="panic")
