"""Erasing."""

from uuid import UUID

from django.db import connection

from kennel.contacts.registrations import PERSONAL
from kennel.records.door import Door
from kennel.records.refusals import Refusal
from kennel.upkeep import erasures


def contact_erase(uid: UUID, door: Door) -> None:
    """Empty a contact's personal values and remember it outside the database.  Raises Refusal("not-found").

    The log is written first: should the transaction fail afterwards, a restore erases once too often, never too seldom.
    """
    assignments = ", ".join(f"{column} = ''" for column in PERSONAL)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT erased_at FROM contacts_contact WHERE kennel_id = %s AND uid = %s", [door.kennel.id, uid]
        )
        row = cursor.fetchone()
        if row is None:
            raise Refusal("not-found")
        if row[0] is not None:
            return
        erasures.remember(door.kennel.uid, "contact", uid, door.at)
        cursor.execute(
            f"UPDATE contacts_contact SET {assignments}, erased_at = %s WHERE kennel_id = %s AND uid = %s",  # noqa: S608
            [door.at, door.kennel.id, uid],
        )
