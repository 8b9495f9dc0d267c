"""Advice beside whelping-box climate: whether it is in the published range of the litter's age."""

from collections.abc import Sequence

from django.db import connection

from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Draft
from litters.domain.neonate import completed_days, pup_zone_target_c
from litters.services.chips import clear

CODES = ("box_cold", "box_warm")
_LITTERS = """
    SELECT l.id, l.whelped_at, EXISTS (SELECT 1 FROM litters_pup p WHERE p.kennel_id = l.kennel_id
        AND p.litter_id = l.id AND p.deleted_at IS NULL AND p.rearing = 'hand_fed' AND p.fate = 'living')
    FROM litters_litter l WHERE l.kennel_id = %s
      AND l.id IN (SELECT value::bigint FROM json_array_elements_text(%s))
"""


def climates_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Warn of a reading where the pups lie that is outside the range of their age.  One query.

    Hand-fed pups have no dam beside them: for them the range of orphans counts.
    """
    read = [d for d in drafts if d.columns.get("litter_id") is not None and d.input.surface_c is not None]
    for draft in drafts:
        clear(draft, CODES)
    if not read:
        return
    with connection.cursor() as cursor:
        cursor.execute(_LITTERS, [door.kennel.id, store.dump([d.columns["litter_id"] for d in read])])
        litters = {row[0]: row[1:] for row in cursor.fetchall()}
    for draft in read:
        whelped_at, is_orphaned = litters[draft.columns["litter_id"]]
        if whelped_at is None or draft.input.occurred_at < whelped_at:
            continue
        age_h = (draft.input.occurred_at - whelped_at).total_seconds() / 3600
        span = pup_zone_target_c(completed_days(age_h), is_orphaned)
        if span is None or span.low <= float(draft.input.surface_c) <= span.high:
            continue
        is_cold = float(draft.input.surface_c) < span.low
        draft.warn(
            "box_cold" if is_cold else "box_warm",
            f"Where the pups lie {span.low:g} to {span.high:g} °C is published for this age ({span.source}; "
            f"{span.status}). Watch the pups: in a heap they are cold, spread out and panting too hot.",
        )
