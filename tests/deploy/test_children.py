"""Children that leave with their parent, and the cleaning up after a killed one."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest

from deploy.children import MARK, Child, end_leftovers, leftovers
from deploy.environment import REPOSITORY

SLEEPER = [sys.executable, "-c", "import time; time.sleep(120)"]


def child(tmp_path: Path, command: list[str], **more: Any) -> Child:
    """A child with its log in a temporary folder."""
    return Child("sleeper", command, {**os.environ, MARK: str(tmp_path)}, tmp_path / "sleeper.log", **more)


def wait_until(what: Callable[[], object], seconds: float = 10.0) -> None:
    """Wait until something holds."""
    deadline = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < deadline, "did not happen in time"
        time.sleep(0.02)


def test_it_leaves_when_asked_and_its_log_keeps_what_it_said(tmp_path: Path) -> None:
    program = "import signal, time; print('hello', flush=True); signal.sigwait([signal.SIGTERM])"
    program = "import signal; signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGTERM]);" + program
    polite = child(tmp_path, [sys.executable, "-c", program])
    polite.start()
    wait_until(lambda: "hello" in polite.tail())
    assert polite.running()
    assert polite.stop(10) is True
    assert not polite.running()
    assert polite.process is not None
    assert polite.process.returncode == 0


def test_a_stubborn_one_is_ended_with_all_of_its_session(tmp_path: Path) -> None:
    program = textwrap.dedent("""
        import signal, subprocess, sys, time
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        inner = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(120)"])
        print(inner.pid, flush=True)
        time.sleep(120)
    """)
    stubborn = child(tmp_path, [sys.executable, "-c", program])
    stubborn.start()
    wait_until(lambda: stubborn.tail().strip())
    inner = psutil.Process(int(stubborn.tail()))
    assert stubborn.stop(0.2) is False
    wait_until(lambda: not inner.is_running() or inner.status() == psutil.STATUS_ZOMBIE)


def test_what_a_killed_one_left_in_its_session_is_ended_when_its_end_is_noticed(tmp_path: Path) -> None:
    program = (
        "import subprocess, sys, time; print(subprocess.Popen([sys.executable, '-c',"
        " 'import time; time.sleep(120)']).pid, flush=True); time.sleep(120)"
    )
    parent = child(tmp_path, [sys.executable, "-c", program])
    parent.start()
    wait_until(lambda: parent.tail().strip())
    inner = psutil.Process(int(parent.tail()))
    assert parent.pid is not None
    os.kill(parent.pid, signal.SIGKILL)
    wait_until(lambda: not parent.running())
    wait_until(lambda: not inner.is_running() or inner.status() == psutil.STATUS_ZOMBIE)


@pytest.mark.skipif(sys.platform != "linux", reason="the kernel's help is Linux only")
def test_a_child_leaves_when_its_parent_is_killed(tmp_path: Path) -> None:
    program = textwrap.dedent(f"""
        import os, sys, time
        from pathlib import Path
        from deploy.children import Child
        command = [sys.executable, "-c", "import time; time.sleep(120)"]
        child = Child("c", command, dict(os.environ), Path({str(tmp_path)!r}) / "log")
        child.start()
        print(child.pid, flush=True)
        time.sleep(120)
    """)
    environment = {**os.environ, "PYTHONPATH": str(REPOSITORY)}
    parent = subprocess.Popen(
        [sys.executable, "-P", "-c", program], env=environment, stdout=subprocess.PIPE, text=True
    )
    assert parent.stdout is not None
    inner = psutil.Process(int(parent.stdout.readline()))
    assert inner.is_running()
    parent.kill()
    parent.wait()
    parent.stdout.close()
    wait_until(lambda: not inner.is_running() or inner.status() == psutil.STATUS_ZOMBIE)


def test_leftovers_are_found_by_mark_or_by_folder_and_others_are_left_alone(tmp_path: Path) -> None:
    state, other = tmp_path / "state", tmp_path / "other"
    data = state / "postgres" / "data"
    data.mkdir(parents=True)
    marked = subprocess.Popen(SLEEPER, env={**os.environ, MARK: str(state)})
    inside = subprocess.Popen(SLEEPER, cwd=data)
    foreign = subprocess.Popen(SLEEPER, env={**os.environ, MARK: str(other)})
    try:
        wait_until(lambda: {entry.pid for entry in leftovers(state, [data])} == {marked.pid, inside.pid})
        assert end_leftovers(state, [data]) == 2
        assert not psutil.pid_exists(marked.pid)
        assert not psutil.pid_exists(inside.pid)
        assert foreign.poll() is None
        assert end_leftovers(state, [data]) == 0
    finally:
        for process in (marked, inside, foreign):
            process.kill()
            process.wait()


def test_a_leftover_that_does_not_leave_is_ended(tmp_path: Path) -> None:
    program = (
        "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN);"
        " print(1, flush=True); time.sleep(120)"
    )
    deaf = subprocess.Popen(
        [sys.executable, "-c", program], env={**os.environ, MARK: str(tmp_path)}, stdout=subprocess.PIPE
    )
    assert deaf.stdout is not None
    deaf.stdout.readline()
    assert end_leftovers(tmp_path, [], patience_s=0.3) == 1
    assert not psutil.pid_exists(deaf.pid)
    deaf.stdout.close()


def test_ourselves_and_those_who_started_us_are_never_leftovers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert leftovers(tmp_path, [tmp_path]) == []
