"""Advice beside chip codes of dogs and pups: what a code tells, and whether another animal has it too."""

from collections.abc import Sequence

from django.db import connection

from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Draft
from litters.domain.identification import ChipClass, chip_code

CODES = ("chip_invalid", "chip_test", "chip_not_iso", "chip_elsewhere")
_BY_CLASS = {
    ChipClass.INVALID: "chip_invalid",
    ChipClass.TEST: "chip_test",
    ChipClass.NON_ISO: "chip_not_iso",
}
# A pup that stays is a grown dog too: the same animal, the same chip.
_ELSEWHERE = {
    "litters_dog": """
        SELECT a.place, COALESCE(NULLIF(o.name, ''), NULLIF(o.band, ''), 'a pup')
        FROM json_to_recordset(%s) AS a (place int, chip text, uid uuid)
        JOIN litters_pup o ON o.kennel_id = %s AND o.chip_code = a.chip AND o.deleted_at IS NULL
        LEFT JOIN litters_dog same ON same.kennel_id = o.kennel_id AND same.id = o.grown_as_id
        WHERE same.uid IS DISTINCT FROM a.uid""",
    "litters_pup": """
        SELECT a.place, o.name FROM json_to_recordset(%s) AS a (place int, chip text, uid uuid, grown_as_id bigint)
        JOIN litters_dog o ON o.kennel_id = %s AND o.chip_code = a.chip AND o.deleted_at IS NULL
        WHERE o.id IS DISTINCT FROM a.grown_as_id""",
}


def warn_chips(drafts: Sequence[Draft], door: Door, table: str) -> None:
    """Warn about codes that cannot be right, will not do on papers, or stand on another animal.  One query.

    table: "litters_dog" or "litters_pup", whose drafts these are.  What is on the animal is recorded all the same.
    """
    coded = []
    for draft in drafts:
        clear(draft, CODES)
        if draft.input.chip_code:
            read = chip_code(draft.input.chip_code)
            if code := _BY_CLASS.get(read.chip_class):
                draft.warn(code, " ".join((*read.reasons, read.caution)))
            coded.append(draft)
    if not coded:
        return
    asked = [
        {
            "place": place,
            "chip": draft.input.chip_code,
            "uid": str(draft.uid),
            "grown_as_id": draft.columns.get("grown_as_id"),
        }
        for place, draft in enumerate(coded)
    ]
    with connection.cursor() as cursor:
        cursor.execute(_ELSEWHERE[table], [store.dump(asked), door.kennel.id])
        for place, name in cursor.fetchall():
            coded[place].warn("chip_elsewhere", f"{name} has this chip code too: have both read again.")


def clear(draft: Draft, codes: Sequence[str]) -> None:
    """Take out warnings that the rule is about to judge anew (a corrected record keeps those of other rules)."""
    if kept := draft.columns.get("warnings"):
        draft.columns["warnings"] = [one for one in kept if one["code"] not in codes]
