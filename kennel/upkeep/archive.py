"""The backup file: a tar with manifest, database dump and media, each named with its SHA-256."""

import hashlib
import io
import json
import os
import shutil
import tarfile
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

FORMAT = 1
MANIFEST, DUMP = "manifest.json", "database.dump"


class Damaged(Exception):
    """The file is not a whole backup."""


@dataclass(frozen=True)
class Manifest:
    """What a backup says of itself.

    tables: table -> [rows, order-free hash of all rows].  files: member -> SHA-256 in hexadecimal.
    """

    format: int
    made_at: str
    release: str
    migrations: list[str]
    postgres: str
    tables: dict[str, list[Any]]
    files: dict[str, str]


def sha256_of(stream: IO[bytes]) -> str:
    """SHA-256 of a stream, read in pieces."""
    digest = hashlib.sha256()
    while piece := stream.read(1 << 20):
        digest.update(piece)
    return digest.hexdigest()


def pack(target: Path, manifest: Manifest, dump: Path) -> None:
    """Write the archive beside its final name, force it to the disk, then rename.  A failure leaves no file."""
    half = target.with_name(f".{target.name}.part")
    try:
        with half.open("xb") as raw, tarfile.open(fileobj=raw, mode="w") as tar:
            os.chmod(half, 0o600)
            text = json.dumps(asdict(manifest), indent=1, sort_keys=True).encode()
            about = tarfile.TarInfo(MANIFEST)
            about.size, about.mode = len(text), 0o600
            tar.addfile(about, io.BytesIO(text))
            tar.add(dump, DUMP)
        with half.open("rb") as written:
            os.fsync(written.fileno())
        half.rename(target)
    finally:
        half.unlink(missing_ok=True)


def unpack(source: Path, folder: Path) -> Manifest:
    """Take the archive apart into a folder and check every byte against the manifest.  Raises Damaged."""
    try:
        with tarfile.open(source, mode="r:") as tar:
            names = tar.getnames()
            if names[:1] != [MANIFEST] or set(names) != {MANIFEST, DUMP}:
                raise Damaged("This is not a backup of the kennel server.")
            # Only the bytes of these two plain files; a link or a path of the archive's own choosing means nothing.
            for name in (MANIFEST, DUMP):
                member = tar.extractfile(name)
                if member is None:
                    raise Damaged("This is not a backup of the kennel server.")
                with member, (folder / name).open("wb") as written:
                    shutil.copyfileobj(member, written)
    except (tarfile.TarError, EOFError, OSError) as error:
        raise Damaged(f"The file cannot be read: {error}.") from error
    try:
        manifest = Manifest(**json.loads((folder / MANIFEST).read_text()))
    except (ValueError, TypeError) as error:
        raise Damaged("The manifest cannot be read.") from error
    if manifest.format != FORMAT:
        raise Damaged(f"This is a backup of format {manifest.format}; this release reads {FORMAT}.")
    for name, expected in manifest.files.items():
        with (folder / name).open("rb") as member:
            if sha256_of(member) != expected:
                raise Damaged(f"{name} is not what was backed up: a byte has changed.")
    return manifest
