"""The system account PostgreSQL and Valkey run under when root starts the server.

PostgreSQL refuses to run as root.  Nobody's machine gets a new account made behind their back, so one that
exists is used: the owner of the data when there is some, else `kennel`, `postgres` or Debian's `daemon`
(meant for daemons that write to disk; Debian base-passwd, users-and-groups, from memory).
"""

import os
import pwd
import stat
from dataclasses import dataclass
from pathlib import Path

CANDIDATES = ("kennel", "postgres", "daemon", "nobody")


class NoAccount(Exception):
    """Root starts the server and no account to drop to exists."""


@dataclass(frozen=True)
class Account:
    """A system account to run a server under."""

    name: str
    uid: int
    gid: int


def server_account(data: Path | None = None) -> Account | None:
    """Account for the servers, or None when they run as the user who starts us (who is not root).

    data: an existing data folder; its owner is kept.  Raises NoAccount.
    """
    if os.geteuid() != 0:
        return None
    if data is not None and data.exists() and (owner := data.stat().st_uid) != 0:
        return _account(pwd.getpwuid(owner))
    names = (chosen,) if (chosen := os.environ.get("SERVER_ACCOUNT")) else CANDIDATES
    for name in names:
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        if entry.pw_uid != 0:
            return _account(entry)
    raise NoAccount(f"As root the database needs an account to run under; none of {', '.join(names)} exists.")


def _account(entry: pwd.struct_passwd) -> Account:
    return Account(entry.pw_name, entry.pw_uid, entry.pw_gid)


def can_reach(path: Path, account: Account | None) -> bool:
    """Whether the account may enter every existing folder on the way to path (permission bits, no ACLs)."""
    if account is None:
        return True
    return all(_may_enter(folder.stat(), account) for folder in (path, *path.parents) if folder.is_dir())


def _may_enter(status: os.stat_result, account: Account) -> bool:
    if status.st_uid == account.uid:
        return bool(status.st_mode & stat.S_IXUSR)
    if status.st_gid in os.getgrouplist(account.name, account.gid):
        return bool(status.st_mode & stat.S_IXGRP)
    return bool(status.st_mode & stat.S_IXOTH)


def give(path: Path, account: Account | None) -> None:
    """Make the account the owner of path; nothing to do when there is no account."""
    if account is not None:
        os.chown(path, account.uid, account.gid)
