"""Which litters the facts just written are about: looked up once for all reactions of a write."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast
from uuid import UUID

from django.db import connection

from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Saved

_MEMO = "litters_concerned"


@dataclass(frozen=True, slots=True)
class Concerned:
    """A litter some facts are about.

    youngest_born_at: of its pups that the facts name.  has_tables: whether the kennel keeps growth tables.
    """

    id: int
    uid: UUID
    is_open: bool
    youngest_born_at: datetime
    has_tables: bool


def pups_concerned(saved: Sequence[Saved]) -> set[int]:
    """Internal ids of the pups these facts name now, or named before they were corrected."""
    return {pup for one in saved for pup in (one.value("pup_id"), (one.before or {}).get("pup_id")) if pup}


def litters_concerned(saved: Sequence[Saved], door: Door) -> Sequence[Concerned]:
    """The litters of those pups.  One query for a list of facts, however many reactions ask."""
    kept = door.memo.get(_MEMO)
    if kept is not None and kept[0] is saved:
        return cast(Sequence[Concerned], kept[1])
    pups = pups_concerned(saved)
    return look_and_do(saved, pups, door) if pups else ()


def look_and_do(
    saved: Sequence[Saved], pups: set[int], door: Door, doing: str = "", values: Sequence[Any] = ()
) -> Sequence[Concerned]:
    """Find the litters of these pups, keep them for the next reaction, and do something with them in one statement.

    doing: further parts of the WITH, each beginning with a comma, over `concerned`; values: their parameters.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            WITH concerned AS (
                SELECT l.id, l.uid, l.deleted_at IS NULL AND l.closed_on IS NULL AS is_open, p.youngest
                FROM (
                    SELECT litter_id, max(born_at) AS youngest FROM litters_pup
                    WHERE kennel_id = %s AND id = ANY(%s::bigint[]) GROUP BY litter_id) p
                JOIN litters_litter l ON l.kennel_id = %s AND l.id = p.litter_id
            ) {doing}
            SELECT id, uid, is_open, youngest, EXISTS (
                SELECT FROM litters_growthtable WHERE kennel_id = %s AND deleted_at IS NULL) FROM concerned
            """,  # noqa: S608 - constants of ours
            [door.kennel.id, store.array(pups), door.kennel.id, *values, door.kennel.id],
        )
        found = [Concerned(*row) for row in cursor.fetchall()]
    door.memo[_MEMO] = (saved, found)
    return found
