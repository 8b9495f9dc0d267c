"""Leaving the digests by one click (RFC 8058): a signed link, no session, no cookie."""

from uuid import UUID

from django.conf import settings
from django.core import signing
from django.db import connection

from kennel.records.door import Door

_SALT = "kennel.duties.unsubscribe"


def unsubscribe_url(kennel_uid: UUID, carer_id: int, channel: str) -> str:
    """Address that takes a POST and ends the digests of this carer on this channel."""
    token = signing.dumps([str(kennel_uid), carer_id, channel], salt=_SALT)
    return f"{settings.ORIGIN}/api/v1/kennels/{kennel_uid}/digests/unsubscribe/{token}"


def read_token(kennel_uid: UUID, token: str) -> tuple[int, str] | None:
    """(carer, channel) of a link's token; None for one that is not ours or of another kennel."""
    try:
        kennel, carer_id, channel = signing.loads(token, salt=_SALT)
    except (signing.BadSignature, ValueError):
        return None
    return (int(carer_id), str(channel)) if kennel == str(kennel_uid) else None


def choose(carer_id: int, channel: str, door: Door, *, is_on: bool = True, digests_on: bool = True) -> None:
    """Store what a carer wants to be told on a channel."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO duties_reminderchoice (kennel_id, carer_id, channel, is_on, digests_on)
            VALUES (%s, %s, %s, %s, %s)
            ON CONFLICT (kennel_id, carer_id, channel)
            DO UPDATE SET is_on = excluded.is_on, digests_on = excluded.digests_on
            """,
            [door.kennel.id, carer_id, channel, is_on, digests_on],
        )


def leave_digests(carer_id: int, channel: str, door: Door) -> None:
    """No digests any more on this channel; messages about single duties go on."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO duties_reminderchoice (kennel_id, carer_id, channel, is_on, digests_on)
            VALUES (%s, %s, %s, true, false)
            ON CONFLICT (kennel_id, carer_id, channel) DO UPDATE SET digests_on = false
            """,
            [door.kennel.id, carer_id, channel],
        )
