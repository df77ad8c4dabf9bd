"""How long five hundred yards' season takes from kept answers, without asking anybody."""

import datetime as dt
import json
import threading
import tracemalloc
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest

from data_sources.session import open_session
from data_sources.weather.asking import weather_for
from data_sources.weather.providers import open_meteo

TODAY = dt.date(2026, 6, 5)
FIRST, LAST = dt.date(2026, 3, 1), dt.date(2026, 6, 18)


def answer(query):
    """An invented answer of the service's shape, for the days that were asked for."""
    if "start_date" in query:
        first = dt.date.fromisoformat(query["start_date"][0])
        count = (dt.date.fromisoformat(query["end_date"][0]) - first).days + 1
    else:
        first = TODAY - dt.timedelta(days=int(query["past_days"][0]))
        count = (TODAY - first).days + int(query["forecast_days"][0])
    units = {"temperature_2m_max": "°C", "temperature_2m_min": "°C", "precipitation_sum": "mm"}
    units |= {"wind_speed_10m_max": "m/s", "sunshine_duration": "s"}
    return {
        "utc_offset_seconds": 0,
        "daily_units": {"time": "iso8601"} | units,
        "daily": {"time": [(first + dt.timedelta(days=i)).isoformat() for i in range(count)]}
        | {name: [9.5 if name.endswith("max") else 4.2] * count for name in units},
    }


class Service(BaseHTTPRequestHandler):
    def do_GET(self):
        body = json.dumps(answer(parse_qs(urlsplit(self.path).query))).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_):
        pass


@pytest.mark.parametrize("count", [500])
def test_a_season_of_many_yards_comes_from_kept_answers(benchmark, tmp_path, count):
    # plainly run, one yard of it is enough
    count = count if benchmark.enabled else 3
    places = {f"yard {i}": (40 + i / 50, 10.0) for i in range(count)}
    with ThreadingHTTPServer(("127.0.0.1", 0), Service) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
        thread.start()
        url = f"http://127.0.0.1:{server.server_port}"
        providers = open_meteo(forecast_url=url, archive_url=url)
        days = {"first_day": FIRST, "last_day": LAST, "today": TODAY, "providers": providers}
        with open_session(tmp_path / "kept.sqlite", pause_s=0.0) as session:
            weather_for(session, places, **days)
        server.shutdown()
        thread.join()

    def from_kept():
        with open_session(tmp_path / "kept.sqlite") as session:
            return weather_for(session, places, **days)

    asked = benchmark.pedantic(from_kept, rounds=2, iterations=1)
    assert len(asked.table) == count * ((LAST - FIRST).days + 1)
    assert asked.notices == ()
    if benchmark.enabled:
        tracemalloc.start()
        table = from_kept().table
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        multiple = round(peak / table.memory_usage(deep=True).sum(), 1)
        benchmark.extra_info["peak memory as a multiple of the answer's"] = multiple
