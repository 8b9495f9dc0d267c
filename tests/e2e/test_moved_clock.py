"""The tests' clock moves the processes it is meant for, and no server that people start."""

import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from deploy.environment import REPOSITORY, Addresses, contract
from tests.e2e.clock import MovedClock, london
from tests.e2e.supervisor import HOOK

SAY_NOW = "from django.utils import timezone; print(timezone.now().isoformat())"


def now_in_a_process(file: Path, path: str) -> datetime:
    """What a new process takes for now."""
    environment = {**os.environ, "KENNEL_TEST_CLOCK": str(file), "PYTHONPATH": path}
    said = subprocess.run(
        [sys.executable, "-P", "-c", SAY_NOW], env=environment, capture_output=True, text=True, check=True
    )
    return datetime.fromisoformat(said.stdout.strip())


def test_a_moved_clock_moves_processes_with_the_hook_and_no_others(tmp_path: Path) -> None:
    clock = MovedClock(tmp_path / "clock")
    then = london("2026-10-25 01:30", second_time=True)
    clock.set(then)
    for now in (now_in_a_process(clock.file, f"{HOOK}:{REPOSITORY}"), clock.now()):
        assert timedelta(0) <= now - then < timedelta(minutes=1)
    assert abs(now_in_a_process(clock.file, str(REPOSITORY)) - datetime.now(UTC)) < timedelta(minutes=1)


def test_a_server_that_people_start_never_has_the_hook_on_its_path(tmp_path: Path) -> None:
    variables = contract(
        Addresses("owner", "app", "jobs", "redis"),
        state=tmp_path,
        secret_key=tmp_path / "key",
        origin="http://127.0.0.1:8000",
        programs=tmp_path,
        inherited={"PYTHONPATH": str(HOOK), "KENNEL_TEST_CLOCK": str(tmp_path / "clock")},
    )
    assert variables["PYTHONPATH"] == str(REPOSITORY)


@pytest.mark.parametrize("folder", ["kennel", "litters", "feeding", "health", "deploy"])
def test_nothing_of_the_product_knows_the_moved_clock(folder: str) -> None:
    sources = [file.read_text() for file in (REPOSITORY / folder).rglob("*.py")]
    assert sources
    assert not any("KENNEL_TEST_CLOCK" in source or "moved_clock" in source for source in sources)
