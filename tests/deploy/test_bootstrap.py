"""The lock, the stamp, and what is said when the environment cannot be made."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from deploy import bootstrap


@pytest.mark.parametrize("command", ["start", "test"])
def test_every_locked_package_carries_a_sha256_and_no_address_of_a_registry(command: str) -> None:
    text = bootstrap.lock_file(command).read_text()
    packages = bootstrap.locked(command)
    assert len(packages) > 50
    for name, lines in packages.items():
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", lines), name
    assert "://" not in text
    assert "index-url" not in text


def test_the_test_lock_holds_the_same_releases_as_the_start_lock() -> None:
    start, tests = bootstrap.locked("start"), bootstrap.locked("test")

    def releases(lines: str) -> set[str]:
        return set(re.findall(r"^[A-Za-z0-9._-]+(?:\[[^]]*])?==\S+", lines, re.MULTILINE))

    assert {name: releases(lines) for name, lines in start.items()} == {
        name: releases(tests[name]) for name in start
    }


def test_names_are_compared_as_registries_compare_them() -> None:
    # Examples of the packaging specification, "Names and normalization".
    names = [
        "friendly-bard",
        "Friendly-Bard",
        "FRIENDLY-BARD",
        "friendly.bard",
        "friendly_bard",
        "FrIeNdLy-._.-bArD",
    ]
    assert {bootstrap.normal(name) for name in names} == {"friendly-bard"}


def environment_like(folder: Path, command: str) -> Path:
    """A folder with a Python in it and the stamp of a command."""
    (folder / "bin").mkdir(parents=True)
    (folder / "bin" / "python").symlink_to(sys.executable)
    (folder / "kennel-stamp.json").write_text(json.dumps(bootstrap.stamp_for(command)))
    return folder


def test_the_test_environment_serves_the_start_command_but_not_the_other_way_round(tmp_path: Path) -> None:
    for_start, for_test = environment_like(tmp_path / "s", "start"), environment_like(tmp_path / "t", "test")
    assert bootstrap.is_current(for_start, "start")
    assert bootstrap.is_current(for_test, "start")
    assert bootstrap.is_current(for_test, "test")
    assert not bootstrap.is_current(for_start, "test")


def test_a_stamp_of_another_lock_or_python_or_a_missing_python_is_not_current(tmp_path: Path) -> None:
    for number, change in enumerate([{"lock": "0" * 64}, {"python": "3.9.1"}]):
        folder = environment_like(tmp_path / str(number), "start")
        (folder / "kennel-stamp.json").write_text(json.dumps(bootstrap.stamp_for("start") | change))
        assert not bootstrap.is_current(folder, "start")
    broken = environment_like(tmp_path / "broken", "start")
    (broken / "bin" / "python").unlink()
    (broken / "bin" / "python").symlink_to(tmp_path / "gone")
    assert not bootstrap.is_current(broken, "start")
    (tmp_path / "half").mkdir()
    (tmp_path / "half" / "kennel-stamp.json").write_text('{"lock": "ab')
    assert not bootstrap.is_current(tmp_path / "half", "start")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_to_is_said_in_words(tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    with pytest.raises(bootstrap.CannotPrepare, match="cannot be written to by this user"):
        bootstrap.prepare(closed / ".venv", "start")


def test_pips_own_words_are_shown_when_it_fails() -> None:
    program = "import sys; print('No matching distribution found for wool-bands'); sys.exit(1)"
    with pytest.raises(bootstrap.CannotPrepare, match="No matching distribution found for wool-bands"):
        bootstrap.run_pip([sys.executable, "-c", program])


def test_the_shims_refuse_an_old_python_with_the_remedy(tmp_path: Path) -> None:
    """A PATH with only the tools the shim needs and a python3 that says it is too old."""
    for tool in ("dirname", "basename", "sh"):
        (tmp_path / tool).symlink_to(f"/bin/{tool}" if Path(f"/bin/{tool}").exists() else f"/usr/bin/{tool}")
    (tmp_path / "python3").write_text("#!/bin/sh\nexit 1\n")
    (tmp_path / "python3").chmod(0o755)
    for name in ("start", "test", "manage"):
        done = subprocess.run(
            [bootstrap.REPOSITORY / "deploy" / name],
            env={"PATH": str(tmp_path)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 1
        assert "Python 3.11 or newer is needed" in done.stderr
