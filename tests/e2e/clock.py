"""The clock of the tests' server: an offset in a file that its processes map; moved, it goes on ticking."""

import mmap
import struct
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

LONDON = ZoneInfo("Europe/London")


def london(text: str, *, second_time: bool = False) -> datetime:
    """An instant from London's wall time, `2026-10-24 17:00`; second_time: of an hour the clocks repeat."""
    return datetime.fromisoformat(text).replace(tzinfo=LONDON, fold=1 if second_time else 0).astimezone(UTC)


class MovedClock:
    """Sets the time of the server's processes at once, forwards or back."""

    def __init__(self, file: Path) -> None:
        self.file = file
        file.write_bytes(struct.pack("<d", 0.0))
        file.chmod(0o644)
        with file.open("r+b") as opened:
            self._offset_s = mmap.mmap(opened.fileno(), 8)

    def set(self, instant: datetime) -> None:
        """From now on it is this instant, and time goes on from there."""
        offset_s = (instant - datetime.now(UTC)).total_seconds()
        self._offset_s[:8] = struct.pack("<d", offset_s)

    def now(self) -> datetime:
        """What the server's processes take for now."""
        (offset_s,) = struct.unpack("<d", self._offset_s[:8])
        return datetime.fromtimestamp(datetime.now(UTC).timestamp() + offset_s, UTC)
