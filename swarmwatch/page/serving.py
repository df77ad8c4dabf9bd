"""Serve the pages: which addresses are listened at, and how the server starts and ends."""

import gc
import http.client
import ipaddress
import logging
import socket
import sys
import threading
import time
from collections.abc import Callable, Sequence

import uvicorn
from starlette.types import ASGIApp

from swarmwatch.errors import UsageError
from swarmwatch.page.house import STYLE_AT

HERE = "127.0.0.1"
_NAMES_OF_HERE = (HERE, "localhost", "[::1]")
# an address of nobody (RFC 5737): asking the way there sends nothing
_NOWHERE = ("192.0.2.1", 9)
# more at once than a keeper's phones, few enough to bear [requests]
_AT_ONCE = 64
_START_S = 20.0
# how long sums beside a page keep it waiting each time that it has waited for a file [s]
_TURN_S = 0.0005


def lan_address() -> str:
    """Return this machine's address on its network.

    Raises
    ------
    UsageError
        It is on none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(_NOWHERE)
            found = str(asking.getsockname()[0])
        except OSError:
            found = HERE
    if ipaddress.ip_address(found).is_loopback:
        message = "this machine is on no network. Join one, or leave --lan out."
        raise UsageError(message)
    return found


def listen(addresses: Sequence[str], port: int) -> list[socket.socket]:
    """Listen at one port of some addresses of this machine; port 0 takes a free one.

    Raises
    ------
    UsageError
        The port is taken or may not be used.
    """
    sockets: list[socket.socket] = []
    try:
        for address in addresses:
            sockets.append(socket.create_server((address, port)))
            # who is let in inherits it: a short page would else wait for the phone's next answer
            sockets[-1].setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            port = sockets[0].getsockname()[1]
    except OSError as error:
        for opened in sockets:
            opened.close()
        message = (
            f"port {port} of {address} can't be used: {error.strerror or error}. End the other "
            "program that uses it, or give another with --port."
        )
        raise UsageError(message) from error
    return sockets


def names_of(sockets: Sequence[socket.socket]) -> frozenset[str]:
    """Return the host names with port that a server at these sockets goes by."""
    port = sockets[0].getsockname()[1]
    names = {*_NAMES_OF_HERE, *(s.getsockname()[0] for s in sockets)}
    return frozenset(f"{name}:{port}" for name in names)


def serve_until_ended(app: ASGIApp, sockets: Sequence[socket.socket]) -> None:
    """Serve until the keeper ends it."""
    # what was loaded and worked out so far stays: looking through it for rubbish stops every page
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(_TURN_S)
    _server(app).run(sockets=list(sockets))


def serve_while(
    app: ASGIApp, sockets: Sequence[socket.socket], doing: Callable[[str], None]
) -> None:
    """Serve while something is done, which is told the first address as ``host:port``."""
    server = _server(app)
    thread = threading.Thread(
        target=server.run, kwargs={"sockets": list(sockets)}, name="page", daemon=True
    )
    host, port = sockets[0].getsockname()
    thread.start()
    try:
        give_up_at = time.monotonic() + _START_S
        while not server.started and thread.is_alive() and time.monotonic() < give_up_at:
            time.sleep(0.01)
        doing(f"{host}:{port}")
    finally:
        server.should_exit = True
        thread.join()


def ask_once(host: str) -> int:
    """Ask a running server for its first page and style; return their size [bytes].

    Raises
    ------
    UsageError
        It does not answer as it should.
    """
    size = 0
    for path in ("/", STYLE_AT):
        connection = http.client.HTTPConnection(host, timeout=_START_S)
        try:
            connection.request("GET", path)
            answer = connection.getresponse()
            size += len(answer.read())
        except OSError as error:
            message = f"the page does not answer at http://{host}{path}: {error}."
            raise UsageError(message) from error
        finally:
            connection.close()
        if answer.status != http.client.OK:
            message = f"the page answers http://{host}{path} with fault {answer.status}."
            raise UsageError(message)
    return size


def _server(app: ASGIApp) -> uvicorn.Server:
    logging.getLogger("uvicorn").setLevel(logging.WARNING)
    config = uvicorn.Config(
        app,
        loop="asyncio",
        http="h11",
        ws="none",
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        # who asks is who is connected: a header may not say otherwise
        proxy_headers=False,
        limit_concurrency=_AT_ONCE,
        timeout_graceful_shutdown=2,
    )
    return uvicorn.Server(config)
