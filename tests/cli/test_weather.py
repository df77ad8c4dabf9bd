"""The verb `weather` against a real local server."""

import datetime as dt
import json
import shutil
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.records import open_records
from swarmwatch.weather import daily_weather

RUN = CliRunner()


def _answer():
    today = dt.datetime.now(dt.UTC).date()
    days = [today + dt.timedelta(days=d) for d in range(-3, 4)]
    # invented values of the documented shape
    return {
        "latitude": 57.0,
        "longitude": 26.0,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "daily_units": {
            "time": "iso8601",
            "temperature_2m_max": "°C",
            "temperature_2m_min": "°C",
            "precipitation_sum": "mm",
            "wind_speed_10m_max": "m/s",
            "sunshine_duration": "s",
        },
        "daily": {
            "time": [d.isoformat() for d in days],
            "temperature_2m_max": [17.0, 18.0, 19.0, 20.0, 21.0, 22.0, None],
            "temperature_2m_min": [7.0, 8.0, 9.0, 10.0, 11.0, 12.0, None],
            "precipitation_sum": [0.0] * 7,
            "wind_speed_10m_max": [4.0] * 7,
            "sunshine_duration": [3600.0] * 7,
        },
    }


def _years(query):
    """An invented answer of the archive: every day asked for, warm in July."""
    first, last = (dt.date.fromisoformat(query[k][0]) for k in ("start_date", "end_date"))
    days = [first + dt.timedelta(days=i) for i in range((last - first).days + 1)]
    warm = [10 - abs(d.timetuple().tm_yday - 200) / 12 for d in days]
    answer = _answer()
    return answer | {
        "daily": {name: [1.0] * len(days) for name in answer["daily"]}
        | {
            "time": [d.isoformat() for d in days],
            "temperature_2m_max": [w + 10 for w in warm],
            "temperature_2m_min": warm,
        }
    }


def _members(query):
    """An invented ensemble of 20 members, ever wider apart."""
    first = dt.date.fromisoformat(query["start_date"][0])
    days = [(first + dt.timedelta(days=i)).isoformat() for i in range(3)]
    daily, units = {"time": days}, {"time": "iso8601"}
    for name, base in (("temperature_2m_max", 20.0), ("temperature_2m_min", 5.0)):
        for member in range(20):
            key = f"{name}_member{member:02d}" if member else name
            daily[key] = [base + (member - 10) * lead / 10 for lead in range(3)]
            units[key] = "°C"
    return {"daily": daily, "daily_units": units, "utc_offset_seconds": 0}


class _Server(ThreadingHTTPServer):
    fails = False
    rich = False  # answers for past years and members too
    elevation = None
    seen = None

    def answer(self, path):
        query = parse_qs(urlsplit(path).query)
        if self.rich and "models" in query:
            return _members(query)
        if self.rich and "start_date" in query:
            return _years(query)
        place = {} if self.elevation is None else {"elevation": self.elevation}
        return _answer() | place | {"timezone": "Pacific/Auckland"}


class _Handler(BaseHTTPRequestHandler):
    def do_GET(self):
        self.server.seen = dict(self.headers)
        body = b"no" if self.server.fails else json.dumps(self.server.answer(self.path)).encode()
        self.send_response(500 if self.server.fails else 200)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_):
        pass


@pytest.fixture
def server():
    with _Server(("127.0.0.1", 0), _Handler) as running:
        # asked to stop, it looks up after the poll, half a second unless told
        thread = threading.Thread(target=running.serve_forever, args=(0.01,), daemon=True)
        thread.start()
        yield running
        running.shutdown()
        thread.join()


@pytest.fixture
def records(tmp_path, monkeypatch):
    monkeypatch.setenv("SWARMWATCH_CACHE", str(tmp_path / "kept"))
    path = tmp_path / "bees.sqlite"
    made = RUN.invoke(app, ["new", "--records", str(path), "--apiary", "Home", "--place", "57,26"])
    assert made.exit_code == 0, made.output
    return str(path)


def fetch(records, server, *more):
    url = f"http://127.0.0.1:{server.server_port}/v1/forecast"
    return RUN.invoke(app, ["weather", "--records", records, "--server", url, *more])


def test_days_are_fetched_kept_and_credited(records, server):
    result = fetch(records, server)
    assert result.exit_code == 0, result.output
    assert "6 days new" in result.stdout
    assert "Open-Meteo.com" in result.stderr
    with open_records(records) as store:
        kept = store.frame("weather")
    assert list(kept["apiary"].unique()) == ["Home"]
    assert set(kept["kind"]) == {"observed", "forecast"}


def test_a_failing_service_leaves_one_plain_line_and_nothing_else(records, server):
    server.fails = True
    result = fetch(records, server)
    assert result.exit_code == 0
    assert result.stdout == ""
    assert result.stderr == (
        "Open-Meteo answered 500. Try again later. Until then the score uses what the records "
        "hold, and the usual weather of the place beyond.\n"
    )


def test_a_dead_server_leaves_one_plain_line_and_nothing_else(records, server):
    server.shutdown()
    server.server_close()
    result = fetch(records, server)
    assert result.exit_code == 0
    assert result.stdout == ""
    assert result.stderr.startswith("Open-Meteo can't be reached, and no older answer is kept.")
    assert result.stderr.endswith("the usual weather of the place beyond.\n")
    assert result.stderr.count("\n") == 1


def test_offline_uses_what_was_kept(records, server):
    fetch(records, server)
    server.fails = True
    result = fetch(records, server, "--offline")
    assert result.exit_code == 0, result.output
    assert "0 days new" in result.stdout


def test_an_unknown_yard_names_the_closest(records, server):
    result = fetch(records, server, "--apiary", "Hme")
    assert "Home" in str(result.exception)


def status(records, *more):
    return RUN.invoke(app, ["weather", "--status", "--records", records, *more])


def test_the_status_of_a_yard_without_weather_says_so(records):
    result = status(records)
    assert result.exit_code == 0
    assert result.stdout.startswith("Home: no weather kept.")


def test_the_status_says_age_provider_and_gaps(records, server):
    fetch(records, server)
    said = status(records).stdout
    assert "(Open-Meteo)" in said
    assert "fetched 0 minutes ago" in said
    assert "89 of the last 92 days not observed" in said


def test_the_status_is_told_to_machines_too(records, server):
    fetch(records, server)
    document = json.loads(status(records, "--json").stdout)
    assert document["schema"] == "swarmwatch/weather-status/1"
    (row,) = document["rows"]
    assert (row["apiary"], row["provider"], row["gaps"]) == ("Home", "Open-Meteo", 89)


def test_the_status_asks_nobody(records, server):
    status(records)
    assert server.seen is None


@pytest.mark.parametrize("more", [["--offline"], ["--status"], ["--status", "--json"]])
def test_the_verb_works_on_the_demo_without_a_network(records_of_demo, tmp_path, monkeypatch, more):
    monkeypatch.setenv("SWARMWATCH_CACHE", str(tmp_path))
    path = shutil.copy(records_of_demo, tmp_path)
    result = RUN.invoke(app, ["weather", "--records", path, "--apiary", "Long Rye", *more])
    assert result.exit_code == 0, result.output
    assert "Traceback" not in result.output


def test_rows_come_as_json(records, server):
    document = json.loads(fetch(records, server, "--json").stdout)
    assert document["schema"] == "swarmwatch/weather/1"
    assert {r["provider"] for r in document["rows"]} == {"Open-Meteo"}


def test_a_contact_is_shown_to_the_service_and_without_one_none(records, server):
    fetch(records, server, "--contact", "keeper@example.org\r\nX-Evil: 1")
    assert server.seen["User-Agent"].endswith("(keeper@example.org X-Evil: 1)")
    assert "X-Evil" not in server.seen


def test_a_wrong_service_is_refused_by_name(records):
    result = RUN.invoke(app, ["weather", "--records", records, "--provider", "frog"])
    assert "Choose from open-meteo" in str(result.exception)


def test_the_yards_day_is_that_of_its_own_zone(records, server):
    fetch(records, server)
    with open_records(records) as store:
        assert store.setting("time zone of Home") == "Pacific/Auckland"


def test_a_blank_height_is_filled_and_said(records, server):
    server.elevation = 61.0
    result = fetch(records, server)
    assert "61 m by Open-Meteo's map" in result.stderr
    with open_records(records) as store:
        assert store.frame("apiaries")["elevation_m"].tolist() == [61.0]
    assert "61 m" not in fetch(records, server).stderr


def test_past_years_become_normal_rows_once(records, server):
    server.rich = True
    fetch(records, server)
    with open_records(records) as store:
        kept = store.frame("weather")
    normal = kept[kept["kind"] == "normal"]
    assert len(normal) == 366
    last = dt.datetime.now(dt.UTC).year - 1
    assert set(normal["provider"]) == {f"normal of {last - 29}-{last} Open-Meteo"}
    assert "normal of" in status(records).stdout


def test_without_years_no_normal_rows_are_kept(records, server):
    fetch(records, server)
    with open_records(records) as store:
        assert "normal" not in set(store.frame("weather")["kind"])


def test_an_ensemble_reaches_the_weather_that_a_score_rests_on(records, server):
    server.rich = True
    fetch(records, server)
    today = dt.datetime.now(dt.UTC).date()
    with open_records(records) as store:
        daily = daily_weather(
            store.frame("weather"),
            apiary="Home",
            first=today,
            last=today + dt.timedelta(days=3),
            on=today,
            latitude=57.0,
        )
    spread = daily.loc[daily["kind"] == "forecast", "temp_sd_c"].dropna()
    assert len(spread) > 0
    assert spread.is_monotonic_increasing


def test_a_failing_service_does_not_touch_what_is_kept(records, server):
    fetch(records, server)
    with open_records(records) as store:
        before = store.frame("weather")
    server.fails = True
    result = fetch(records, server)
    assert result.exit_code == 0
    with open_records(records) as store:
        assert store.frame("weather").equals(before)


STATION = "Day,High,Low,Rain\n05/14/2026,66.2,44.6,0.10\n05/15/2026,71.6,48.2,\n"
HOW = (
    "--column", "date=Day", "--column", "temp_max_c=High", "--column", "temp_min_c=Low",
    "--column", "rain_mm=Rain", "--unit", "temp_max_c=F", "--unit", "temp_min_c=F",
    "--unit", "rain_mm=in", "--date-format", "%m/%d/%Y",
)  # fmt: skip


@pytest.fixture
def station(tmp_path):
    path = tmp_path / "station.csv"
    path.write_text(STATION, encoding="utf-8")
    return path


def bring(records, path, *how):
    return RUN.invoke(app, ["weather", "--records", records, "--file", str(path), *how])


def test_a_stations_own_headings_and_units_come_in_and_nobody_is_asked(records, server, station):
    result = bring(records, station, *HOW, "--server", f"http://127.0.0.1:{server.server_port}/v1")
    assert result.exit_code == 0, result.output
    assert result.stdout == (
        "Weather of Home from station.csv: 2 days new, 0 corrected, 0 as before.\n"
    )
    assert server.seen is None
    with open_records(records) as store:
        kept = store.frame("weather")
    # 66.2 F, 44.6 F and 0.10 in by definition
    assert kept["temp_max_c"].tolist() == pytest.approx([19.0, 22.0])
    assert kept["temp_min_c"].tolist() == pytest.approx([7.0, 9.0])
    assert kept["rain_mm"].iloc[0] == pytest.approx(2.54)
    assert kept["rain_mm"].isna().tolist() == [False, True]
    assert set(kept["kind"]) == {"observed"}
    assert set(kept["provider"]) == {"own station"}
    assert set(kept["apiary"]) == {"Home"}


def test_a_stations_table_twice_changes_nothing_and_can_be_taken_back(records, station):
    bring(records, station, *HOW)
    assert "0 days new, 0 corrected, 2 as before" in bring(records, station, *HOW).stdout
    assert RUN.invoke(app, ["undo", "--records", records]).exit_code == 0
    with open_records(records) as store:
        assert store.frame("weather").empty


def test_a_faulty_station_table_is_named_by_row_and_nothing_comes_in(records, station):
    station.write_text(STATION.replace("71.6", "hot"), encoding="utf-8")
    result = bring(records, station, *HOW)
    assert "station.csv row 3, High: 'hot' is not a number" in str(result.exception)
    with open_records(records) as store:
        assert store.frame("weather").empty


def test_a_station_belongs_to_one_yard(records_of_demo, tmp_path, station):
    records = str(shutil.copy(records_of_demo, tmp_path))
    refused = str(bring(records, station, *HOW).exception)
    assert "say with --apiary which yard of Alder Edge, Dairy Lane, Long Rye" in refused
    one = bring(records, station, *HOW, "--apiary", "Long Rye", "--json")
    rows = json.loads(one.stdout)["rows"]
    assert [(r["apiary"], r["provider"]) for r in rows] == [("Long Rye", "own station")] * 2


@pytest.mark.parametrize("wrong", ["High", "=High", "temp_max_c="])
def test_a_heading_that_is_no_pair_says_how_to_write_it(records, station, wrong):
    result = bring(records, station, "--column", wrong)
    assert "Write it as temp_max_c=High" in str(result.exception)
