"""Rules of the whelping log: what does not belong to a line is refused, everything seen is kept."""

from collections.abc import Sequence

from django.db import connection

from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.choices import WhelpingKind
from litters.models.whelping_entry import APGAR_PARTS

_OTHER_LITTER = """
    SELECT a.place FROM json_to_recordset(%s) AS a (place int, pup_id bigint, litter_id bigint)
    JOIN litters_pup p ON p.kennel_id = %s AND p.id = a.pup_id WHERE p.litter_id <> a.litter_id
"""


def whelping_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """A viability score is whole and names its pup; a pup of another litter is said aloud."""
    for draft in drafts:
        given = [getattr(draft.input, f"apgar_{part}") is not None for part in APGAR_PARTS]
        if draft.input.kind == WhelpingKind.APGAR:
            if not all(given) or draft.input.pup is None:
                draft.refuse(
                    invalid(
                        "kind", "apgar", "A viability score needs its pup and all five parts, 0 to 2 each."
                    )
                )
        elif any(given):
            draft.refuse(invalid("kind", "apgar", "Only a viability score has these parts."))
    asked = [
        {"place": place, "pup_id": d.columns["pup_id"], "litter_id": d.columns["litter_id"]}
        for place, d in enumerate(drafts)
        if d.columns.get("pup_id") is not None and d.columns.get("litter_id") is not None
    ]
    if asked:
        with connection.cursor() as cursor:
            cursor.execute(_OTHER_LITTER, [store.dump(asked), door.kennel.id])
            for (place,) in cursor.fetchall():
                drafts[place].warn("other_litter", "By the records this pup belongs to another litter.")
