"""A small TCP proxy between client and server that can lose answers."""

import socket
import threading
from typing import Self

from deploy.ports import any_free


class Proxy:
    """Forwards to a port of this machine.  With `cuts_answers` the request goes through and the answer is lost:
    the server has sent it, so it has committed, and the client sees its connection end."""

    def __init__(self, target: int) -> None:
        self.target = target
        self.port = any_free()
        self.cuts_answers = False
        self.answers_cut = 0
        self._listener = socket.create_server(("127.0.0.1", self.port))
        self._thread = threading.Thread(target=self._accept, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join(5)

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            server = socket.create_connection(("127.0.0.1", self.target))
            threading.Thread(target=self._pump, args=(client, server, False), daemon=True).start()
            threading.Thread(target=self._pump, args=(server, client, True), daemon=True).start()

    def _pump(self, source: socket.socket, sink: socket.socket, answering: bool) -> None:
        try:
            while data := source.recv(65536):
                if answering and self.cuts_answers:
                    self.answers_cut += 1
                    break
                sink.sendall(data)
        except OSError:
            pass  # either side went away, which is what this proxy is for
        for end in (source, sink):
            try:
                end.shutdown(socket.SHUT_RDWR)
            except OSError:
                continue
