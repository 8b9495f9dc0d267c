"""Conversions between the units people weigh, measure and read labels in, and the ones we compute in.

Factors are exact by definition: the international avoirdupois pound is 0.45359237 kg and the inch 25.4 mm
(international yard and pound agreement, 1959), the ounce a sixteenth of the pound, the thermochemical calorie
4.184 J (ISO 80000-5).  Every function raises ValueError for an unknown unit
and for a value that is not finite.
"""

import math
from collections.abc import Mapping

GRAMS_PER_KILOGRAM = 1000.0
GRAMS_PER_POUND = 453.59237
GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16
KILOJOULES_PER_KILOCALORIE = 4.184
MILLIMETRES_PER_INCH = 25.4

_GRAMS = {"g": 1.0, "kg": GRAMS_PER_KILOGRAM, "mg": 0.001, "lb": GRAMS_PER_POUND, "oz": GRAMS_PER_OUNCE}
_KILOGRAMS = {"kg": 1.0, "g": 0.001, "mg": 1e-6, "lb": GRAMS_PER_POUND / 1000, "oz": GRAMS_PER_OUNCE / 1000}
_MILLIMETRES = {"mm": 1.0, "cm": 10.0, "in": MILLIMETRES_PER_INCH}
_MILLILITRES = {"ml": 1.0, "l": 1000.0}
_KILOCALORIES = {
    "kcal": 1.0,
    "kj": 1 / KILOJOULES_PER_KILOCALORIE,
    "mj": 1000 / KILOJOULES_PER_KILOCALORIE,
}

MASS_UNITS = tuple(_GRAMS)
LENGTH_UNITS = tuple(_MILLIMETRES)
VOLUME_UNITS = tuple(_MILLILITRES)
ENERGY_UNITS = tuple(_KILOCALORIES)
TEMPERATURE_UNITS = ("c", "f")


def mass_g(value: float, unit: str) -> float:
    """Mass in grams of `value` in g, kg, mg, lb or oz."""
    return _scaled(value, unit, _GRAMS)


def mass_kg(value: float, unit: str) -> float:
    """Mass in kilograms of `value` in g, kg, mg, lb or oz."""
    return _scaled(value, unit, _KILOGRAMS)


def mass_in(mass_in_g: float, unit: str) -> float:
    """What `mass_in_g` grams are in g, kg, mg, lb or oz; the way back of `mass_g`."""
    return _unscaled(mass_in_g, unit, _GRAMS)


def length_mm(value: float, unit: str) -> float:
    """Length in millimetres of `value` in mm, cm or in (inch)."""
    return _scaled(value, unit, _MILLIMETRES)


def volume_ml(value: float, unit: str) -> float:
    """Volume in millilitres of `value` in ml or l."""
    return _scaled(value, unit, _MILLILITRES)


def energy_kcal(value: float, unit: str) -> float:
    """Energy in kilocalories of `value` in kcal, kj or mj."""
    return _scaled(value, unit, _KILOCALORIES)


def energy_in(energy_in_kcal: float, unit: str) -> float:
    """What `energy_in_kcal` kilocalories are in kcal, kj or mj; the way back of `energy_kcal`."""
    return _unscaled(energy_in_kcal, unit, _KILOCALORIES)


def temperature_c(value: float, unit: str) -> float:
    """Temperature in degrees Celsius of `value` in c or f (Fahrenheit)."""
    _known(unit, TEMPERATURE_UNITS)
    return _finite(value) if unit == "c" else _finite((value - 32) / 1.8)


def temperature_in(temperature_in_c: float, unit: str) -> float:
    """What a temperature in degrees Celsius reads in c or f; the way back of `temperature_c`."""
    _known(unit, TEMPERATURE_UNITS)
    return _finite(temperature_in_c) if unit == "c" else _finite(temperature_in_c * 1.8 + 32)


def _scaled(value: float, unit: str, factors: Mapping[str, float]) -> float:
    _known(unit, tuple(factors))
    return _finite(value * factors[unit])


def _unscaled(value: float, unit: str, factors: Mapping[str, float]) -> float:
    _known(unit, tuple(factors))
    return _finite(value / factors[unit])


def _known(unit: str, units: tuple[str, ...]) -> None:
    if unit not in units:
        raise ValueError(f"unknown unit {unit!r}; known are {', '.join(units)}")


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("the quantity is not a finite number")
    return value
