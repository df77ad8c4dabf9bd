"""The verb `weather` against a real local server."""

import datetime as dt
import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from typer.testing import CliRunner

from swarmwatch.cli.main import app
from swarmwatch.records import open_records

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


class _Server(ThreadingHTTPServer):
    fails = False


class _Handler(BaseHTTPRequestHandler):
    def do_GET(self):
        body = b"no" if self.server.fails else json.dumps(_answer()).encode()
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


def test_a_failing_service_leaves_a_plain_line_and_the_records_alone(records, server):
    server.fails = True
    result = fetch(records, server)
    assert result.exit_code == 1
    assert "usual weather of the place" in result.stderr
    assert "Traceback" not in result.output


def test_offline_uses_what_was_kept(records, server):
    fetch(records, server)
    server.fails = True
    result = fetch(records, server, "--offline")
    assert result.exit_code == 0, result.output
    assert "0 days new" in result.stdout


def test_an_unknown_yard_names_the_closest(records, server):
    result = fetch(records, server, "--apiary", "Hme")
    assert "Home" in str(result.exception)
