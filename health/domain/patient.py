"""The animal a dose is for, and the limits of what may be relied on about it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from health.domain.units import body_mass_kg


@dataclass(frozen=True)
class DosingLimits:
    """A kennel's own limits, all common practice without a source and editable.

    Weights count as stale after `pup_weight_days` for animals under `pup_until_days`, after
    `adult_weight_days` for older ones; a dose above `second_look_factor` times the last asks for a second
    look, as do strengths of one active `strength_gap_factor` times apart.
    """

    pup_until_days: int = 182
    pup_weight_days: float = 3.0
    adult_weight_days: float = 30.0
    second_look_factor: float = 2.0
    strength_gap_factor: float = 5.0


DEFAULT_LIMITS = DosingLimits()


@dataclass(frozen=True)
class Patient:
    """An animal as a dose needs it; None where something is not known.

    mass_kg: last weight, 0.001 to 120; weight_age_days: how long ago it was taken, in days with fraction;
    age_days: completed days. unwell: chilled, ill, crowded or just abruptly weaned. sensitive_breed: of a
    herding or related breed in which the MDR1 (ABCB1-1delta) variant occurs. Raises ValueError otherwise.
    """

    name: str
    mass_kg: float | None = None
    weight_age_days: float | None = None
    age_days: int | None = None
    pregnant: bool = False
    nursing: bool = False
    unwell: bool = False
    sensitive_breed: bool = False

    def __post_init__(self) -> None:
        if self.mass_kg is not None:
            body_mass_kg(self.mass_kg)
        for days, what in ((self.weight_age_days, "the weight's age"), (self.age_days, "age")):
            if days is not None and not (math.isfinite(days) and 0 <= days <= 36_600):
                raise ValueError(f"{what} is 0 to 36600 days, not {days!r}")

    def is_pup(self, limits: DosingLimits) -> bool:
        """Whether the strict limit of weight age applies; an unknown age counts as a pup's."""
        return self.age_days is None or self.age_days < limits.pup_until_days

    def weight_is_stale(self, limits: DosingLimits) -> bool:
        """Whether the weight is missing, of unknown age, or older than the limit (which is included)."""
        if self.mass_kg is None or self.weight_age_days is None:
            return True
        limit = limits.pup_weight_days if self.is_pup(limits) else limits.adult_weight_days
        return self.weight_age_days > limit
