"""Rules of body temperatures: the typed value and the degrees Celsius agree."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from kennel.people.choices import TemperatureUnit
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft


def celsius(value: Decimal, unit: TemperatureUnit) -> Decimal:
    """Degrees Celsius, rounded to 0.01 (half up); (F - 32) x 5/9 (NIST Special Publication 811, appendix B.8)."""
    if unit == TemperatureUnit.FAHRENHEIT:
        value = (value - 32) * 5 / 9
    return value.quantize(Decimal("0.01"), ROUND_HALF_UP)


def temperatures_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in degrees Celsius or what was typed."""
    for draft in drafts:
        typed, unit, temp = draft.input.entered_value, draft.input.entered_unit, draft.input.temp_c
        corrected = draft.before is not None
        if corrected and "temp_c" in draft.sent and "entered_value" not in draft.sent:
            typed, unit = temp, TemperatureUnit.CELSIUS
        elif corrected and "entered_value" in draft.sent and "temp_c" not in draft.sent:
            temp = None
        if temp is None:
            temp = celsius(typed, unit)
        elif typed is None:
            typed, unit = temp, TemperatureUnit.CELSIUS
        elif abs(celsius(typed, unit) - temp) > Decimal("0.06"):
            draft.refuse(invalid("entered_value", "disagrees", "temp_c and what was typed are not the same."))
        if not 25 <= temp <= 45:
            draft.refuse(
                invalid("temp_c", "range", "A body temperature lies between 25 and 45 degrees Celsius.")
            )
        draft.columns |= {"temp_c": temp, "entered_value": typed, "entered_unit": unit}
