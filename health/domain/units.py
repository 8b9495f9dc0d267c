"""Units on medicine labels: milligrams to the kilogram or the pound, strengths, and the words for them.

Labels mix "mg/lb" with "mg/kg", milligrams with micrograms and per cent with mg/mL; a slip between them
is a factor of two, a thousand or ten. Each value therefore keeps the unit it was printed in, and can say
it in words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from litters.domain.units import GRAMS_PER_POUND

KG_PER_LB = GRAMS_PER_POUND / 1000
MAX_MASS_KG = 120.0  # heavier than any dog

_PART_MG = {"mcg": 0.001, "mg": 1.0, "g": 1000.0}
_PART_WORDS = {
    "mcg": "micrograms",
    "mg": "milligrams",
    "g": "grams",
    "mL": "millilitres",
    "tablet": "tablets",
}
_BODY_KG = {"kg": 1.0, "lb": KG_PER_LB}
_BODY_WORDS = {"kg": "kilogram", "lb": "pound"}
RATE_UNITS = tuple(f"{part}/{body}" for part in ("mg", "mcg", "mL", "tablet") for body in ("kg", "lb"))

# Label unit -> (mg in one part, what the part is of). Per cent weight in volume is grams in 100 mL.
_STRENGTH_UNITS = {
    "mg/mL": (1.0, "mL"),
    "mcg/mL": (0.001, "mL"),
    "g/L": (1.0, "mL"),
    "% w/v": (10.0, "mL"),
    "mg/g": (1.0, "g"),
    "mcg/g": (0.001, "g"),
    "g/kg": (1.0, "g"),
    "% w/w": (10.0, "g"),
    "mg/tablet": (1.0, "tablet"),
    "mcg/tablet": (0.001, "tablet"),
}
STRENGTH_UNITS = tuple(_STRENGTH_UNITS)


def positive(value: float, name: str, upper: float = 1e6) -> float:
    """The value itself when it is finite, above zero and at most `upper`; ValueError naming it otherwise."""
    if not math.isfinite(value) or not 0 < value <= upper:
        raise ValueError(f"{name} must be above 0 and at most {upper:g}, not {value!r}")
    return value


def body_mass_kg(mass_kg: float) -> float:
    """The mass itself when a dog can have it (a gram to 120 kg); ValueError otherwise."""
    if not math.isfinite(mass_kg) or not 0.001 <= mass_kg <= MAX_MASS_KG:
        raise ValueError(f"a body mass is 0.001 to {MAX_MASS_KG:g} kg, not {mass_kg!r}")
    return mass_kg


def plain(value: float, digits: int = 3) -> str:
    """A number for people: `digits` significant figures, no exponent, no trailing zeros."""
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True)
class Rate:
    """A dose for body mass as the label prints it, such as 5 mg/kg or 2.27 mg/lb or 0.5 mL/kg.

    unit: one of RATE_UNITS. Raises ValueError for another unit or a value that is not above zero.
    """

    value: float
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in RATE_UNITS:
            raise ValueError(f"a rate is in {', '.join(RATE_UNITS)}, not {self.unit!r}")
        positive(self.value, "rate")

    @property
    def counts(self) -> str:
        """What the rate counts: "mg", "mL" or "tablet"."""
        part = self.unit.split("/")[0]
        return "mg" if part in _PART_MG else part

    @property
    def per_kg(self) -> float:
        """The rate in mg, mL or tablets for each kilogram of body mass."""
        part, body = self.unit.split("/")
        return self.value * _PART_MG.get(part, 1.0) / _BODY_KG[body]

    def amount_for(self, mass_kg: float) -> float:
        """mg, mL or tablets for a body mass in kg (0.001 to 120); ValueError outside."""
        return self.per_kg * body_mass_kg(mass_kg)

    @property
    def in_words(self) -> str:
        """The rate with its unit spelled out, and the other body unit beside it."""
        part, body = self.unit.split("/")
        other = "lb" if body == "kg" else "kg"
        there = self.value * _BODY_KG[other] / _BODY_KG[body]
        return (
            f"{plain(self.value)} {_PART_WORDS[part]} for each {_BODY_WORDS[body]} of body weight "
            f"(that is {plain(there)} for each {_BODY_WORDS[other]})"
        )


@dataclass(frozen=True)
class FixedAmount:
    """An amount a label gives for a whole band of weights: mg, mL, g (of the product) or tablets."""

    value: float
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in ("mg", "mL", "g", "tablet"):
            raise ValueError(f"a band's amount is in mg, mL, g or tablet, not {self.unit!r}")
        positive(self.value, "amount")

    @property
    def in_words(self) -> str:
        """The amount with its unit spelled out."""
        part = "grams of the product" if self.unit == "g" else _PART_WORDS[self.unit]
        return f"{plain(self.value)} {part} for any weight in this band"


@dataclass(frozen=True)
class Strength:
    """How much active a product holds, as printed, such as 4.54 mg/mL or 22.2 % w/w.

    unit: one of STRENGTH_UNITS. Raises ValueError for another unit, a value not above zero, or a product
    that would be more than all active.
    """

    value: float
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in _STRENGTH_UNITS:
            raise ValueError(f"a strength is in {', '.join(STRENGTH_UNITS)}, not {self.unit!r}")
        positive(self.value, "strength")
        if self.per == "g" and self.mg_per_part > 1000:
            raise ValueError("a gram of product cannot hold more than a gram of active")

    @property
    def per(self) -> str:
        """What the strength is in: "mL", "g" or "tablet"."""
        return _STRENGTH_UNITS[self.unit][1]

    @property
    def mg_per_part(self) -> float:
        """mg of active in one mL, g or tablet."""
        return self.value * _STRENGTH_UNITS[self.unit][0]

    @property
    def in_words(self) -> str:
        """The strength in milligrams with its unit spelled out."""
        part = {"mL": "millilitre", "g": "gram of product", "tablet": "tablet"}[self.per]
        return f"{plain(self.mg_per_part)} milligrams in each {part}"


def amount_holding(dose_mg: float, strength: Strength) -> float:
    """How many mL, g or tablets of a product hold `dose_mg` of its active.

    Plain division, unrounded. Raises ValueError for a dose that is not above zero or above 1 kg.
    """
    return positive(dose_mg, "dose in mg") / strength.mg_per_part
