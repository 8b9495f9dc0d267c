"""Runs one management command as the owner of a state folder's records.

    ./deploy/manage [--state DIR] COMMAND ...        e.g. ./deploy/manage backup /media/usb/kennel.backup

While the server runs its database is used.  Otherwise PostgreSQL and Valkey are started for the command
alone, and no page or reminder runs meanwhile: the way to restore into an empty state folder.
"""

import argparse
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from deploy.accounts import NoAccount, server_account
from deploy.binaries import NoProgram, postgres_programs
from deploy.environment import REPOSITORY, Addresses, HalfConfigured, contract, own_databases
from deploy.postgres import APP, JOBS, OWNER, Cluster, PostgresFailed
from deploy.state import State, StateHeld, StateUnusable, default_folder, read_json
from deploy.valkey import Server, ValkeyFailed


@contextmanager
def variables_for(folder: Path | None) -> Iterator[dict[str, str]]:
    """Variables of an owner's command on a state folder; starts what is not running for as long as needed."""
    databases, redis = own_databases(os.environ), os.environ.get("REDIS_URL")
    account = None if databases and redis else server_account()
    state = State(folder or default_folder(REPOSITORY, account), account)
    with ExitStack() as started:
        try:
            known: dict[str, str] = {}
            if databases is None or redis is None:
                started.enter_context(state)
            if databases is None:
                cluster = started.enter_context(Cluster.of(state))
                databases = cluster.url(OWNER), cluster.url(APP), cluster.url(JOBS)
            if redis is None:
                redis = started.enter_context(Server.of(state)).url
        except StateHeld:
            known = read_json(state.secrets / "environment.json") or {}
            if "REDIS_URL" not in known:
                raise
            databases, redis = own_databases(known), known["REDIS_URL"]
        assert databases is not None
        assert redis is not None
        yield contract(
            Addresses(*databases, redis),
            state=state.folder,
            secret_key=state.secret_path("secret-key"),
            origin=os.environ.get("ORIGIN") or known.get("ORIGIN", "http://127.0.0.1:8000"),
            programs=postgres_programs(None, state.programs),
            email_url=os.environ.get("EMAIL_URL") or known.get("EMAIL_URL"),
        )


def main() -> int:
    """Run the command; returns its exit code, or 2 when the state folder cannot be used."""
    parser = argparse.ArgumentParser(prog="deploy/manage", description=__doc__.split("\n")[0])
    parser.add_argument("--state", type=Path, metavar="DIR")
    parser.add_argument("command", nargs=argparse.REMAINDER, help="help lists the commands")
    chosen = parser.parse_args()
    os.umask(0o077)
    try:
        with variables_for(chosen.state) as variables:
            command = [sys.executable, "-P", str(REPOSITORY / "manage.py"), *(chosen.command or ["help"])]
            return subprocess.run(command, env=variables, check=False).returncode
    except (StateHeld, StateUnusable, HalfConfigured, NoAccount) as refusal:
        print(refusal, file=sys.stderr)
        return 2
    except (NoProgram, PostgresFailed, ValkeyFailed) as failure:
        print(failure, file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main())
