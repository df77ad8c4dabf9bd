"""A service on loopback that keeps what it is sent, as a phone's would."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class _Receiver(BaseHTTPRequestHandler):
    def do_POST(self):
        length = int(self.headers["Content-Length"])
        self.server.got.append(json.loads(self.rfile.read(length)))
        self.send_response(self.server.answer)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *args):
        pass


@contextmanager
def receiving() -> Iterator[ThreadingHTTPServer]:
    """Run it: what came is in `got`; set `answer` to make it refuse."""
    with ThreadingHTTPServer(("127.0.0.1", 0), _Receiver) as server:
        server.got, server.answer = [], 200
        # asked to stop, it looks up after the poll, half a second unless told
        thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
        thread.start()
        yield server
        server.shutdown()
        thread.join()
