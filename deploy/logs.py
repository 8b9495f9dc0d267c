"""Keeps the log files from filling the disk of a machine nobody looks at."""

import shutil
from pathlib import Path

MOST_BYTES = 20 * 1024 * 1024


def rotate(folder: Path, most_bytes: int = MOST_BYTES) -> list[str]:
    """Move every log that grew too large to NAME.1 (replacing the one before); returns their names.

    The writers keep the file open for appending, so it is copied and emptied in place; lines written in
    between are lost, which a log can bear.
    """
    rotated = []
    for log in sorted(folder.glob("*.log")):
        if log.stat().st_size > most_bytes:
            shutil.copyfile(log, log.with_name(f"{log.name}.1"))
            with log.open("r+b") as file:
                file.truncate(0)
            rotated.append(log.name)
    return rotated
