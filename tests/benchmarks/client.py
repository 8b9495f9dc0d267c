"""A small fast client: keep-alive connections on raw sockets, in a process of its own.

python -m tests.benchmarks.client PORT PATH TOKEN CONNECTIONS SECONDS     prints requests a second

Any other answer than 2xx ends it with an error: a broken server must not look like a slow one.
"""

import socket
import sys
import time
from concurrent.futures import ThreadPoolExecutor


def read_answer(connection: socket.socket, buffer: bytearray) -> bytes:
    """Read one answer with a Content-Length; returns its body.  Raises RuntimeError unless it is 2xx."""
    while (end := buffer.find(b"\r\n\r\n")) < 0:
        piece = connection.recv(65536)
        if not piece:
            raise RuntimeError("the server closed the connection")
        buffer += piece
    head = bytes(buffer[:end]).lower()
    if not head.startswith((b"http/1.1 2",)):
        raise RuntimeError(bytes(buffer[:2000]).decode(errors="replace"))
    start = head.index(b"content-length:") + 15
    length = int(head[start : head.index(b"\r", start) if b"\r" in head[start:] else None])
    while len(buffer) < end + 4 + length:
        buffer += connection.recv(65536)
    body = bytes(buffer[end + 4 : end + 4 + length])
    del buffer[: end + 4 + length]
    return body


def main() -> None:
    """Ask again and again until the time is over."""
    port, path, token, connections, seconds = sys.argv[1:]
    message = (
        f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {token}\r\nConnection: keep-alive\r\n\r\n"
    ).encode()
    until = time.perf_counter() + float(seconds)

    def ask(_: int) -> int:
        count = 0
        with socket.create_connection(("127.0.0.1", int(port))) as connection:
            buffer = bytearray()
            while time.perf_counter() < until:
                connection.sendall(message)
                read_answer(connection, buffer)
                count += 1
        return count

    began = time.perf_counter()
    with ThreadPoolExecutor(int(connections)) as pool:
        total = sum(pool.map(ask, range(int(connections))))
    print(total / (time.perf_counter() - began))


if __name__ == "__main__":
    main()
