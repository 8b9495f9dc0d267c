"""Which port each part listens on: the one of last time while it is free, so that addresses stay put."""

import errno
import socket
from collections.abc import Iterable

LOOPBACK = "127.0.0.1"


class PortBusy(Exception):
    """Somebody else listens on the port that was asked for."""


def is_free(port: int, host: str = LOOPBACK) -> bool:
    """Whether a server could listen on the port now."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        # A port whose last connections are still fading away is free for a server, but not for a bare bind.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as refusal:
            if refusal.errno in {errno.EADDRINUSE, errno.EACCES}:
                return False
            raise
    return True


def any_free(host: str = LOOPBACK, taken: Iterable[int] = ()) -> int:
    """A free port chosen by the system, none of those already promised."""
    promised = set(taken)
    while True:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.bind((host, 0))
            port = int(probe.getsockname()[1])
        if port not in promised:
            return port


def web_port(asked: int | None, default: int, host: str = LOOPBACK) -> int:
    """The port asked for, or the first free one from the default on.  Raises PortBusy.

    asked 0 stands for any free port.
    """
    if asked == 0:
        return any_free(host)
    if asked is not None:
        if not is_free(asked, host):
            raise PortBusy(f"Port {asked} is taken or not allowed for this user; choose another with --port.")
        return asked
    for port in range(default, default + 100):
        if is_free(port, host):
            return port
    raise PortBusy(f"No port from {default} to {default + 99} is free; choose one with --port.")
