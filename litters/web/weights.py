"""How weights are said: in the carer's unit, as precise as the scale that is usual for it.

What was typed is never converted back and forth: where the typed unit is the one shown, it stands as typed.
"""

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from kennel.people.choices import MassUnit
from litters.services.weighings import GRAMS

# From 5 kg (10 lb) on people speak of kilograms (pounds), whatever they weigh pups in.
GRAMS_SPOKEN_AS_KILOGRAMS = 5000
OUNCES_SPOKEN_AS_POUNDS = 160
_STEP = {
    MassUnit.GRAM: Decimal("0.1"),
    MassUnit.KILOGRAM: Decimal("0.001"),
    MassUnit.OUNCE: Decimal("0.01"),
    MassUnit.POUND: Decimal("0.01"),
}


def plain(value: Decimal) -> str:
    """Digits without trailing zeros or an exponent."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def in_unit(grams: Decimal, unit: MassUnit) -> Decimal:
    """A mass in another unit, rounded half up to what is shown."""
    return (grams / GRAMS[unit]).quantize(_STEP[unit], ROUND_HALF_UP)


def spoken_unit(grams: Decimal, unit: MassUnit) -> MassUnit:
    """The unit people use for so much: heavy animals are not spoken of in grams or ounces."""
    if unit == MassUnit.GRAM and grams >= GRAMS_SPOKEN_AS_KILOGRAMS:
        return MassUnit.KILOGRAM
    if unit == MassUnit.OUNCE and grams >= GRAMS[MassUnit.OUNCE] * OUNCES_SPOKEN_AS_POUNDS:
        return MassUnit.POUND
    return unit


def said(grams: Any, unit: str) -> str:
    """A weight with its unit: "412 g", "0.412 kg", "14.53 oz"."""
    exact = Decimal(str(grams))
    spoken = spoken_unit(exact, MassUnit(unit))
    return f"{plain(in_unit(exact, spoken))} {spoken.value}"


def said_as_entered(weighing: dict[str, Any], unit: str) -> str:
    """The weight of a weighing; as it was typed when that was in this unit."""
    if weighing.get("entered_value") is not None and weighing.get("entered_unit") == unit:
        return f"{plain(Decimal(str(weighing['entered_value'])))} {unit}"
    return said(weighing["weight_g"], unit)


def change_said(newer_g: Any, older_g: Any, unit: str) -> str:
    """The difference with its sign: "+18 g", "−12 g", "no change"."""
    difference = Decimal(str(newer_g)) - Decimal(str(older_g))
    if difference == 0:
        return "no change"
    sign = "+" if difference > 0 else "−"
    spoken = spoken_unit(Decimal(str(newer_g)), MassUnit(unit))
    return f"{sign}{plain(in_unit(abs(difference), spoken))} {spoken.value}"
