"""Checks that a number lies where a formula holds; every refusal is a ValueError naming the quantity."""

import math

HEAVIEST_DOG_KG = 120.0
ROUNDING = 1e-9


def above_zero(name: str, value: float, at_most: float = math.inf) -> float:
    """`value` when it is finite, above 0 and not above `at_most`."""
    if not (math.isfinite(value) and 0 < value <= at_most):
        limit = "" if math.isinf(at_most) else f" and at most {at_most:g}"
        raise ValueError(f"{name} must be above 0{limit}, not {value}")
    return value


def between(name: str, value: float, low: float, high: float) -> float:
    """`value` when it is finite and low <= value <= high."""
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(f"{name} must lie between {low:g} and {high:g}, not {value}")
    return value


def not_negative(name: str, value: float) -> float:
    """`value` when it is finite and 0 or more."""
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name} must be 0 or more, not {value}")
    return value


def finite(name: str, value: float) -> float:
    """`value` when it is finite: extreme inputs must not become an endless answer."""
    if not math.isfinite(value):
        raise ValueError(f"{name} is beyond what can be reckoned")
    return value


def dog_mass_kg(name: str, value: float) -> float:
    """A dog's body mass: above 0, at most 120 kg."""
    return above_zero(name, value, HEAVIEST_DOG_KG)
