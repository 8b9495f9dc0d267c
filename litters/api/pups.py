"""Finding the pup a path asks about."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import connection

from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.records.refusals import Refusal


@dataclass(frozen=True, slots=True)
class PupHead:
    """A pup and its litter."""

    id: int
    uid: UUID
    litter: UUID
    sex: str
    born_at: datetime


def pup_of(view: KennelView, uid: str) -> PupHead:
    """The pup of the path, inside an open door.  Raises Refusal("not-found")."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT p.id, p.uid, l.uid, p.sex, p.born_at FROM litters_pup p JOIN litters_litter l"
            " ON l.kennel_id = p.kennel_id AND l.id = p.litter_id AND l.deleted_at IS NULL"
            " WHERE p.kennel_id = %s AND p.uid = %s AND p.deleted_at IS NULL",
            [view.here.id, parse_uid(uid)],
        )
        row = cursor.fetchone()
    if row is None:
        raise Refusal("not-found")
    return PupHead(*row)
