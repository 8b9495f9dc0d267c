"""What lies ahead of a litter or a dog follows its weights: meals, doses and weighings are planned again."""

from collections.abc import Sequence
from uuid import UUID

from django.db import connection

from kennel.duties.services import planning
from kennel.records.door import Door
from kennel.records.service import Saved


def weighings_follow(saved: Sequence[Saved], door: Door) -> None:
    """Weights were written, corrected or removed: the next tick plans their litters and dogs anew."""
    pups = {pup for one in saved for pup in (one.value("pup_id"), (one.before or {}).get("pup_id")) if pup}
    dogs = {dog for one in saved if (dog := one.parent_uid("dog")) is not None}
    dogs |= {UUID(one.before["dog"]) for one in saved if one.before and one.before["dog"]}
    subjects = [("litter", litter) for litter in _litters_of(pups, door)]
    planning.replan_later(door, subjects=subjects + [("dog", dog) for dog in sorted(dogs)])


def _litters_of(pups: set[int], door: Door) -> list[UUID]:
    if not pups:
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT DISTINCT l.uid FROM litters_pup p
            JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
            WHERE p.kennel_id = %s AND p.id = ANY(%s)
            """,
            [door.kennel.id, sorted(pups)],
        )
        return [uid for (uid,) in cursor.fetchall()]
