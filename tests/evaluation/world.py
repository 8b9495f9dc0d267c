"""The numbers behind the simulated litters: breeds as published, and one world of rates that can be shifted.

Sources and assumptions are named in `tests/evaluation/simulator.py`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace


@dataclass(frozen=True)
class Breed:
    """One row of tables 1 and 2 of Mugnier et al. 2020: weights in grams, litter size in pups."""

    name: str
    pups: int
    mean_g: float
    sd_g: float
    litter_size: float
    litter_size_sd: float
    low_below_g: float
    very_low_below_g: float


BREEDS = (
    Breed("Australian Shepherd", 547, 363.8, 82.6, 7.6, 2.1, 375.0, 213.0),
    Breed("Bichon Frise", 103, 180.1, 35.6, 6.4, 1.9, 181.0, 163.5),
    Breed("Cocker Spaniel", 779, 262.6, 59.4, 5.7, 1.9, 280.0, 142.5),
    Breed("German Shepherd", 281, 513.7, 90.8, 7.0, 2.9, 480.0, 338.0),
    Breed("Golden Retriever", 588, 394.8, 76.8, 7.8, 2.8, 417.0, 177.5),
    Breed("Labrador Retriever", 1903, 409.9, 69.2, 7.8, 2.7, 406.0, 248.0),
    Breed("Maltese", 166, 161.9, 34.2, 5.1, 1.8, 163.0, 115.5),
    Breed("Rottweiler", 111, 403.8, 58.6, 8.2, 2.4, 410.0, 345.0),
    Breed("Shih Tzu", 270, 175.5, 27.9, 5.3, 2.1, 176.0, 128.5),
    Breed("West Highland White Terrier", 223, 192.1, 36.3, 5.3, 1.6, 190.0, 129.0),
)


@dataclass(frozen=True)
class World:
    """Every number the simulated litters depend on; each can be multiplied by a factor."""

    # published
    death_normal: float = 0.042
    death_low: float = 0.088
    death_very_low: float = 0.553
    # chosen so that 81 % of the deaths of days 0 to 2 are low or very low at birth
    early_share_normal: float = 0.40
    early_share_low: float = 0.53
    early_share_very_low: float = 0.65
    # healthy growth: logarithm of weight, per day
    first_day_gain: float = 0.02
    first_day_gain_sd: float = 0.035
    gain_day_1: float = 0.090
    gain_day_7: float = 0.067
    gain_day_14: float = 0.050
    gain_day_21: float = 0.038
    litter_gain_spread: float = 0.15
    pup_gain_spread: float = 0.10
    litter_day_sd: float = 0.008
    pup_day_sd: float = 0.012
    low_weight_drag: float = 0.02
    within_litter_cv: float = 0.11
    # bad days of pups and litters that get over them
    setback_per_pup_day: float = 0.008
    litter_dip_per_day: float = 0.010
    milk_failure_share: float = 0.03
    # how a failing pup's weight runs
    early_loss_per_day: float = 0.07
    early_loss_sd: float = 0.03
    colostrum_share: float = 0.45
    fade_share: float = 0.35
    slow_share: float = 0.15
    fade_hours: float = 60.0
    fade_hours_spread: float = 0.40
    last_loss_per_day: float = 0.06
    last_loss_sd: float = 0.02
    final_decline_hours: float = 36.0
    # what the carer's scale and pencil do
    fill_noise: float = 0.012
    scale_step_small_g: float = 1.0
    scale_step_large_g: float = 5.0
    missed_round: float = 0.04
    missed_pup: float = 0.02
    late_first_weight: float = 0.08
    swapped_per_round: float = 0.003
    mistyped_per_weight: float = 0.0005
    round_jitter_h: float = 1.0

    def shifted(self, factors: Mapping[str, float]) -> World:
        """This world with named numbers multiplied; ValueError for an unknown name or a negative factor."""
        known = {field.name for field in fields(self)}
        for name, factor in factors.items():
            if name not in known:
                raise ValueError(f"no parameter named {name}; known: {', '.join(sorted(known))}")
            if not (math.isfinite(factor) and factor >= 0):
                raise ValueError(f"factor of {name} must be finite and not negative")
        return replace(self, **{name: getattr(self, name) * factor for name, factor in factors.items()})
