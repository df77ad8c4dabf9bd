"""How the server listens."""

import socket

from swarmwatch.page.serving import HERE, listen


def test_a_short_page_goes_out_at_once():
    (listening,) = listen([HERE], 0)
    with listening, socket.create_connection(listening.getsockname()):
        let_in, _ = listening.accept()
        with let_in:
            assert let_in.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
