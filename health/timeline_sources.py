"""Doses, health events and watches for a litter's timeline."""

from litters.timeline import Source

_PUP = (
    "litters_pup p JOIN {table} f ON f.kennel_id = p.kennel_id AND f.pup_id = p.id AND f.deleted_at IS NULL{joins}"
    " WHERE p.kennel_id = %(kennel)s AND p.litter_id = %(litter)s AND p.deleted_at IS NULL"
)
_DAM = "{table} f{joins} WHERE f.kennel_id = %(kennel)s AND f.dog_id = %(dam)s AND f.deleted_at IS NULL"
_DOSE = (
    "jsonb_build_object('medicine', m.name, 'dose_mg', trim_scale(f.dose_mg), 'amount', trim_scale(f.amount),"
    " 'amount_unit', f.amount_unit, 'outcome', f.outcome, 'lot', f.lot)"
)
_MEDICINE = " JOIN health_medicine m ON m.kennel_id = f.kennel_id AND m.id = f.medicine_id"
_EVENT = "jsonb_build_object('kind', f.kind, 'vet', f.vet, 'result', f.result, 'ended_on', f.ended_on)"
_WATCH = "jsonb_build_object('level', f.level, 'reasons', f.reasons)"
_CLOSED = "jsonb_build_object('closed_by', f.closed_by, 'closing_reason', f.closing_reason)"


def _selects(
    name: str,
    table: str,
    said: str,
    *,
    at: str = "occurred_at",
    joins: str = "",
    warnings: str = "f.warnings",
) -> list[Source]:
    """The lines of the litter's pups and of its dam."""
    both = []
    for whose, pup, where in (
        ("", "p.uid", _PUP),
        ("dam ", "NULL::uuid", f"{_DAM} AND f.{at} BETWEEN %(dam_from)s AND %(dam_to)s"),
    ):
        note = "f.note" if name != "watch-closed" else "''::varchar"
        both.append(
            Source(
                f"{whose}{name}",
                f"SELECT '{name}', f.uid, f.{at}, {pup}, {said}, f.recorded_by_id, f.version, {warnings}, {note}"  # noqa: S608
                f" FROM {where.format(table=table, joins=joins)} AND f.{at} IS NOT NULL",
            )
        )
    return both


SOURCES = [
    *_selects("treatment", "health_treatment", _DOSE, joins=_MEDICINE),
    *_selects("health-event", "health_healthevent", _EVENT),
    Source(
        "litter health-event",
        f"SELECT 'health-event', f.uid, f.occurred_at, NULL::uuid, {_EVENT}, f.recorded_by_id, f.version, f.warnings,"  # noqa: S608
        " f.note FROM health_healthevent f WHERE f.kennel_id = %(kennel)s AND f.litter_id = %(litter)s"
        " AND f.deleted_at IS NULL",
    ),
    *_selects("watch", "health_watch", _WATCH, at="opened_at", warnings="'[]'::jsonb"),
    *_selects("watch-closed", "health_watch", _CLOSED, at="closed_at", warnings="'[]'::jsonb"),
]
