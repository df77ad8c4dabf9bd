"""Who is asked for which day, and that a day's row is one service's alone."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data_sources.errors import SourceError, SourceUnavailable
from data_sources.session import open_session
from data_sources.weather.asking import weather_for
from data_sources.weather.fetched import Fetched
from data_sources.weather.providers import PROVIDERS, Provider, at_address, chosen, open_meteo
from data_sources.weather.table import COLUMNS, weather_table

TODAY = dt.date(2026, 5, 10)
NOW = dt.datetime.now(dt.UTC)
HOME = {"home": (51.5, -0.12)}


def day(number):
    return TODAY + dt.timedelta(days=number)


class Service:
    """A service whose rows are given; it counts what it is asked. Values are invented."""

    def __init__(self, name, temps, *, fails="", fetched_at=NOW, notice="", kind=None):
        self.name, self.temps, self.fails, self.asked = name, temps, fails, []
        self.fetched_at, self.notice, self.kind = fetched_at, notice, kind

    def __call__(self, _session, *, first_day, last_day, **_place):
        self.asked.append((first_day, last_day))
        if self.fails:
            raise SourceUnavailable(self.fails)
        days = sorted(self.temps)
        table = weather_table(
            [day(d) for d in days],
            {
                "temp_max_c": [self.temps[d] for d in days],
                "temp_min_c": [None if self.temps[d] is None else 1.0 for d in days],
            },
            kind=[self.kind or ("observed" if d < 0 else "forecast") for d in days],
            provider=self.name,
            fetched_at=self.fetched_at,
            where=str,
        )
        return Fetched(table=table, notice=self.notice, credit=f"by {self.name}")

    def provider(self, **how):
        return Provider(
            **{
                "name": self.name,
                "shown": self.name,
                "fetch": self,
                "terms": "",
                "first_d": -90,
                "last_d": 15,
            }
            | how
        )


def ask(providers, first=-3, last=3, places=HOME, session=None):
    with open_session(None) as fresh:
        return weather_for(
            session or fresh,
            places,
            first_day=day(first),
            last_day=day(last),
            today=TODAY,
            providers=providers,
        )


def who(asked):
    return asked.table["provider"].tolist()


EVERY = {d: 10.0 + d for d in range(-3, 4)}


def test_the_table_has_the_common_columns_behind_the_yard():
    asked = ask([Service("a", EVERY).provider()])
    assert tuple(asked.table.columns) == ("apiary", *COLUMNS)
    assert asked.table["kind"].tolist() == ["observed"] * 3 + ["forecast"] * 4
    assert asked.missing == {"home": ()}


def test_the_first_is_enough_and_the_next_is_not_asked():
    spare = Service("b", EVERY)
    assert who(ask([Service("a", EVERY).provider(), spare.provider()])) == ["a"] * 7
    assert spare.asked == []


def test_the_archive_is_asked_for_what_is_behind_the_forecast_for_what_is_ahead():
    archive = Service("archive", {-3: 7.0, -2: 8.0})
    ahead = Service("ahead", {d: t for d, t in EVERY.items() if d >= 0})
    asked = ask([archive.provider(last_d=-2), ahead.provider(first_d=0)])
    assert who(asked) == ["archive"] * 2 + ["ahead"] * 4
    assert archive.asked == [(day(-3), day(-2))]
    assert ahead.asked == [(day(0), day(3))]
    assert asked.missing["home"] == (day(-1),)


def test_a_gap_is_filled_from_the_next():
    holed = EVERY | {-2: None, 1: None}
    asked = ask([Service("a", holed).provider(), Service("b", EVERY).provider()])
    assert who(asked) == ["a", "b", "a", "a", "b", "a", "a"]
    assert asked.credits == ("by a", "by b")


def test_a_service_that_fails_is_said_in_one_line_and_the_next_fills():
    asked = ask([Service("a", {}, fails="a is down.").provider(), Service("b", EVERY).provider()])
    assert who(asked) == ["b"] * 7
    assert asked.notices == ("a is down.",)


def test_all_that_fail_are_one_line():
    names = ("a", "b", "c")
    asked = ask([Service(n, {}, fails=f"{n} is down.").provider() for n in names])
    assert asked.notices == ("a is down. (Nor b, c.)",)
    assert len(asked.table) == 0


def test_behind_today_an_observed_row_comes_before_an_old_forecast():
    old = Service("a", EVERY, kind="forecast")
    asked = ask([old.provider(), Service("b", {-2: 5.0}).provider()])
    assert who(asked) == ["a", "b", "a", "a", "a", "a", "a"]


@pytest.mark.parametrize(("age_d", "first"), [(0.5, "a"), (2, "b")])
def test_a_forecast_of_days_ago_gives_way_to_a_newer_one(age_d, first):
    given_at = NOW - dt.timedelta(days=age_d)
    kept = Service("a", EVERY, fetched_at=given_at, notice="a is old.")
    asked = ask([kept.provider(), Service("b", {0: 1.5, 1: 1.5}).provider()], first=0)
    assert who(asked)[0] == first
    assert who(asked)[3] == "a"
    assert "a is old." in asked.notices


@given(
    one=st.dictionaries(st.integers(-4, 4), st.none() | st.floats(2, 30)),
    two=st.dictionaries(st.integers(-4, 4), st.none() | st.floats(2, 30)),
)
@settings(max_examples=40, deadline=None)
def test_a_row_is_one_services_alone_and_no_day_comes_twice(one, two):
    asked = ask([Service("a", one).provider(), Service("b", two).provider()])
    assert not asked.table["date"].duplicated().any()
    for row in asked.table.itertuples():
        number = (row.date.date() - TODAY).days
        assert {"a": one, "b": two}[row.provider][number] == row.temp_max_c
    got = {d.date() for d in asked.table["date"]}
    assert got | set(asked.missing["home"]) == {day(d) for d in range(-3, 4)}
    assert got.isdisjoint(asked.missing["home"])


def test_yards_of_one_place_share_a_question_and_each_has_its_rows():
    service = Service("a", EVERY)
    asked = ask([service.provider()], places={"b": (51.501, 0.1), "a": (51.499, 0.1)})
    assert len(service.asked) == 1
    assert asked.table["apiary"].tolist() == ["b"] * 7 + ["a"] * 7


def test_who_wants_a_contact_is_not_asked_without_one():
    shy = Service("shy", EVERY)
    asked = ask([shy.provider(wants_contact=True)])
    assert shy.asked == []
    assert asked.notices == ("Not asked, for want of a contact to show them: shy.",)
    with open_session(None, user_agent="ours, keeper@example.org") as session:
        assert len(ask([shy.provider(wants_contact=True)], session=session).table) == 7


def test_days_backwards_are_refused():
    with pytest.raises(SourceError, match="before the first"):
        ask([Service("a", EVERY).provider()], first=1, last=0)


@pytest.mark.parametrize(
    ("place", "served"),
    [((40.0, -100.0), True), ((64.8, -147.7), True), ((21.3, -157.9), True), ((52.0, 5.0), False)],
)
def test_the_national_service_is_asked_in_its_country_only(place, served):
    (service,) = chosen(["us-weather-service"])
    assert service.serves(*place) is served


def test_the_keeper_may_choose_and_a_wrong_name_is_told():
    assert [p.name for p in chosen(["nasa-power", "met-norway"])] == ["nasa-power", "met-norway"]
    with pytest.raises(SourceError, match="Choose from open-meteo, "):
        chosen(["the weather frog"])


def test_every_service_says_its_terms():
    assert all(p.terms for p in PROVIDERS)


def test_the_archive_is_asked_for_whole_months_so_the_question_stays():
    archive = open_meteo()[0]
    spans = {archive.span([day(-60)], day(d)) for d in range(0, 18)}
    assert spans == {(dt.date(2026, 3, 1), dt.date(2026, 4, 30))}
    assert archive.span([day(-9)], day(0)) is None


def test_kept_rows_are_the_rows_that_were_asked_for(quick, server):
    days = {"first_day": dt.date(2026, 5, 4), "last_day": dt.date(2026, 5, 6), "today": TODAY}
    providers = at_address(chosen(["open-meteo"])[1:], server.url)
    first = weather_for(quick(), HOME, **days, providers=providers)
    again = weather_for(quick(), HOME, **days, providers=providers)
    assert len(server.calls) == 1
    assert again.table.equals(first.table)
    assert np.isnan(again.table["rain_mm"].iloc[2])
