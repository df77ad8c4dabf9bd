import sqlite3
import threading
from datetime import UTC, date, datetime, timedelta

import pandas as pd
import pytest

from swarmwatch.alerts.alerting import raise_and_deliver
from swarmwatch.alerts.channels import ChannelError, Terminal
from swarmwatch.alerts.manners import Manners, QuietHours
from swarmwatch.alerts.outbox import deliver, key_of, waiting
from swarmwatch.records import open_records

ON = date(2026, 5, 14)
NOW = datetime(2026, 5, 14, 18, 0, tzinfo=UTC)
LATER = NOW + timedelta(hours=1)


class Recorder:
    """A channel that keeps what it is given; `fault` is raised after keeping it."""

    together = False

    def __init__(self, name="phone", fault=None):
        self.name, self.fault, self.got = name, fault, []

    def send(self, messages):
        self.got.extend(m.text for m in messages)
        if self.fault is not None:
            raise self.fault


def rows(records):
    return pd.read_sql("select * from alerts order by alert", records.engine)


@pytest.fixture
def run(records, scores, numbers):
    def once(channel, *cells, now=NOW, on=ON):
        frame = scores(*(cells or ({"colony": "Birch"},)), on=on)
        return raise_and_deliver(
            records, frame, on=on, now=now, channels=[channel], evidence=numbers
        )

    return once


def test_two_runs_send_once(run):
    phone = Recorder()
    run(phone)
    run(phone, now=LATER)
    assert len(phone.got) == 1


def test_a_sent_alert_has_its_moment_one_try_and_no_error(run, records):
    run(Recorder())
    row = rows(records).iloc[0]
    assert str(row["sent_at"]).startswith("2026-05-14 18:00")
    assert row["tries"] == 1
    assert row["error"] is None


def test_each_channel_gets_each_alert(records, scores, numbers):
    phone, mail = Recorder("phone"), Recorder("mail")
    frame = scores({"colony": "Birch"}, {"colony": "Ash"})
    raise_and_deliver(records, frame, on=ON, now=NOW, channels=[phone, mail], evidence=numbers)
    assert (len(phone.got), len(mail.got)) == (2, 2)


def test_a_refused_alert_waits_with_its_error_and_counts_its_tries(run, records):
    run(Recorder(fault=ChannelError("no answer")))
    run(Recorder(fault=ChannelError("still none")), now=LATER)
    row = rows(records).iloc[0]
    assert (row["tries"], row["error"], row["sent_at"]) == (2, "still none", None)


def test_a_refused_alert_goes_out_on_a_later_run(run):
    run(Recorder(fault=ChannelError("no answer")))
    phone = Recorder()
    run(phone, now=LATER)
    assert len(phone.got) == 1


def test_one_channel_that_fails_does_not_keep_the_others_from_sending(records, scores, numbers):
    bad, good = Recorder("bad", ChannelError("no answer")), Recorder("good")
    frame = scores({"colony": "Birch"})
    done = raise_and_deliver(records, frame, on=ON, now=NOW, channels=[bad, good], evidence=numbers)
    assert [d.error for d in done.deliveries] == ["no answer", ""]


def test_a_crash_after_sending_leaves_the_try_counted(run, records):
    with pytest.raises(KeyboardInterrupt):
        run(Recorder(fault=KeyboardInterrupt()))
    row = rows(records).iloc[0]
    assert row["tries"] == 1
    assert "the program stopped while sending" in row["error"]


def test_a_crash_while_sending_drops_nothing(run):
    with pytest.raises(KeyboardInterrupt):
        run(Recorder(fault=KeyboardInterrupt()))
    phone = Recorder()
    run(phone, now=LATER)
    assert len(phone.got) == 1


def test_an_alert_that_may_have_come_before_says_so(run):
    first, second = Recorder(fault=KeyboardInterrupt()), Recorder()
    with pytest.raises(KeyboardInterrupt):
        run(first)
    run(second, now=LATER)
    assert second.got == [f"Maybe again: {first.got[0]}"]


def test_a_crash_between_raising_and_sending_drops_nothing(run, monkeypatch):
    def crash(*_, **__):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("swarmwatch.alerts.alerting.deliver", crash)
        with pytest.raises(KeyboardInterrupt):
            run(Recorder())
    phone = Recorder()
    run(phone, now=LATER)
    assert len(phone.got) == 1


def test_a_fault_while_raising_leaves_neither_alert_nor_level(run, records):
    with records.engine.begin() as connection:
        connection.exec_driver_sql(
            "create trigger refuse before insert on alert_levels "
            "begin select raise(abort, 'no'); end"
        )
    with pytest.raises(Exception, match="no"):
        run(Recorder())
    assert rows(records).empty


def test_while_one_program_sends_another_leaves_the_alert_alone(run, records):
    seen = []

    class Slow(Recorder):
        def send(self, messages):
            seen.extend(waiting(records, "phone", now=NOW))
            super().send(messages)

    run(Slow())
    assert seen == []


def test_two_programs_that_saw_the_same_alert_send_it_once(run, records):
    run(Recorder(fault=ChannelError("no answer")))
    both = [Recorder(), Recorder()]
    threads = [
        threading.Thread(target=deliver, args=(records, [c]), kwargs={"now": LATER}) for c in both
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(len(c.got) for c in both) == 1


def test_a_program_that_saw_an_alert_before_another_tried_it_leaves_it(run, records, monkeypatch):
    run(Recorder(fault=ChannelError("no answer")))
    stale = waiting(records, "phone", now=LATER)
    first, second = Recorder(fault=ChannelError("no answer")), Recorder()
    deliver(records, [first], now=LATER)
    monkeypatch.setattr("swarmwatch.alerts.outbox.waiting", lambda *_, **__: stale)
    deliver(records, [second], now=LATER)
    assert second.got == []


def test_what_was_sent_waits_no_longer(run, records):
    run(Recorder())
    assert waiting(records, "phone", now=LATER) == []


def test_two_programs_at_once_raise_once(tmp_path, scores, numbers):
    path = tmp_path / "bees.sqlite"
    with open_records(path, create=True):
        pass
    frame, phones = scores({"colony": "Birch"}), [Recorder(), Recorder()]

    def program(phone):
        with open_records(path) as store:
            raise_and_deliver(store, frame, on=ON, now=NOW, channels=[phone], evidence=numbers)

    threads = [threading.Thread(target=program, args=(p,)) for p in phones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(len(p.got) for p in phones) == 1


def test_a_rise_to_a_higher_level_is_another_alert(run):
    phone = Recorder()
    run(phone, {"colony": "Birch", "level": "act", "p_7d": 0.3})
    run(phone, {"colony": "Birch"}, now=LATER)
    assert len(phone.got) == 2


def test_a_dip_under_the_line_and_back_on_the_same_evening_is_the_same_alert(run):
    phone = Recorder()
    run(phone)
    run(phone, {"colony": "Birch", "level": "quiet", "p_7d": 0.01}, now=LATER)
    run(phone, now=LATER)
    assert len(phone.got) == 1


def test_a_box_alert_names_the_box_and_no_colony(records, scores, numbers):
    box = {
        "boxes": pd.DataFrame({"box": ["B1"]}),
        "checks": pd.DataFrame({"box": ["B1"], "date": [ON], "scouts": [12]}),
    }
    records.store(box, at=NOW, by="test")
    frame = scores({"colony": "Birch", "level": "quiet", "p_7d": 0.0})
    raise_and_deliver(records, frame, on=ON, now=NOW, channels=[Recorder()], evidence=numbers)
    row = rows(records).iloc[0]
    assert (row["box"], row["colony"], row["level"]) == ("B1", None, "act")


def test_a_box_and_a_colony_of_one_name_are_two_alerts(records, scores, numbers):
    box = {
        "boxes": pd.DataFrame({"box": ["Birch"]}),
        "checks": pd.DataFrame({"box": ["Birch"], "date": [ON], "occupied": ["yes"]}),
    }
    records.store(box, at=NOW, by="test")
    phone = Recorder()
    frame = scores({"colony": "Birch"})
    raise_and_deliver(records, frame, on=ON, now=NOW, channels=[phone], evidence=numbers)
    assert len(phone.got) == 2


def test_the_terminal_gets_all_that_waits_at_once(run):
    digests = []
    terminal = Terminal(lambda messages: digests.append(len(messages)))
    run(terminal, {"colony": "Birch"}, {"colony": "Ash"})
    assert digests == [2]


def test_the_most_urgent_of_one_run_comes_first(run):
    phone = Recorder()
    act = [{"colony": c, "level": "act", "p_7d": 0.3} for c in ("Ash", "Oak", "Elm")]
    run(phone, *act[:2], {"colony": "Birch"}, act[2])
    assert phone.got[0].startswith("Birch")


def test_a_terminal_that_went_away_leaves_the_alerts_waiting(run, records):
    def broken(_messages):
        raise BrokenPipeError

    with pytest.raises(BrokenPipeError):
        run(Terminal(broken))
    assert rows(records)["sent_at"].isna().all()


def test_a_name_with_sql_in_it_is_kept_as_it_is(run, records):
    name = "Robert'); DROP TABLE alerts;--"
    run(Recorder(), {"colony": name})
    assert rows(records)["colony"].tolist() == [name]


def test_the_key_differs_by_subject_level_day_and_channel():
    usual = {"subject": "colony:Birch", "level": "act", "on_day": ON, "channel": "phone"}
    others = [
        {"subject": "box:Birch"},
        {"level": "today"},
        {"on_day": ON + timedelta(days=1)},
        {"channel": "mail"},
    ]
    assert len({key_of(**usual), *(key_of(**(usual | o)) for o in others)}) == 5


def test_an_alert_sent_survives_a_power_cut(tmp_path, scores, numbers):
    path = tmp_path / "bees.sqlite"
    with open_records(path, create=True) as store:
        frame = scores({"colony": "Birch"})
        raise_and_deliver(store, frame, on=ON, now=NOW, channels=[Recorder()], evidence=numbers)
        # a second reader sees what is on the disk while the first is still open
        with sqlite3.connect(path) as reader:
            sent = reader.execute("select count(*) from alerts where sent_at is not null")
            assert sent.fetchone() == (1,)
        reader.close()


class Busy:
    """A service that refuses so many times before it takes a message."""

    together = False

    def __init__(self, refusals, **how):
        self.name, self.left, self.how, self.got = "phone", refusals, how, []

    def send(self, messages):
        self.got.append([m.text for m in messages])
        if self.left > 0:
            self.left -= 1
            message = "busy"
            raise ChannelError(message, **self.how)


@pytest.fixture
def tried(records, scores, numbers):
    """Run once with waits of 1 and 5 s; return how long was waited and what was done."""

    def once(channel, *cells, now=NOW, **manners):
        slept = []
        frame = scores(*(cells or ({"colony": "Birch"},)))
        how = Manners(**{"waits_s": (1, 5)} | manners, sleep=slept.append)
        done = raise_and_deliver(
            records, frame, on=ON, now=now, channels=[channel], evidence=numbers, manners=how
        )
        return slept, done

    return once


def test_a_busy_service_is_tried_again_after_longer_and_longer_waits(tried, records):
    phone = Busy(2, passing=True)
    slept, done = tried(phone)
    assert slept == [1, 5]
    assert len(phone.got) == 3
    assert [d.error for d in done.deliveries] == [""]
    assert rows(records)["tries"].tolist() == [3]


def test_after_the_last_wait_it_is_left_for_the_next_run(tried, records):
    phone = Busy(5, passing=True)
    slept, done = tried(phone)
    assert slept == [1, 5]
    assert [d.error for d in done.deliveries] == ["busy"]
    assert rows(records)["sent_at"].isna().all()


def test_a_fault_that_will_not_pass_is_not_tried_again(tried):
    assert tried(Busy(1))[0] == []


def test_what_may_have_come_is_sent_once_more_and_says_so(tried):
    phone = Busy(1, unsure=True)
    assert tried(phone)[0] == []
    tried(phone, now=LATER)
    tried(phone, now=LATER + timedelta(days=1))
    (first,), (second,) = phone.got
    assert second == f"Maybe again: {first}"


def test_what_may_have_come_says_so_after_a_clear_refusal_in_between_too(tried, records):
    phone = Busy(1, unsure=True)
    tried(phone)
    phone.left, phone.how = 1, {}
    tried(phone, now=LATER)
    tried(phone, now=LATER + timedelta(hours=1))
    (first,), (refused,), (sent,) = phone.got
    assert refused == sent == f"Maybe again: {first}"
    assert rows(records)["sent_at"].notna().all()


def test_a_channel_that_is_down_for_three_days_gets_each_alert_once_when_it_is_back(tried):
    phone = Busy(3 * 4 * 3, passing=True)
    for hours in range(0, 72, 6):
        tried(phone, now=NOW + timedelta(hours=hours))
    assert phone.left == 0
    phone.got.clear()
    for hours in (72, 78):
        tried(phone, now=NOW + timedelta(hours=hours))
    assert len(phone.got) == 1


def test_quiet_hours_hold_an_alert_until_a_run_after_them(tried):
    phone, quiet = Busy(0), QuietHours.read("17-19")
    assert tried(phone, quiet=quiet)[1].held == 1
    assert phone.got == []
    assert tried(phone, now=NOW + timedelta(hours=2), quiet=quiet)[1].held == 0
    assert len(phone.got) == 1


def test_a_thousand_alerts_at_once_are_one_message_each_in_it_once(tried):
    phone = Busy(0)
    tried(phone, *({"colony": f"Hive {i:04d}"} for i in range(1000)), digest="today")
    (message,) = phone.got
    assert len(message) == 1000
    assert len({text.split(":")[0] for text in message}) == 1000
    tried(phone, *({"colony": f"Hive {i:04d}"} for i in range(1000)), digest="today", now=LATER)
    assert len(phone.got) == 1


def test_a_digest_that_fails_waits_whole(tried, records):
    phone = Busy(1)
    tried(phone, {"colony": "Birch"}, {"colony": "Alder"}, digest="today")
    assert rows(records)["error"].tolist() == ["busy", "busy"]
    tried(phone, {"colony": "Birch"}, {"colony": "Alder"}, digest="today", now=LATER)
    assert [len(m) for m in phone.got] == [2, 2]
    assert rows(records)["sent_at"].notna().all()
