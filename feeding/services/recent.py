"""Who fed the same animals shortly before: said beside the fact, so that nobody feeds twice unseen."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection

from kennel.clock.wall_clock import zone_of
from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Draft


def link_near(
    drafts: Sequence[Draft], door: Door, *, table: str, column: str, within: dict[int, timedelta], what: str
) -> None:
    """Link new entries to another of the same animals within the time given, and name who and when.

    column: of the animal or litter, both in the table and in the drafts.  within: by place in `drafts`.
    Also entries of the same list are compared.  One query.
    """
    new = [(place, d) for place, d in enumerate(drafts) if d.before is None and d.columns.get(column)]
    if not new:
        return
    asked = [
        {
            "place": place,
            "animal": draft.columns[column],
            "at": draft.input.occurred_at,
            "seconds": within[place].total_seconds(),
        }
        for place, draft in new
    ]
    with connection.cursor() as cursor:
        cursor.execute(
            f"""
            SELECT a.place, near.uid, near.occurred_at, near.who
            FROM json_to_recordset(%s) AS a (place int, animal bigint, at timestamptz, seconds float)
            CROSS JOIN LATERAL (
                SELECT t.uid, t.occurred_at, COALESCE(c.name, v.name, 'somebody') AS who
                FROM {table} t
                LEFT JOIN people_carer c ON c.id = t.recorded_by_id
                LEFT JOIN people_device v ON v.id = t.recorded_device_id
                WHERE t.kennel_id = %s AND t.{column} = a.animal AND t.deleted_at IS NULL
                  AND t.occurred_at BETWEEN a.at - make_interval(secs => a.seconds)
                                        AND a.at + make_interval(secs => a.seconds)
                ORDER BY abs(extract(epoch FROM t.occurred_at - a.at)), t.id LIMIT 1
            ) near
            """,  # noqa: S608 - table and column are names of this app
            [store.dump(asked), door.kennel.id],
        )
        for place, uid, at, who in cursor.fetchall():
            _say(drafts[place], uid, at, who, door, what)
    _within_the_list(new, door, column, within, what)


def _within_the_list(
    new: Sequence[tuple[int, Draft]], door: Door, column: str, within: dict[int, timedelta], what: str
) -> None:
    last: dict[int, Draft] = {}
    for place, draft in sorted(new, key=lambda pair: pair[1].input.occurred_at):
        before = last.get(draft.columns[column])
        if before is not None and draft.columns.get("possible_duplicate_of") is None:
            at = before.input.occurred_at
            if draft.input.occurred_at - at <= within[place]:
                _say(draft, before.uid, at, door.actor.name or "somebody", door, what)
        last[draft.columns[column]] = draft


def _say(draft: Draft, uid: UUID, at: datetime, who: str, door: Door, what: str) -> None:
    minutes = round((draft.input.occurred_at - at).total_seconds() / 60)
    clock = at.astimezone(zone_of(door.kennel.zone)).strftime("%H:%M")
    apart = f"{abs(minutes)} min {'before' if minutes >= 0 else 'after'}"
    draft.columns["possible_duplicate_of"] = uid
    draft.warn("fed_near", f"{what} {apart} this, at {clock}, by {who}; both are kept.")
