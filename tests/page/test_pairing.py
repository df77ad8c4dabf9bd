"""A code works once, not for long, and can't be guessed by trying."""

import pytest

from swarmwatch.page.pairing import CODE_LIVES_S, Pairing


class Door:
    """A pairing whose time and shown codes a test can see."""

    def __init__(self):
        self.now, self.codes = 0.0, []
        self.pairing = Pairing(clock=lambda: self.now, show=self.codes.append)


@pytest.fixture
def door():
    return Door()


def test_the_right_code_lets_in(door):
    assert door.pairing.offer()
    session = door.pairing.try_code(door.codes[0])
    assert door.pairing.knows(session)


def test_a_code_is_read_in_any_case_and_with_spaces(door):
    door.pairing.offer()
    code = door.codes[0].lower()
    assert door.pairing.try_code(f" {code[:4]} {code[4:]} ")


def test_a_code_works_once(door):
    door.pairing.offer()
    assert door.pairing.try_code(door.codes[0])
    assert door.pairing.try_code(door.codes[0]) == ""


def test_one_code_holds_at_a_time(door):
    door.pairing.offer()
    door.pairing.offer()
    assert len(door.codes) == 1


def test_a_code_is_worth_nothing_once_its_time_is_over(door):
    door.pairing.offer()
    door.now = CODE_LIVES_S
    assert door.pairing.try_code(door.codes[0]) == ""


def test_five_wrong_codes_make_the_right_one_worthless_for_good(door):
    door.pairing.offer()
    for _ in range(5):
        assert door.pairing.try_code("AAAAAAAA") == ""
    assert door.pairing.try_code(door.codes[0]) == ""
    assert not door.pairing.offer()
    door.now = 61.0
    assert door.pairing.offer()
    assert len(door.codes) == 2


def test_no_code_is_no_code(door):
    assert door.pairing.try_code("") == ""
    door.pairing.offer()
    assert door.pairing.try_code("") == ""


def test_two_codes_differ_and_are_long_enough_not_to_be_guessed(door):
    door.pairing.offer()
    other = Door()
    other.pairing.offer()
    assert door.codes != other.codes
    # 32 signs, 8 of them: with 5 tries a minute a guesser needs 200,000 years on the average
    assert len(door.codes[0]) == 8


def test_a_phone_is_let_in_for_half_a_day(door):
    door.pairing.offer()
    session = door.pairing.try_code(door.codes[0])
    door.now = 12 * 3600.0
    assert door.pairing.knows(session)
    door.now += 1
    assert not door.pairing.knows(session)


@pytest.mark.parametrize("session", ["", "x", "0" * 43])
def test_a_stranger_is_not_known(door, session):
    assert not door.pairing.knows(session)
