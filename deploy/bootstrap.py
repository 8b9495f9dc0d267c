"""Makes or repairs `.venv` from the lock, then becomes the command inside it.  Standard library and pip only.

A bare Debian has no ensurepip, so the environment is made without pip and filled by the system's pip from
outside (`pip --python`).  Every package is a wheel checked against the hashes of the lock.  A stamp
inside the environment says which lock and which Python it was made for.
"""

import collections
import fcntl
import hashlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import time
import venv
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parent.parent
LOCKS = {"start": "requirements.txt", "manage": "requirements.txt", "test": "requirements-test.txt"}
MODULES = {"start": "deploy.supervisor", "manage": "deploy.command", "test": "deploy.checks"}


class CannotPrepare(Exception):
    """The environment cannot be made; the text says why and what to do."""


def lock_file(command: str) -> Path:
    """Path of the lock a command needs."""
    return REPOSITORY / "deploy" / LOCKS[command]


def lock_hash(command: str) -> str:
    """SHA-256 of a command's lock."""
    return hashlib.sha256(lock_file(command).read_bytes()).hexdigest()


def stamp_for(command: str) -> dict[str, str]:
    """What the stamp of an environment for this command says."""
    version = ".".join(str(part) for part in sys.version_info[:3])
    return {"lock": lock_hash(command), "python": version}


def is_current(environment: Path, command: str) -> bool:
    """Whether the environment serves the command: the test environment serves `start` as well."""
    try:
        stamp = json.loads((environment / "kennel-stamp.json").read_text())
    except (OSError, ValueError):
        return False
    accepted = [stamp_for("test")] if command == "test" else [stamp_for("start"), stamp_for("test")]
    return stamp in accepted and runs(environment)


def interpreter(environment: Path) -> Path:
    """Python of an environment."""
    return environment / "bin" / "python"


def runs(environment: Path) -> bool:
    """Whether the environment's Python starts and is the version we were started with."""
    question = "import sys; print(*sys.version_info[:2], sep='.')"
    try:
        answer = subprocess.run(
            [interpreter(environment), "-I", "-c", question],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return answer.stdout.strip() == f"{sys.version_info[0]}.{sys.version_info[1]}"


def pip_command(environment: Path) -> list[str]:
    """The pip that fills the environment: the system's from outside, or its own where there is ensurepip.

    Raises CannotPrepare when there is neither.
    """
    if importlib.util.find_spec("pip"):
        return [sys.executable, "-m", "pip", "--python", str(interpreter(environment))]
    if importlib.util.find_spec("ensurepip"):
        subprocess.run(
            [interpreter(environment), "-m", "ensurepip", "--default-pip"], check=True, capture_output=True
        )
        return [str(interpreter(environment)), "-m", "pip"]
    raise CannotPrepare("pip is missing (Debian: apt-get install python3-pip).")


def locked(command: str) -> dict[str, str]:
    """Lines of a lock by package name; a name with several versions for several Pythons keeps them all."""
    packages: dict[str, str] = {}
    name = ""
    for line in lock_file(command).read_text().splitlines(keepends=True):
        if found := re.match(r"([A-Za-z0-9._-]+)(\[[^]]*])?==", line):
            name = normal(found[1])
        if name:
            packages[name] = packages.get(name, "") + line
    return packages


def normal(name: str) -> str:
    """A package's name as the registries compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def fill(environment: Path, command: str) -> None:
    """Install what the lock names and remove what no lock names.  Raises CannotPrepare."""
    pip = [*pip_command(environment), "--disable-pip-version-check", "--no-input"]
    install = [*pip, "install", "--progress-bar=off", "--no-deps", "--require-hashes"]
    # Wheels only: building a package would fetch its tools unchecked.
    run_pip([*install, "--only-binary=:all:", "-r", str(lock_file(command))])
    wanted = locked("start").keys() | locked("test").keys() | {"pip"}
    left = sorted(installed(environment) - wanted)
    if left:
        run_pip([*pip, "uninstall", "--quiet", "--yes", *left])


def installed(environment: Path) -> set[str]:
    """Names of the packages in an environment."""
    question = "import importlib.metadata as m; print(*(d.metadata['Name'] for d in m.distributions()))"
    answer = subprocess.run(
        [interpreter(environment), "-I", "-c", question], capture_output=True, text=True, check=True
    )
    return {normal(name) for name in answer.stdout.split()}


def run_pip(command: list[str]) -> None:
    """Run pip once, naming on a terminal what it is fetching.  Raises CannotPrepare when it fails."""
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert process.stdout is not None
    last: collections.deque[str] = collections.deque(maxlen=25)
    for line in process.stdout:
        last.append(line.rstrip())
        if sys.stdout.isatty() and line.startswith("Collecting "):
            print(f"\r\033[K  {line.split()[1][:70]}", end="", flush=True)
    if sys.stdout.isatty():
        print("\r\033[K", end="", flush=True)
    if process.wait():
        raise CannotPrepare("pip could not install the packages:\n\n" + "\n".join(last))


def prepare(environment: Path, command: str) -> None:
    """Make the environment current.  Raises CannotPrepare, with the reason, when that cannot be done."""
    place = environment if environment.exists() else environment.parent
    if not os.access(place, os.W_OK):
        raise CannotPrepare(
            f"The packages belong in {environment}, and that folder cannot be written to by this user.\n"
            "Make it writable, run this command once as its owner, or name another folder: KENNEL_VENV=DIR."
        )
    began = time.monotonic()
    print("Installing packages into .venv (once; about 70 MB to fetch) ...", flush=True)
    (environment / "kennel-stamp.json").unlink(missing_ok=True)
    if not runs(environment):
        if environment.exists():
            shutil.rmtree(environment)
        venv.create(environment, with_pip=False, symlinks=True)
    fill(environment, command)
    if not runs(environment):
        raise CannotPrepare(f"{interpreter(environment)} does not run; remove {environment} and try again.")
    fresh = environment / "kennel-stamp.new"
    fresh.write_text(json.dumps(stamp_for(command)))
    fresh.replace(environment / "kennel-stamp.json")
    print(f"Packages installed in {time.monotonic() - began:.1f} s.", flush=True)


def ensure(environment: Path, command: str) -> None:
    """Make the environment current, one process at a time: a second start waits for the first."""
    if is_current(environment, command):
        return
    with Path(__file__).open() as door:
        fcntl.flock(door, fcntl.LOCK_EX)
        if not is_current(environment, command):
            prepare(environment, command)


def main() -> int:
    """Prepare, then become the command.  Returns 1 when the environment cannot be made."""
    command, arguments = sys.argv[1], sys.argv[2:]
    environment = Path(os.environ.get("KENNEL_VENV") or REPOSITORY / ".venv").absolute()
    os.environ["KENNEL_STARTED"] = os.environ.get("KENNEL_STARTED") or str(time.time())
    try:
        ensure(environment, command)
    except (CannotPrepare, OSError, subprocess.CalledProcessError) as problem:
        print(f"Cannot start: {problem}", file=sys.stderr)
        return 1
    os.environ["PYTHONPATH"] = str(REPOSITORY)
    # -P: a module of the folder we were called from must never stand in for one of ours.
    python = str(interpreter(environment))
    os.execv(python, [python, "-P", "-m", MODULES[command], *arguments])


if __name__ == "__main__":
    sys.exit(main())
