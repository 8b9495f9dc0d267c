"""A mail server for trials: takes every mail on 127.0.0.1 and keeps it as a file, sends nothing anywhere.

python -m deploy.mail_sink --port N --folder DIR
"""

import argparse
import asyncio
import itertools
import os
import time
from pathlib import Path

from aiosmtpd.smtp import SMTP, Envelope, Session

from deploy.ports import LOOPBACK

MOST_BYTES = 10 * 1024 * 1024
MOST_FILES = 2000


class Folder:
    """Keeps mails as .eml files, oldest names first, and at most MOST_FILES of them."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self.place.mkdir(parents=True, exist_ok=True)
        self._count = itertools.count()

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        """Store one mail before saying it was taken (aiosmtpd's hook)."""
        content = envelope.content
        assert isinstance(content, bytes)
        recipients = ", ".join(envelope.rcpt_tos)
        # The envelope's recipients are not in the mail itself; X-Envelope-To keeps them.
        self._store(f"X-Envelope-To: {recipients}\r\n".encode() + content)
        return "250 Kept in a file, not sent"

    def _store(self, content: bytes) -> None:
        name = f"{time.strftime('%Y%m%dT%H%M%SZ', time.gmtime())}-{os.getpid()}-{next(self._count):06}.eml"
        unfinished = self.place / f".{name}"
        unfinished.write_bytes(content)
        unfinished.replace(self.place / name)
        for old in sorted(self.place.glob("*.eml"))[:-MOST_FILES]:
            old.unlink(missing_ok=True)


async def serve(folder: Path, port: int) -> None:
    """Take mail until cancelled."""
    keep = Folder(folder)

    def talk() -> SMTP:
        return SMTP(keep, data_size_limit=MOST_BYTES, enable_SMTPUTF8=True, hostname="localhost", timeout=60)

    server = await asyncio.get_running_loop().create_server(talk, LOOPBACK, port)
    async with server:
        await server.serve_forever()


def main() -> None:
    """Serve until told to leave."""
    parser = argparse.ArgumentParser(prog="deploy.mail_sink")
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--folder", type=Path, required=True)
    chosen = parser.parse_args()
    asyncio.run(serve(chosen.folder, chosen.port))


if __name__ == "__main__":
    main()
