"""Which port each part listens on: the one of last time while it is free, so that addresses stay put."""

import errno
import socket
import sys
from collections.abc import Iterable
from dataclasses import dataclass

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


@dataclass
class Claim:
    """A port promised to one server of ours, long before that server listens on it.

    The web server shares its port among its processes, and the kernel would let a second server of the same
    user join in.  So the promise is a name that only one process of this network can hold (Linux: an abstract
    socket); it ends with the process.
    """

    port: int
    hold: socket.socket | None

    def release(self) -> None:
        """Give the promise up."""
        if self.hold is not None:
            self.hold.close()


def claim(port: int, host: str = LOOPBACK) -> Claim | None:
    """The promise of a free port, or None when somebody listens on it or was promised it."""
    hold = None
    if sys.platform == "linux":
        hold = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            hold.bind(f"\0kennel-server-port-{port}")
        except OSError:
            hold.close()
            return None
    if is_free(port, host):
        return Claim(port, hold)
    if hold is not None:
        hold.close()
    return None


def web_port(asked: int | None, default: int, host: str = LOOPBACK) -> Claim:
    """The port asked for, or the first free one from the default on, promised to us.  Raises PortBusy.

    asked 0 stands for any free port.
    """
    if asked == 0:
        while True:
            if found := claim(any_free(host), host):
                return found
    if asked is not None:
        if found := claim(asked, host):
            return found
        raise PortBusy(f"Port {asked} is taken or not allowed for this user; choose another with --port.")
    for port in range(default, default + 100):
        if found := claim(port, host):
            return found
    raise PortBusy(f"No port from {default} to {default + 99} is free; choose one with --port.")
