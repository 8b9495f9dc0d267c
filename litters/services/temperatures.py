"""Rules of body temperatures: the typed value and the degrees Celsius agree, advice stays beside the fact."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from django.db import connection

from kennel.people.choices import TemperatureUnit
from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.domain.neonate import completed_days, temperature_advice
from litters.services.chips import clear
from litters.services.figures import agreed_figures, growth_limits
from litters.services.presence import warn_absent
from litters.services.typed_values import settle

PUP_TEMPERATURE = "pup_temperature"
AGREE_WITHIN_C = Decimal("0.06")


def celsius(value: Decimal, unit: TemperatureUnit) -> Decimal:
    """Degrees Celsius, rounded to 0.01 (half up); (F - 32) x 5/9 (NIST Special Publication 811, appendix B.8)."""
    if unit == TemperatureUnit.FAHRENHEIT:
        value = (value - 32) * 5 / 9
    return value.quantize(Decimal("0.01"), ROUND_HALF_UP)


def temperatures_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in degrees Celsius or what was typed, and keep advice about the pup beside it."""
    for draft in drafts:
        temp = settle(draft, "temp_c", TemperatureUnit.CELSIUS, celsius, lambda _: AGREE_WITHIN_C)
        if not 25 <= temp <= 45:
            draft.refuse(
                invalid("temp_c", "range", "A body temperature lies between 25 and 45 degrees Celsius.")
            )
    warn_absent(drafts, door)
    _warn_of_cold_and_heat([d for d in drafts if d.refusal is None], door)


def _warn_of_cold_and_heat(drafts: Sequence[Draft], door: Door) -> None:
    """Keep what a pup's temperature asks for beside it: no milk for a cold pup, warmth first.  Two queries."""
    for draft in drafts:
        clear(draft, (PUP_TEMPERATURE,))
    of_pups = [draft for draft in drafts if draft.columns.get("pup_id") is not None]
    if not of_pups:
        return
    limits = growth_limits(agreed_figures(door.kennel.id))
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT id, born_at FROM litters_pup WHERE kennel_id = %s"
            " AND id IN (SELECT value::bigint FROM json_array_elements_text(%s))",
            [door.kennel.id, store.dump([draft.columns["pup_id"] for draft in of_pups])],
        )
        born_at = dict(cursor.fetchall())
    for draft in of_pups:
        age_h = (draft.input.occurred_at - born_at[draft.columns["pup_id"]]).total_seconds() / 3600
        advice = temperature_advice(
            float(draft.columns["temp_c"]), completed_days(max(0.0, age_h)), limits=limits
        )
        # The lines are for pups of the first month; an older one runs as warm as a grown dog.
        if (
            advice.is_below_line
            or advice.is_far_too_cold
            or (advice.is_too_hot and advice.line_c is not None)
        ):
            draft.warn(PUP_TEMPERATURE, advice.words)
