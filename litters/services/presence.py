"""Advice beside facts about pups that have left or died: the fact is kept, the warning stays with it."""

from collections.abc import Sequence
from typing import Any

from django.db import connection

from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Draft

# Most pups are here and well: only for the others it matters when a fact was.  Over `t`, the pup.
EVER_ABSENT = """(t.fate <> 'living' OR EXISTS (SELECT FROM litters_departure d
    WHERE d.kennel_id = t.kennel_id AND d.pup_id = t.id AND d.deleted_at IS NULL))"""
_ABSENT = """
    SELECT a.place, p.fate, p.died_at < a.occurred_at AS had_died, away.left_at IS NOT NULL AS had_left
    FROM json_to_recordset(%s) AS a (place int, pup_id bigint, occurred_at timestamptz)
    JOIN litters_pup p ON p.kennel_id = %s AND p.id = a.pup_id
    LEFT JOIN LATERAL (
        SELECT d.occurred_at AS left_at FROM litters_departure d
        WHERE d.kennel_id = p.kennel_id AND d.pup_id = p.id AND d.deleted_at IS NULL AND d.occurred_at <= a.occurred_at
          AND NOT EXISTS (SELECT 1 FROM litters_return r WHERE r.kennel_id = p.kennel_id AND r.pup_id = p.id
              AND r.deleted_at IS NULL AND r.occurred_at >= d.occurred_at AND r.occurred_at <= a.occurred_at)
        ORDER BY d.occurred_at DESC LIMIT 1
    ) away ON true
    WHERE p.fate <> 'living' OR away.left_at IS NOT NULL
"""


def warn_absent(drafts: Sequence[Draft], door: Door) -> None:
    """Warn about facts of pups that had left, had died or were stillborn.  One query, none for pups that are here."""
    asked: list[dict[str, Any]] = [
        {"place": place, "pup_id": row.id, "occurred_at": draft.input.occurred_at}
        for place, draft in enumerate(drafts)
        if (row := draft.parents.get("pup")) is not None and row.needs_look
    ]
    if not asked:
        return
    with connection.cursor() as cursor:
        cursor.execute(_ABSENT, [store.dump(asked), door.kennel.id])
        for place, fate, had_died, had_left in cursor.fetchall():
            if had_left:
                drafts[place].warn("pup_left", "By the records this pup had gone home by then.")
            if fate == "stillborn" or had_died:
                drafts[place].warn("pup_not_living", "By the records this pup was not living then.")


def presence_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Rules of facts that have no others: only the advice about absent pups."""
    warn_absent(drafts, door)
