"""Child processes that cannot outlive us, and the cleaning up after those that did."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import psutil

from deploy.accounts import Account

MARK = "KENNEL_SUPERVISED_STATE"
PR_SET_PDEATHSIG = 1
_libc = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None


@dataclass
class Child:
    """One supervised process and what it takes to run it.

    stop_signal: asks it to leave in good order; it also gets it from the kernel the moment its parent dies
    (Linux).
    """

    name: str
    command: list[str]
    environment: Mapping[str, str]
    log: Path
    folder: Path | None = None
    account: Account | None = None
    stop_signal: signal.Signals = signal.SIGTERM
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def start(self) -> None:
        """Start it in a session of its own.  Call it from the main thread: the kernel watches the caller."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                self.command,
                env=dict(self.environment),
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                preexec_fn=_leave_with_parent(self.stop_signal),
                # The kernel forgets the wish to die with the parent when the user changes, so that comes
                # first; Popen changes the user before it calls preexec_fn.
                user=self.account.uid if self.account else None,
                group=self.account.gid if self.account else None,
                extra_groups=[] if self.account else None,
            )

    @property
    def pid(self) -> int | None:
        """Process number while it was last seen running."""
        return self.process.pid if self.process else None

    def running(self) -> bool:
        """Whether it runs.  What a dead one left behind in its session is ended."""
        if self.process is None:
            return False
        if self.process.poll() is None:
            return True
        self._end_group()
        return False

    def stop(self, seconds: float) -> bool:
        """Ask it to leave, wait, then end it and its session.  Returns whether it left by itself."""
        if not self.running():
            return True
        assert self.process is not None
        self.process.send_signal(self.stop_signal)
        try:
            self.process.wait(max(seconds, 0.1))
            left = True
        except subprocess.TimeoutExpired:
            left = False
            self.process.kill()
            self.process.wait()
        self._end_group()
        return left

    def _end_group(self) -> None:
        assert self.process is not None
        try:
            os.killpg(self.process.pid, signal.SIGKILL)
        except (ProcessLookupError, PermissionError):
            return  # nobody left in the group

    def tail(self, lines: int = 25) -> str:
        """Last lines of its log."""
        if not self.log.exists():
            return ""
        with self.log.open("rb") as log:
            log.seek(max(0, self.log.stat().st_size - 16_384))
            return "\n".join(log.read().decode(errors="replace").splitlines()[-lines:])


def _leave_with_parent(wish: signal.Signals) -> Callable[[], None] | None:
    if _libc is None:
        return None
    libc, parent = _libc, os.getpid()

    def ask_kernel() -> None:
        libc.prctl(PR_SET_PDEATHSIG, int(wish), 0, 0, 0)
        if os.getppid() != parent:  # the parent died before the kernel knew our wish
            os._exit(1)

    return ask_kernel


def leftovers(state: Path, folders: Iterable[Path]) -> list[psutil.Process]:
    """Processes of an earlier supervisor of this state: they carry its mark, or run inside a server's folder.

    PostgreSQL and Valkey overwrite their environment with a title, hence the folders.
    """
    ours = {os.getpid(), *(parent.pid for parent in psutil.Process().parents())}
    places = {str(folder) for folder in folders}
    found = []
    for process in psutil.process_iter():
        if process.pid in ours:
            continue
        try:
            if process.cwd() in places or process.environ().get(MARK) == str(state):
                found.append(process)
        except (psutil.NoSuchProcess, psutil.AccessDenied):
            continue  # gone meanwhile, or another user's
    return found


def end_leftovers(state: Path, folders: Iterable[Path], patience_s: float = 10.0) -> int:
    """End what an earlier supervisor left running; returns how many processes that were.

    They may be leaving already (their parent's death told them), so they are asked first and ended after
    `patience_s`.  PostgreSQL's main process understands SIGINT as a fast, clean stop.
    """
    places = list(folders)
    found = leftovers(state, places)
    numbers = {process.pid for process in found}
    for process in found:
        if _parent_number(process) not in numbers:  # a parent sends its own children home, in its own order
            _send(process, signal.SIGINT if _is_postmaster(process) else signal.SIGTERM)
    _, stubborn = psutil.wait_procs(found, timeout=patience_s)
    for process in stubborn:
        _send(process, signal.SIGKILL)
    psutil.wait_procs(stubborn, timeout=5)
    deadline = time.monotonic() + 5
    while (late := leftovers(state, places)) and time.monotonic() < deadline:
        for process in late:  # children of those just ended
            _send(process, signal.SIGKILL)
        psutil.wait_procs(late, timeout=1)
    return len(found)


def _parent_number(process: psutil.Process) -> int | None:
    try:
        return int(process.ppid())
    except psutil.NoSuchProcess:
        return None


def _is_postmaster(process: psutil.Process) -> bool:
    try:
        return (Path(process.cwd()) / "postmaster.pid").read_text().split("\n", 1)[0] == str(process.pid)
    except (OSError, psutil.NoSuchProcess, psutil.AccessDenied):
        return False


def _send(process: psutil.Process, wish: signal.Signals) -> None:
    try:
        process.send_signal(wish)
    except psutil.NoSuchProcess:
        return
