"""What carers do with messages themselves: the receipt that they have seen one, and another try of one."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import connection

from kennel.duties.choices import ActionKind
from kennel.duties.inputs import DutyActionInput
from kennel.records import service, types
from kennel.records.door import Door
from kennel.records.ids import new_uid
from kennel.records.refusals import FieldError, Refusal


def reminder_seen(uid: UUID, door: Door) -> None:
    """Note that the caller has seen this message of theirs, and tell the others so on its duties.

    Seen again changes nothing; seeing closes nothing.  Raises Refusal("not-found") for somebody else's
    message.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            """
            UPDATE duties_reminder SET seen_at = %s
            WHERE kennel_id = %s AND uid = %s AND carer_id = %s AND accepted_at IS NOT NULL
                AND seen_at IS NULL
            RETURNING id
            """,
            [door.at, door.kennel.id, uid, door.actor.carer_id],
        )
        fresh = cursor.fetchone()
        cursor.execute(
            """
            SELECT ARRAY(
                SELECT d.uid FROM duties_duty d WHERE d.kennel_id = r.kennel_id
                  AND (d.id = r.duty_id OR r.items ? d.uid::text) AND d.state = 'open'
                  AND NOT EXISTS (SELECT FROM duties_dutyaction a WHERE a.kennel_id = d.kennel_id
                      AND a.duty_id = d.id
                                  AND a.action = 'seen' AND a.recorded_by_id = r.carer_id
                                      AND a.deleted_at IS NULL)
                ORDER BY d.due_at, d.id LIMIT 200)
            FROM duties_reminder r WHERE r.kennel_id = %s AND r.uid = %s AND r.carer_id = %s
            """,
            [door.kennel.id, uid, door.actor.carer_id],
        )
        row = cursor.fetchone()
    if row is None:
        raise Refusal("not-found")
    if fresh is not None:
        _tell_seen(row[0], door)


def _tell_seen(duty_uids: Sequence[UUID], door: Door) -> None:
    record_type = types.by_name("duty-action")
    assert record_type is not None  # registered by this app itself
    fields: dict[str, Any] = {"action": ActionKind.SEEN.value, "occurred_at": door.at.isoformat()}
    items = [
        service.NewRecord(place, new_uid(), service.check(DutyActionInput, {**fields, "duty": str(duty)}))
        for place, duty in enumerate(duty_uids)
    ]
    for outcome in service.create(record_type, items, door):
        if outcome.refusal is not None:
            raise outcome.refusal


def reminder_retry(uid: UUID, door: Door) -> None:
    """Try an undelivered message once more, from the beginning of its retries.

    Raises Refusal("not-found"), or Refusal("validation") for one that is not undelivered or no longer useful.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT id, state, useful_until FROM duties_reminder WHERE kennel_id = %s AND uid = %s FOR NO KEY UPDATE",
            [door.kennel.id, uid],
        )
        row = cursor.fetchone()
        if row is None:
            raise Refusal("not-found")
        identifier, state, useful_until = row
        if state == "pending":
            return
        if state != "undelivered" or useful_until <= door.at:
            text = "Only an undelivered message that is still useful can be tried again."
            raise Refusal("validation", text, [FieldError("#", "state", text)])
        cursor.execute(
            """
            UPDATE duties_reminder SET state = 'pending', attempts = 0, claim_token = NULL,
                next_attempt_at = CASE WHEN id = %s THEN %s::timestamptz END
            WHERE kennel_id = %s AND (id = %s OR held_in_id = %s) AND state = 'undelivered'
            """,
            [identifier, door.at, door.kennel.id, identifier, identifier],
        )
