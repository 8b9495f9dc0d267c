"""The state folder: everything one running server keeps, held by one supervisor at a time."""

import fcntl
import hashlib
import json
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Self

from deploy.accounts import Account, can_reach
from deploy.ports import LOOPBACK, any_free, is_free

HOLD = "supervisor.lock"


class StateHeld(Exception):
    """Another running server holds the folder, or one above it."""


class StateUnusable(Exception):
    """The folder cannot be made, written or reached."""


def default_folder(repository: Path, account: Account | None) -> Path:
    """Where the state goes when nobody says: `.state` in the repository if that works, else its own place.

    Root's home is closed to the database account, and a read-only repository to everybody.
    """
    beside = repository / ".state"
    mark = hashlib.sha256(str(repository).encode()).hexdigest()[:8]
    if account is not None:
        return beside if can_reach(repository, account) else Path("/var/lib") / f"kennel-{mark}"
    if beside.exists() or os.access(repository, os.W_OK):
        return beside
    home = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state")
    return home / f"kennel-{mark}"


class State:
    """One state folder.  Entering it takes hold of it; a second supervisor gets StateHeld."""

    def __init__(self, folder: Path, account: Account | None = None) -> None:
        self.folder = folder.absolute()
        self.account = account
        self.logs = self.folder / "log"
        self.mail = self.folder / "mail"
        self.secrets = self.folder / "secrets"
        self.programs = self.folder / "programs"
        self._hold: int | None = None

    def __enter__(self) -> Self:
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._refuse_inside_another()
            self._take_hold()
            self._make_parts()
        except OSError as refusal:
            self.__exit__()
            raise StateUnusable(
                f"The state folder {self.folder} cannot be used: {refusal.strerror}."
            ) from refusal
        if not can_reach(self.folder, self.account):
            assert self.account is not None
            self.__exit__()
            raise StateUnusable(
                f"As root the database runs as the user {self.account.name}, who may not enter {self.folder};"
                " choose another place with --state, for example /var/lib/kennel."
            )
        return self

    def __exit__(self, *_: object) -> None:
        if self._hold is not None:
            os.close(self._hold)
            self._hold = None

    def _make_parts(self) -> None:
        # Only now that the folder is ours: a second server must not change what the first one needs.  With a
        # server account others may pass through, to folders that are closed in their turn; nobody may look.
        self.folder.chmod(0o711 if self.account else 0o700)
        for part in (self.logs, self.mail, self.secrets):
            part.mkdir(exist_ok=True)
            part.chmod(0o700)

    def _refuse_inside_another(self) -> None:
        for above in self.folder.parents:
            if (above / HOLD).exists() and _is_held(above / HOLD):
                raise StateHeld(f"{self.folder} lies inside {above}, which a running server holds.")

    def _take_hold(self) -> None:
        door = os.open(self.folder / HOLD, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(door, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.pread(door, 20, 0).decode().strip() or "unknown"
            os.close(door)
            raise StateHeld(
                f"A server is already running on {self.folder} (process {holder})."
                " Stop it first, or use another folder with --state."
            ) from None
        os.ftruncate(door, 0)
        os.pwrite(door, str(os.getpid()).encode(), 0)
        self._hold = door

    def secret(self, name: str, length: int = 32) -> str:
        """The secret of that name, made at the first call and the same ever after."""
        path = self.secrets / name
        if not path.exists():
            write_private(path, secrets.token_urlsafe(length))
        return path.read_text()

    def secret_path(self, name: str) -> Path:
        """File of a secret, made when missing."""
        self.secret(name, 48)
        return self.secrets / name

    def port(self, name: str, host: str = LOOPBACK) -> int:
        """Port of a part: last time's while it is free, else another, remembered."""
        path = self.folder / "ports.json"
        known: dict[str, int] = read_json(path) or {}
        if name not in known or not is_free(known[name], host):
            known[name] = any_free(host, taken=known.values())
            write_private(path, json.dumps(known))
        return known[name]

    def parts(self) -> Iterator[Path]:
        """Folders a server of ours may be running in."""
        yield self.folder / "postgres" / "data"
        yield self.folder / "valkey"


def read_json(path: Path) -> Any:
    """Content of a JSON file, or None when it is missing or was cut short by a crash."""
    try:
        return json.loads(path.read_text())
    except (FileNotFoundError, ValueError):
        return None


def write_private(path: Path, text: str) -> None:
    """Write a file only its owner may read, whole or not at all, also through a crash or power cut."""
    unfinished = path.with_name(f".{path.name}.new")
    unfinished.unlink(missing_ok=True)
    handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w") as file:
        file.write(text)
        file.flush()
        os.fsync(handle)
    unfinished.replace(path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _is_held(path: Path) -> bool:
    try:
        door = os.open(path, os.O_RDONLY)
    except PermissionError:
        return False
    try:
        fcntl.flock(door, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(door)
    return False
