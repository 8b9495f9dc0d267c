"""Rules of dogs and pups: chip codes, parents that can be parents, no dog among its own ancestors."""

from collections.abc import Sequence

from django.db import connection

from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.services.chips import clear, warn_chips

PARENT_CODES = ("sire_not_male", "dam_not_female", "parent_not_older")
# Walks up from the new parents of every draft at once; UNION ends also in a circle that is there already.
_PARENTS = """
    WITH RECURSIVE asked AS (
        SELECT * FROM json_to_recordset(%s) AS a (place int, uid uuid, born_on date, sire_id bigint, dam_id bigint)
    ), up AS (
        SELECT a.place, p.id FROM asked a CROSS JOIN LATERAL (VALUES (a.sire_id), (a.dam_id)) AS p (id)
        WHERE p.id IS NOT NULL
        UNION
        SELECT u.place, p.id FROM up u JOIN litters_dog d ON d.kennel_id = %s AND d.id = u.id
        CROSS JOIN LATERAL (VALUES (d.sire_id), (d.dam_id)) AS p (id) WHERE p.id IS NOT NULL
    )
    SELECT a.place,
           EXISTS (SELECT 1 FROM up u JOIN litters_dog d ON d.kennel_id = %s AND d.id = u.id
                   WHERE u.place = a.place AND d.uid = a.uid),
           sire.sex = 'female', dam.sex = 'male', sire.born_on >= a.born_on OR dam.born_on >= a.born_on
    FROM asked a
    LEFT JOIN litters_dog sire ON sire.kennel_id = %s AND sire.id = a.sire_id
    LEFT JOIN litters_dog dam ON dam.kennel_id = %s AND dam.id = a.dam_id
"""


def dogs_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Chip advice, advice about unlikely parents, and a refusal of a dog that would descend from itself."""
    warn_chips(drafts, door, "litters_dog")
    for draft in drafts:
        clear(draft, PARENT_CODES)
    with_parents = [d for d in drafts if d.columns.get("sire_id") or d.columns.get("dam_id")]
    if not with_parents:
        return
    asked = [
        {
            "place": place,
            "uid": str(draft.uid),
            "born_on": draft.columns.get("born_on"),
            "sire_id": draft.columns.get("sire_id"),
            "dam_id": draft.columns.get("dam_id"),
        }
        for place, draft in enumerate(with_parents)
    ]
    here = door.kennel.id
    with connection.cursor() as cursor:
        cursor.execute(_PARENTS, [store.dump(asked), here, here, here, here])
        for place, is_own_ancestor, sire_is_bitch, dam_is_male, is_not_older in cursor.fetchall():
            draft = with_parents[place]
            if is_own_ancestor:
                draft.refuse(invalid("sire", "own_ancestor", "A dog cannot descend from itself."))
            if sire_is_bitch:
                draft.warn("sire_not_male", "By the records its sire is a bitch.")
            if dam_is_male:
                draft.warn("dam_not_female", "By the records its dam is a male.")
            if is_not_older:
                draft.warn("parent_not_older", "By the records a parent is not older than the dog.")


def pups_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Chip advice."""
    warn_chips(drafts, door, "litters_pup")
