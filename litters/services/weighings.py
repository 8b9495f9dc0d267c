"""Rules of weighings: the typed value and the grams agree, likely doubles are linked, advice stays beside the fact."""

from collections.abc import Sequence
from datetime import timedelta
from decimal import ROUND_HALF_UP, Decimal

from django.db import connection

from kennel.people.choices import MassUnit
from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.services.presence import warn_absent
from litters.services.typed_values import settle

# International avoirdupois pound, exactly 0.45359237 kg (NIST Special Publication 811, appendix B.8); 16 oz a pound.
GRAMS = {
    MassUnit.GRAM: Decimal(1),
    MassUnit.KILOGRAM: Decimal(1000),
    MassUnit.OUNCE: Decimal("28.349523125"),
    MassUnit.POUND: Decimal("453.59237"),
}
NEAR_MINUTES = 30


def grams(value: Decimal, unit: MassUnit) -> Decimal:
    """Mass in grams, rounded to 0.01 g (half up)."""
    return (value * GRAMS[MassUnit(unit)]).quantize(Decimal("0.01"), ROUND_HALF_UP)


def weighings_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in grams or what was typed, and link likely doubles."""
    for draft in drafts:
        weight = settle(draft, "weight_g", MassUnit.GRAM, grams, _tolerance)
        if not Decimal("0.1") <= weight <= 120_000:
            draft.refuse(invalid("weight_g", "range", "A weight lies between 0.1 g and 120 kg."))
    warn_absent(drafts, door)
    _link_doubles([d for d in drafts if d.refusal is None and d.before is None], door)


def _tolerance(weight: Decimal) -> Decimal:
    return max(Decimal("0.5"), weight / 200)


def _link_doubles(drafts: Sequence[Draft], door: Door) -> None:
    """Another weighing of the same animal within half an hour is most likely the same one, told twice."""
    for animal in ("pup_id", "dog_id"):
        of_kind = [draft for draft in drafts if draft.columns[animal] is not None]
        if not of_kind:
            continue
        instants = [draft.input.occurred_at for draft in of_kind]
        with connection.cursor() as cursor:
            cursor.execute(
                f"""
                SELECT DISTINCT ON (a.place) a.place, w.uid
                FROM unnest(%s::bigint[], %s::timestamptz[]) WITH ORDINALITY AS a (animal, at, place)
                JOIN litters_weighing w ON w.{animal} = a.animal
                    AND w.occurred_at BETWEEN a.at - make_interval(mins => %s) AND a.at + make_interval(mins => %s)
                WHERE w.kennel_id = %s AND w.deleted_at IS NULL AND w.occurred_at BETWEEN %s AND %s
                ORDER BY a.place, w.occurred_at, w.id
                """,  # noqa: S608 - one of two columns
                [
                    store.array(draft.columns[animal] for draft in of_kind),
                    store.array(instants),
                    NEAR_MINUTES,
                    NEAR_MINUTES,
                    door.kennel.id,
                    min(instants) - timedelta(minutes=NEAR_MINUTES),
                    max(instants) + timedelta(minutes=NEAR_MINUTES),
                ],
            )
            for place, uid in cursor.fetchall():
                of_kind[place - 1].columns["possible_duplicate_of"] = uid
                of_kind[place - 1].warn(
                    "possible_double",
                    f"Weighed within {NEAR_MINUTES} minutes of another entry; both are kept.",
                )
