"""A real server on this machine that can be told to misbehave."""

import json
import socket
import struct
import threading
import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import pytest

from data_sources.session import open_session

# the shape is the service's, every value is invented
GOOD = {
    "latitude": 51.5,
    "longitude": -0.12,
    "generationtime_ms": 0.21,
    "utc_offset_seconds": 3600,
    "timezone": "Europe/London",
    "timezone_abbreviation": "BST",
    "elevation": 31.0,
    "daily_units": {
        "time": "iso8601",
        "temperature_2m_max": "°C",
        "temperature_2m_min": "°C",
        "precipitation_sum": "mm",
        "wind_speed_10m_max": "m/s",
        "sunshine_duration": "s",
    },
    "daily": {
        "time": ["2026-05-04", "2026-05-05", "2026-05-06", "2026-05-07"],
        "temperature_2m_max": [17.2, 19.8, 14.0, None],
        "temperature_2m_min": [6.1, 7.4, 5.5, None],
        "precipitation_sum": [0.0, 3.4, None, None],
        "wind_speed_10m_max": [4.9, 7.7, 6.0, None],
        "sunshine_duration": [31240.5, 9020.0, 0.0, None],
    },
}


class Misbehaving:
    """Answers well until `mode` says otherwise; counts the calls it gets."""

    def __init__(self) -> None:
        self.mode = "good"
        self.payload: object = GOOD
        self.calls: list[dict[str, list[str]]] = []
        self.headers_seen: list[dict[str, str]] = []
        server = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                server.calls.append(parse_qs(urlsplit(self.path).query))
                server.headers_seen.append(dict(self.headers.items()))
                getattr(server, "_" + server.mode.replace("-", "_"))(self)

            def log_message(self, *_: object) -> None:
                pass

        class Quiet(ThreadingHTTPServer):
            daemon_threads = True

            def handle_error(self, *_: object) -> None:
                pass  # broken pipes are what it is for

        self._http = Quiet(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._http.server_port}/v1/forecast"
        self._thread = threading.Thread(
            target=self._http.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True
        )
        self._thread.start()

    def stop(self) -> None:
        self._http.shutdown()
        self._http.server_close()
        self._thread.join()

    def _send(self, h, status: int, body: bytes, **headers: str) -> None:
        h.send_response(status)
        for name, value in {"Content-Length": str(len(body)), **headers}.items():
            h.send_header(name.replace("_", "-"), value)
        h.end_headers()
        h.wfile.write(body)

    def _good(self, h) -> None:
        self._send(h, 200, json.dumps(self.payload).encode())

    def _raw(self, h) -> None:
        self._send(h, 200, str(self.payload).encode())

    def _error_500(self, h) -> None:
        self._send(h, 500, b"oops")

    def _error_400(self, h) -> None:
        self._send(h, 400, b'{"error": true, "reason": "Invented: no such\\nvariable"}')

    def _error_403(self, h) -> None:
        self._send(h, 403, b"<html>Forbidden</html>")

    def _error_404(self, h) -> None:
        self._send(h, 404, b"not here")

    def _drip(self, h) -> None:
        body = json.dumps(self.payload).encode()
        h.send_response(200)
        h.send_header("Content-Length", str(len(body)))
        h.end_headers()
        for i in range(len(body)):
            h.wfile.write(body[i : i + 1])
            h.wfile.flush()
            time.sleep(0.05)

    def _flood(self, h) -> None:
        # no length is said: only the reader can stop it
        h.send_response(200)
        h.end_headers()
        for _ in range(50):
            h.wfile.write(b" " * 1_048_576)

    def _elsewhere(self, h) -> None:
        if h.headers["Host"].startswith("localhost"):
            self._good(h)
        else:
            self._send(h, 302, b"", Location=self.url.replace("127.0.0.1", "localhost"))

    def _limit_429(self, h) -> None:
        self._send(h, 429, b'{"error": true, "reason": "Daily API request limit exceeded."}')

    def _limit_429_long(self, h) -> None:
        self._send(h, 429, b'{"error": true, "reason": "Hourly"}', Retry_After="3600")

    def _limit_429_short(self, h) -> None:
        if len(self.calls) < 2:
            self._send(h, 429, b"{}", Retry_After="0")
        else:
            self._good(h)

    def _busy_once(self, h) -> None:
        if len(self.calls) < 2:
            self._send(h, 503, b"busy")
        else:
            self._good(h)

    def _reset(self, h) -> None:
        linger = struct.pack("ii", 1, 0)
        h.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
        h.connection.close()

    def _slow(self, h) -> None:
        time.sleep(0.6)
        self._good(h)

    def _truncated(self, h) -> None:
        body = json.dumps(self.payload).encode()
        h.send_response(200)
        h.send_header("Content-Length", str(len(body)))
        h.end_headers()
        h.wfile.write(body[: len(body) // 2])

    def _html_200(self, h) -> None:
        self._send(h, 200, b"<html><body>Please log in</body></html>")

    def _error_200(self, h) -> None:
        self._send(h, 200, b'{"error": true, "reason": "Invented"}')

    def _unequal(self, h) -> None:
        daily = {**GOOD["daily"], "precipitation_sum": [0.0]}
        self._send(h, 200, json.dumps({**GOOD, "daily": daily}).encode())

    def _no_number(self, h) -> None:
        self._send(h, 200, json.dumps(GOOD).replace("17.2", "NaN").encode())

    def _wrong_unit(self, h) -> None:
        units = {**GOOD["daily_units"], "wind_speed_10m_max": "Bft"}
        self._send(h, 200, json.dumps({**GOOD, "daily_units": units}).encode())

    def _nulls(self, h) -> None:
        nothing = {name: [None] * 4 for name in GOOD["daily"]} | {"time": GOOD["daily"]["time"]}
        self._send(h, 200, json.dumps({**GOOD, "daily": nothing}).encode())

    def _list(self, h) -> None:
        self._send(h, 200, json.dumps([GOOD]).encode())

    def _impossible(self, h) -> None:
        daily = {**GOOD["daily"], "wind_speed_10m_max": [468.5, 1.0, 1.0, None]}
        self._send(h, 200, json.dumps({**GOOD, "daily": daily}).encode())


@pytest.fixture
def server() -> Iterator[Misbehaving]:
    server = Misbehaving()
    yield server
    server.stop()


@pytest.fixture
def good_payload() -> dict:
    return json.loads(json.dumps(GOOD))


@pytest.fixture
def quick(tmp_path) -> Iterator[Callable]:
    """Open sessions that don't wait: short time-outs, no pauses; they are closed at the end."""
    opened = []

    def make(cache_file=tmp_path / "kept" / "answers.sqlite", **how):
        hasty = {"timeout_s": (2.0, 0.3), "retries": 1, "backoff_s": 0.0}
        how = {**hasty, "pause_s": 0.0, "rest_s": 0.0, **how}
        opened.append(open_session(cache_file, **how))
        return opened[-1]

    yield make
    for session in opened:
        session.close()
