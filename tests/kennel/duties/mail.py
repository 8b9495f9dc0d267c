"""A real SMTP server on loopback that keeps what it takes and can be told to answer badly."""

import asyncio
import email
import logging
import socket
import threading
from email.message import Message
from typing import Any

from aiosmtpd.controller import Controller


class _Handler:
    def __init__(self, sink: "Sink") -> None:
        self.sink = sink

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:
        if (answer := self.sink.rcpt_answer) is not None:
            return answer
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        message = email.message_from_bytes(envelope.content)
        answer = self.sink.data_answers.pop(0) if self.sink.data_answers else self.sink.data_answer
        if answer.startswith("250"):
            self.sink.keep(message, envelope.rcpt_tos)
        if self.sink.hang_after is not None and len(self.sink.taken) >= self.sink.hang_after:
            self.sink.is_hanging.set()
            await asyncio.sleep(self.sink.hang_s)
        return answer


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Sink:
    """Takes mail while the `with` lasts.

    data_answers: answers to the next messages; data_answer: to all others.  hang_after: keep the sender
    waiting for the answer once so many messages were taken.
    """

    def __init__(self) -> None:
        self.taken: list[Message] = []
        self.data_answer = "250 Taken"
        self.data_answers: list[str] = []
        self.rcpt_answer: str | None = None
        self.hang_after: int | None = None
        self.hang_s = 30.0
        self.is_hanging = threading.Event()
        self._lock = threading.Lock()
        self.port = _free_port()
        self._controller = Controller(_Handler(self), hostname="127.0.0.1", port=self.port, timeout=60)

    def keep(self, message: Message, recipients: list[str]) -> None:
        """Remember a message with its envelope."""
        message["X-Envelope-To"] = ", ".join(recipients)
        with self._lock:
            self.taken.append(message)

    def ids(self) -> list[str]:
        """Message-IDs in the order they were taken."""
        return [str(one["Message-ID"]) for one in self.taken]

    def to(self, address: str) -> list[Message]:
        """Messages to one address."""
        return [one for one in self.taken if one["X-Envelope-To"] == address]

    def wait_until_hanging(self, most_s: float = 30.0) -> None:
        """Block until a sender waits for an answer that does not come."""
        assert self.is_hanging.wait(most_s), "nobody is waiting for the mail server"

    def __enter__(self) -> "Sink":
        logging.getLogger("mail.log").setLevel(logging.ERROR)
        self._controller.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._controller.stop()
