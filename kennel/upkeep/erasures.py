"""The erasure log: outside the database, so that a restored backup forgets again what people asked us to forget."""

import json
import os
from datetime import datetime
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db import connection

# record type -> (table, columns emptied)
ERASABLE: dict[str, tuple[str, dict[str, str]]] = {}


def log_path() -> Path:
    """Where the log lies."""
    return Path(settings.STATE_DIR) / "erasures.jsonl"


def remember(kennel_uid: UUID, type_name: str, uid: UUID, at: datetime) -> None:
    """Append one erasure and force it to the disk."""
    path = log_path()
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    line = json.dumps({"kennel": str(kennel_uid), "type": type_name, "uid": str(uid), "at": at.isoformat()})
    with open(path, "a", encoding="utf-8", opener=_private) as log:
        log.write(line + "\n")
        log.flush()
        os.fsync(log.fileno())


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def apply_again() -> int:
    """Erase again everything the log names (owner role, after a restore); returns how many rows it changed."""
    if not log_path().exists():
        return 0
    changed = 0
    entries = [
        json.loads(line) for line in log_path().read_text(encoding="utf-8").splitlines() if line.strip()
    ]
    for type_name, (table, emptied) in ERASABLE.items():
        uids = [(e["kennel"], e["uid"], e["at"]) for e in entries if e["type"] == type_name]
        if not uids:
            continue
        assignments = ", ".join(f'"{column}" = %s' for column in emptied)
        with connection.cursor() as cursor:
            cursor.execute(
                f'UPDATE "{table}" t SET {assignments}, erased_at = e.at::timestamptz '  # noqa: S608
                "FROM unnest(%s::uuid[], %s::uuid[], %s::text[]) AS e (kennel, uid, at), people_kennel k "
                "WHERE k.uid = e.kennel AND t.kennel_id = k.id AND t.uid = e.uid AND t.erased_at IS NULL",
                [*emptied.values(), [u[0] for u in uids], [u[1] for u in uids], [u[2] for u in uids]],
            )
            changed += cursor.rowcount
    return changed
