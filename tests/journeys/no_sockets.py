"""Code to begin a process with, in which every socket is refused.

The audit hook sees every socket that Python or a library asks for. All are refused; urllib3, which
comes with the map library, tries one at its import to learn whether the machine speaks IPv6, binds
it to this machine, and goes on without: that one is refused without a word.
"""

NO_SOCKETS = """
import sys

def refuse(event, arguments):
    if not event.startswith("socket.") or event == "socket.gethostname":
        return
    frame, names = sys._getframe(), []
    while frame is not None:
        names.append(frame.f_code.co_name)
        frame = frame.f_back
    if "_has_ipv6" not in names:
        sys.stderr.write(f"OPENED A SOCKET: {event}\\n")
    raise OSError(f"this run may not use the network: {event}")

sys.addaudithook(refuse)
"""
